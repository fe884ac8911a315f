"""From a torque trace to the reading it stands for: the digits, and what the trace shows.

Of a pull the digits are the torque that the fastener got: at the click, at the peak of a pull
without one, and where it was pulled on past the click, at the peak after it. Of a turning test they
are the largest torque while it turned, which is what a click tool that rolls it through a turn
without clicking is set to.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from capture.command import RecordPull
from capture.trace.samples import Trace, Written

Found = dict[str, Any]


def pull_of(instrument: str, written: Written, *, turning: bool = False) -> RecordPull:
    """The command that records a trace. Raises ValueError where its samples cannot be read."""
    from capture.trace.store import compress

    return read(instrument, compress(written), turning=turning)


def read(instrument: str, blob: bytes, *, turning: bool = False) -> RecordPull:
    """The same from a stored trace: what ``verify`` holds against the press."""
    return look_at(instrument, expanded(blob), turning=turning)


class Stored(NamedTuple):
    """A stored trace, ready to be looked at."""

    blob: bytes
    digest: str
    trace: Trace
    places: int
    """Decimals of its finest torque."""


def expanded(blob: bytes) -> Stored:
    """Raises ValueError where ``blob`` is no stored trace."""
    from capture.trace.store import digest_of, digits, expand

    places = max((_decimals(str(sample)) for sample in digits(blob).torque), default=0)
    return Stored(blob, digest_of(blob), expand(blob), places)


def look_at(instrument: str, stored: Stored, *, turning: bool) -> RecordPull:
    """What a stored trace stands for. Raises ValueError where it cannot be told."""
    trace, places = stored.trace, stored.places
    torque, found = (_turned if turning else _pulled)(trace, places)
    return RecordPull(
        instrument, trace.unit, f"{torque:.{places}f}", stored.digest, len(trace.torque), found,
        stored.blob,
    )  # fmt: skip


def _pulled(trace: Trace, places: int) -> tuple[float, Found]:
    from capture.trace.pull import analyse_pull

    pull = analyse_pull(trace)
    torque = pull.torque
    if pull.over_pull is not None and pull.peak_after is not None:
        torque = max(torque, pull.peak_after.torque)
    click = pull.click
    return torque, {
        "kind": "pull",
        "click": None if click is None else f"{click.torque:.{places}f}",
        "peak": f"{pull.peak.torque:.{places}f}",
        "rise_seconds": None if pull.rise_seconds is None else f"{pull.rise_seconds:.3f}",
        "angle": None if pull.angle is None else f"{pull.angle:.1f}",
        "codes": [finding.code.value for finding in pull.findings],
        "sentences": [finding.text for finding in pull.findings],
    }


def _turned(trace: Trace, places: int) -> tuple[float, Found]:
    from capture.trace.turning import analyse_turning

    turning = analyse_turning(trace)
    if turning.most is None:
        raise ValueError("Nothing turned in this trace: record the torque while the crank turns.")
    most = turning.most.torque

    def said(torque: float | None) -> str | None:
        return None if torque is None else f"{torque:.{places}f}"

    return most, {
        "kind": "turning",
        "breakaway": said(turning.breakaway),
        "running": said(turning.running_mean),
        "least": said(None if turning.least is None else turning.least.torque),
        "most": said(most),
        "ripple": said(None if turning.ripple is None else turning.ripple.torque),
        "turns": None if turning.turns is None else f"{turning.turns:.2f}",
        "codes": [finding.code.value for finding in turning.findings],
        "sentences": [finding.text for finding in turning.findings],
    }


def _decimals(text: str) -> int:
    return len(text.partition(".")[2])

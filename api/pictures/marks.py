"""What is to be marked on a trace's picture, from what its analysis found."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal, TypedDict

from capture.trace.finding import said

if TYPE_CHECKING:
    from capture.trace.pull import Pull
    from capture.trace.samples import Trace
    from capture.trace.turning import Turning

MOST_CLICKS: Final = 3
"""That are marked one by one."""
Shape = Literal["ring", "triangle", "square"]


@dataclass(frozen=True, slots=True)
class Spot:
    """A point of the trace with a name. ``at`` in seconds as sent, ``torque`` above the rest."""

    at: float
    torque: float
    label: str
    shape: Shape = "square"


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time with a name."""

    start: float
    end: float
    label: str


@dataclass(frozen=True, slots=True)
class Marks:
    """Everything to be marked. ``sign`` is -1 where the trace is drawn turned over, so that a pull
    to the other side stands upright too."""

    zero: float = 0.0
    sign: float = 1.0
    spots: tuple[Spot, ...] = ()
    spans: tuple[Span, ...] = ()
    level: float | None = None
    """A torque that is marked all along the first span."""
    incomplete: str = ""
    """Why the trace is not whole."""
    cut: bool = False
    """It ends too soon: its last sample is under load."""
    sentences: tuple[str, ...] = ()


def marks_of(trace: Trace, *, turning: bool = False, incomplete: str = "") -> Marks:
    """The marks that the analysis of a trace gives, as a pull or a turning test; none where it
    cannot be read. ``incomplete``: why it is known not to be whole, whatever the samples show."""
    from capture.trace.pull import analyse_pull
    from capture.trace.turning import analyse_turning

    try:
        marks = of_turning(analyse_turning(trace)) if turning else of_pull(analyse_pull(trace))
    except ValueError:
        marks = Marks()
    return replace(marks, incomplete=incomplete) if incomplete else marks


def of_pull(pull: Pull) -> Marks:
    """The marks of a pull: its clicks (the first few), its peak, its rise."""
    spots = [
        Spot(one.at, one.torque, f"{_nth(n)}click {said(one.torque, pull.unit)}", "ring")
        for n, one in enumerate(pull.clicks[:MOST_CLICKS], 1)
    ]
    click = pull.click
    if pull.start is not None and all(pull.peak.torque > one.torque for one in pull.clicks):
        label = f"peak {said(pull.peak.torque, pull.unit)}"
        spots.append(Spot(pull.peak.at, pull.peak.torque, label, "triangle"))
    if click is not None and pull.over_pull is not None and pull.peak_after is not None:
        after = pull.peak_after
        if after.at != pull.peak.at:
            label = f"pulled on to {said(after.torque, pull.unit)}"
            spots.append(Spot(after.at, after.torque, label, "triangle"))
    end = click.at if click is not None else pull.peak.at
    spans = []
    if pull.rise_seconds is not None and pull.rise_seconds > 0:
        spans.append(Span(end - pull.rise_seconds, end, f"from 80 % in {pull.rise_seconds:.2f} s"))
    return Marks(
        pull.zero,
        -1.0 if any(one.code == "reversed" for one in pull.findings) else 1.0,
        tuple(spots),
        tuple(spans),
        **_cut([one.code for one in pull.findings]),
        sentences=tuple(one.text for one in pull.findings),
    )


def of_turning(turning: Turning) -> Marks:
    """The marks of a turning test: breakaway, and over the steady part mean, smallest, largest."""
    spots = []
    if turning.breakaway is not None and turning.breakaway_at is not None:
        label = f"breakaway {said(turning.breakaway, turning.unit)}"
        spots.append(Spot(turning.breakaway_at, turning.breakaway, label, "ring"))
    for name, one in (("least", turning.least), ("most", turning.most)):
        if one is not None:
            label = f"{name} {said(one.torque, turning.unit)}"
            spots.append(Spot(one.at, one.torque, label, "triangle"))
    spans = []
    mean = turning.running_mean
    if turning.steady is not None:
        turns = "" if turning.turns is None else f", {turning.turns:.2f} turns"
        level = "" if mean is None else f", mean {said(mean, turning.unit)}"
        spans.append(Span(*turning.steady, f"turns steadily{turns}{level}"))
    return Marks(
        turning.zero,
        -1.0 if any(one.code == "reversed" for one in turning.findings) else 1.0,
        tuple(spots),
        tuple(spans),
        mean,
        **_cut([one.code for one in turning.findings]),
        sentences=tuple(one.text for one in turning.findings),
    )


def _nth(number: int) -> str:
    return "" if number == 1 else f"{number}. "


def _cut(codes: list[str]) -> _Cut:
    if "ends-under-load" not in codes:
        return {"incomplete": "", "cut": False}
    return {"incomplete": "It ends under load.", "cut": True}


class _Cut(TypedDict):
    incomplete: str
    cut: bool

"""From the samples that a device streamed to the press they become.

Whether a pull is looked at as a tightening or as a turning test, the step that waits says, and that
is known only when its turn to be written comes; so both are worked out before, away from the thread
that writes. What a device sent is stored whatever it shows: a pull with samples missing says so,
and waits for a person (rule ``incomplete-pull``).
"""

from __future__ import annotations

import contextlib
from decimal import Decimal
from typing import TYPE_CHECKING, Any, NamedTuple

from capture.command import RecordPull
from capture.pulls import Found, Stored, expanded, look_at
from capture.trace.samples import Written

if TYPE_CHECKING:
    from capture.desk import Desk
    from capture.reading import Pull

INCOMPLETE = "incomplete"
COUNTERCLOCKWISE = "counterclockwise"
NO_TURNING = "no-turning"


class Analysed(NamedTuple):
    """A pull of a device, looked at as either kind of test: which it is, the step that waits says
    when its turn to be written comes."""

    pull: Pull
    as_pull: RecordPull
    as_turning: RecordPull


def analysed(pull: Pull) -> Analysed:
    """What a device's pull shows. Raises ValueError where it makes no trace (two samples)."""
    from capture.trace.store import compress

    stored = expanded(compress(_written(pull)))
    as_pull = look_at(pull.instrument, stored, turning=False)
    return Analysed(pull, as_pull, _as_turning(as_pull, stored))


def _as_turning(as_pull: RecordPull, stored: Stored) -> RecordPull:
    """What nothing turned in stands for its largest torque, as a pull does, and says so: what a
    device sent is stored, whatever it shows."""
    with contextlib.suppress(ValueError):
        return look_at(as_pull.instrument, stored, turning=True)
    found = dict.fromkeys(("breakaway", "running", "least", "most", "ripple", "turns"))
    codes, sentences = [NO_TURNING], ["Nothing turned steadily in this trace."]
    shown = {"kind": "turning", **found, "codes": codes, "sentences": sentences}
    return as_pull._replace(found=shown)


def _written(pull: Pull) -> Written:
    """Its samples with their times: the gaps are in the times, where their length is known."""
    gaps = dict(pull.gaps)
    seconds: list[Decimal] = []
    number = 0
    for place in range(len(pull.torque)):
        number += gaps.get(place, 0)
        seconds.append(Decimal(number * pull.interval_us).scaleb(-6))
        number += 1
    return Written(seconds, pull.torque, pull.angle, pull.unit)


def wants_turning(desk: Desk) -> bool:
    """Whether the step that waits is a turning test."""
    from capture.spec.model import Kind

    build = desk.active_build()
    index = None if build is None else build.next_index()
    return build is not None and index is not None and build.steps[index].kind is Kind.TURN


def device_body(desk: Desk, made: Analysed, late: str | None) -> tuple[dict[str, Any], RecordPull]:
    """The body of a device pull's press, and the trace it cites."""
    pull = made.pull
    record = desk.instruments.get(pull.instrument)
    command = made.as_turning if wants_turning(desk) else made.as_pull
    flags = [*pull.flags]
    if "reversed" in command.found["codes"] and COUNTERCLOCKWISE not in flags:
        flags.append(COUNTERCLOCKWISE)
    incomplete = None
    if pull.incomplete is not None:
        incomplete = {"why": pull.incomplete, "missing": pull.missing}
    return {
        "instrument": pull.instrument,
        "record": None if record is None else record.seq,
        "raw": "",
        "digits": command.digits,
        "unit": pull.unit,
        "flags": flags,
        "simulated": record is not None and record.instrument.simulated,
        "typed": False,
        "late": late,
        "trace": {
            "sha256": command.digest,
            "samples": command.samples,
            "found": _with_gaps(command.found, incomplete),
            "interval_us": pull.interval_us,
            "incomplete": incomplete,
        },
    }, command


def _with_gaps(found: Found, incomplete: dict[str, Any] | None) -> Found:
    """What was found, with what is missing said first."""
    if incomplete is None:
        return found
    count = incomplete["missing"]
    how_many = "" if count is None else f" ({count} samples)"
    sentence = f"Incomplete{how_many}: {incomplete['why']}."
    return {
        **found,
        "codes": [INCOMPLETE, *found["codes"]],
        "sentences": [sentence, *found["sentences"]],
    }


def differs(body: dict[str, Any], blob: bytes) -> str | None:
    """What of a press with a trace does not follow from the trace; None where all of it does.
    Raises ValueError where the trace cannot be read."""
    cited = body["trace"]
    turning = cited["found"]["kind"] == "turning"
    by_device = "interval_us" in cited
    stored = expanded(blob)
    if turning and by_device:
        made = _as_turning(look_at(body["instrument"], stored, turning=False), stored)
    else:
        made = look_at(body["instrument"], stored, turning=turning)
    if made.digest != cited["sha256"]:
        return "was changed"
    if (made.digits, made.samples) != (body["digits"], cited["samples"]):
        return f"stands for {made.digits}, not its digits"
    codes = cited["found"]["codes"]
    if by_device and (cited["incomplete"] is None) is (INCOMPLETE in codes):
        return "says two things about whether it is complete"
    if by_device and "reversed" in made.found["codes"] and COUNTERCLOCKWISE not in body["flags"]:
        return "was pulled counterclockwise, which the reading does not say"
    return None

"""What the entries of a build say beside its state: what counted once, what never did, zero checks,
the gauges as they were recorded and set, who confirmed what."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from capture.build import Build
from capture.desk import Desk
from capture.entry import Envelope
from capture.evaluate import own_size
from capture.inquiry.glance.beside import Confirmed, NotCounted, SetOn, Used, Zeroed
from capture.inquiry.glance.rounded import shown
from capture.inquiry.glance.shape import Data, Earlier
from capture.quantity import text
from capture.spec.model import Kind


class Press(NamedTuple):
    """A reading of the build: the decision made when it came, and the newest one."""

    first: Envelope
    newest: Envelope


class Told(NamedTuple):
    """The entries of a build, sorted."""

    presses: dict[int, Press]
    """By seq of the press; of those that stand in this build, placed or not."""
    confirmations: dict[int, Envelope]
    """By seq of the entry."""


def told(build_id: str, entries: Iterable[Envelope]) -> Told:
    """Sorts the entries of a build (others among them are passed over)."""
    presses: dict[int, Press] = {}
    firsts: dict[int, Envelope] = {}
    confirmations = {}
    for entry in entries:
        body = entry["body"]
        if entry["kind"] == "confirmation":
            confirmations[entry["seq"]] = entry
        elif entry["kind"] == "decision":
            press, build = body["press"], body["build"]
            first = firsts.setdefault(press, entry)
            if build == build_id or (build is None and press in presses):
                presses[press] = Press(first, entry)
            elif build is not None:
                presses.pop(press, None)  # moved to another build
    return Told(presses, confirmations)


def earlier(build: Build, found: Told) -> dict[str, list[Earlier]]:
    """By operation: readings that answered one of its steps once and do no more."""
    kept: dict[str, list[Earlier]] = defaultdict(list)
    for seq, press in found.presses.items():
        step = press.newest["body"]["step"]
        if step is not None and seq not in build.press_at and step["id"] in build.index:
            kept[step["operation"]].append(_earlier(seq, press, step))
    return kept


def _earlier(seq: int, press: Press, step: Data) -> Earlier:
    verdict = press.newest["body"]["verdict"]
    value = own_size(verdict)
    grounds = (verdict["lower"], verdict["upper"], verdict["expanded_uncertainty"])
    return Earlier(
        reading=seq,
        at=press.first["at"],
        step=step["id"],
        number=step["number"],
        point=step["point"],
        pass_number=step["pass"],
        value=text(value),
        shown=_between(verdict["bracket"]) if "bracket" in verdict else shown(value, *grounds),
        unit=verdict["unit"],
        result=verdict["result"],
        entry=press.newest["seq"],
    )


def _between(ends: Sequence[str | None]) -> str:
    return "\N{EN DASH}".join("…" if end is None else end for end in ends)


def not_counted(found: Told) -> list[NotCounted]:
    """Readings that answer no step, and why."""
    kept = []
    for seq, press in found.presses.items():
        body = press.newest["body"]
        if body["step"] is None and body["reason"] is not None:
            reason = body["reason"]
            by_person = body["by"] != "rule"
            at, entry = press.first["at"], press.newest["seq"]
            kept.append(NotCounted(seq, at, reason["code"], reason["detail"], by_person, entry))
    return kept


def zeros(desk: Desk, build: Build, found: Told) -> list[Zeroed]:
    """Zero checks that answer steps of the build, in order."""
    kept = []
    for seq, press in found.presses.items():
        body = press.newest["body"]
        seen = body.get("zero") or press.first["body"].get("zero")
        if seen is None or body["step"] is None:
            continue
        kept.append(
            Zeroed(
                reading=seq,
                at=press.first["at"],
                instrument=_instrument(desk, press),
                step=body["step"]["id"],
                deviation=seen["deviation"],
                drift=seen["drift"],
                unit=seen["unit"],
                expanded=seen["expanded_uncertainty"],
                steady=seen["steady"],
                readings=seen["readings"],
                counts=seq in build.press_at,
            )
        )
    return kept


def _instrument(desk: Desk, press: Press) -> str:
    record = desk.records_by_seq.get(press.first["body"]["cites"]["instrument"] or 0)
    return "" if record is None else record.instrument.id


def instruments(desk: Desk, found: Told) -> list[Used]:
    """The records of the instruments that the build's readings came from, by first use."""
    times: dict[int, list[str]] = defaultdict(list)
    for press in found.presses.values():
        record = press.first["body"]["cites"]["instrument"]
        if record is not None:
            times[record].append(press.first["at"])
    kept = []
    for seq, at in times.items():
        known = desk.records_by_seq.get(seq)
        if known is not None:
            calibration = known.instrument.calibration
            overdue = calibration is not None and calibration.due < max(at)[:10]
            body = known.instrument.to_body()
            kept.append(Used(seq, body, len(at), min(at), max(at), overdue))
    return sorted(kept, key=lambda one: (one.instrument["id"], one.entry))


def sets(desk: Desk, found: Told) -> list[SetOn]:
    """What comparative gauges were set on when readings of the build were taken, in order."""
    by: dict[int, list[Press]] = defaultdict(list)
    for press in found.presses.values():
        setting = press.first["body"]["cites"]["setting"]
        if setting is not None:
            by[setting].append(press)
    kept = []
    for seq, presses in sorted(by.items()):
        record = desk.settings_by_seq.get(seq)
        if record is not None:
            one = record.setting
            expanded, coverage = one.expanded_uncertainty, one.coverage_factor
            kept.append(
                SetOn(
                    entry=seq,
                    instrument=_instrument(desk, presses[0]),
                    standard=one.standard,
                    size=text(one.size),
                    unit=one.unit,
                    expanded=None if expanded is None else text(expanded),
                    coverage=None if coverage is None else text(coverage),
                    at=record.at,
                    readings=len(presses),
                )
            )
    return kept


def confirmed(build: Build, found: Told) -> list[Confirmed]:
    """Everything to confirm, in the order of work, with who did and when."""
    kept = []
    for work in build.works.values():
        if work.operation.kind is not Kind.CONFIRM:
            continue
        one = build.spec.confirmations[work.operation.subject]
        for at in range(work.start, work.stop):
            fill, step = build.fills[at], build.steps[at]
            entry = None if fill is None else found.confirmations.get(fill.seq)
            kept.append(
                Confirmed(
                    operation=work.operation.id,
                    title=one.title,
                    text=one.text,
                    part=one.part,
                    number=step.number,
                    entry=None if fill is None else fill.seq,
                    at=None if entry is None else entry["at"],
                    operator=None if entry is None else entry["operator"],
                    note=None if entry is None else entry["body"].get("note"),
                    cautions=one.cautions,
                )
            )
    return kept


def together(story: Iterable[Data]) -> list[list[Data]]:
    """What is told in one line: the readings that one zero check marked, else each event alone."""
    lines: list[list[Data]] = []
    for one in story:
        zero = (one.get("drift") or {}).get("zero") if one.get("act") == "marked" else None
        if zero is not None and lines and (lines[-1][-1].get("drift") or {}).get("zero") == zero:
            lines[-1].append(one)
        else:
            lines.append([one])
    return lines

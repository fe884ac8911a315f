"""A whole build at a glance, from its state, its entries and the presses behind it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from capture.build import Build
from capture.entry import Envelope
from capture.findings import NOT_SHOWN
from capture.inquiry import build_wide
from capture.inquiry.glance import told as tell
from capture.inquiry.glance.cells import cell, limited
from capture.inquiry.glance.derived import derived
from capture.inquiry.glance.fitted import fits
from capture.inquiry.glance.parts import parts
from capture.inquiry.glance.shape import (
    Data,
    Derived,
    Earlier,
    Glance,
    Missing,
    Most,
    Some,
    Table,
    Trace,
    Turned,
)  # fmt: skip
from capture.inquiry.glance.some import some
from capture.inquiry.glance.still import Still
from capture.inquiry.glance.tables import measured, tightened
from capture.inquiry.story import story
from capture.inquiry.studies import check_answer, check_asked, study_answer, study_asked
from capture.spec.model import Kind
from capture.titles import limits_now, title_of
from capture.work import Work

PULLED = (Kind.TIGHTEN, Kind.TURN)
USUAL = Most()
Earliers = Mapping[str, Sequence[Earlier]]


def presses_wanted(kept: Still, most: Most = USUAL) -> list[int]:
    """Seqs of the presses that a glance asks to see: all of them while they are few, else those
    that may have a trace."""
    build = kept.build
    if len(build.press_at) <= most.presses:
        return list(build.press_at)
    pulled = (press for press, at in build.press_at.items() if build.steps[at].kind in PULLED)
    return [press for press, _ in zip(pulled, range(most.traces), strict=False)]


def glance(
    kept: Still,
    entries: Iterable[Envelope],
    presses: Mapping[int, Envelope],
    as_of: str,
    most: Most = USUAL,
) -> Glance:
    """``entries`` are those of the build (``Archive.entries_of_build``), ``presses`` what
    ``presses_wanted`` asks for, ``as_of`` when the last entry of the state was made. What came to
    the ledger after the state was taken is left out."""
    build, desk = kept.build, kept.desk
    known = [entry for entry in entries if entry["seq"] <= kept.size]
    found, happened = tell.told(build.id, known), story(build.id, known)
    small = len(build.press_at) <= most.presses
    looked = build_wide.found_in(desk, build.id, presses) if small else None
    earlier = tell.earlier(build, found)
    return Glance(
        size=kept.size,
        as_of=as_of,
        state=kept.state(),
        spec=kept.spec(),
        simulated=_simulated(kept, found),
        typed=sum(press["body"]["typed"] for press in presses.values()) if small else None,
        counted=len(build.press_at),
        parts=some(parts(build, most), most.tables),
        sizes=_measured(build, earlier, most),
        derived=_derived(build, most),
        fasteners=_tightened(kept, earlier, presses, most),
        turning=some(_turning(build, presses), most.rows),
        confirmed=some(tell.confirmed(build, found), most.rows),
        missing=some(_missing(build, most), most.tables),
        fits=tuple(fits(desk, build, happened)),
        checks=tuple(_checks(kept, most)),
        studies=tuple(_studies(kept, most)),
        findings=None if looked is None else tuple(looked["findings"]),
        not_shown=tuple(one._asdict() for one in NOT_SHOWN),
        story=some(happened, most.rows * 4),
        not_counted=some(tell.not_counted(found), most.rows),
        zeros=some(tell.zeros(desk, build, found), most.rows),
        sets=some(tell.sets(desk, found), most.rows),
        instruments=some(tell.instruments(desk, found), most.rows),
    )


def _derived(build: Build, most: Most) -> Some[Derived]:
    names = some(list(build.spec.derived), most.tables)
    return Some(tuple(derived(build, name, most) for name in names.shown), names.more)


def _measured(build: Build, earlier: Earliers, most: Most) -> Some[Table]:
    works = some(_works(build, Kind.MEASURE), most.tables)
    room = len(works.shown)
    return Some(
        tuple(measured(build, work, most, room, _before(earlier, work, most)) for work in works[0]),
        works.more,
    )


def _tightened(
    kept: Still, earlier: Earliers, presses: Mapping[int, Envelope], most: Most
) -> Some[Table]:
    preloads: dict[str, dict[int, Data]] = {}
    for one in build_wide.preloads(kept.desk, kept.build.id):
        preloads.setdefault(one["fastener"], {})[one["number"]] = one
    traces = _traced(presses)
    works = some(_works(kept.build, Kind.TIGHTEN), most.tables)
    found = [
        tightened(
            kept.build,
            work,
            most,
            len(works.shown),
            _before(earlier, work, most),
            preloads=preloads.get(work.operation.subject, {}),
            traces=traces,
        )
        for work in works.shown
    ]
    return Some(tuple(found), works.more)


def _works(build: Build, kind: Kind) -> list[Work]:
    return [work for work in build.works.values() if work.operation.kind is kind]


def _before(earlier: Earliers, work: Work, most: Most) -> Some[Earlier]:
    return some(earlier.get(work.operation.id, ()), most.rows)


def _checks(kept: Still, most: Most) -> Iterator[Data]:
    for subject, presses in _subjects(kept.build, Kind.CHECK, most):
        answer = check_answer(check_asked(kept.desk, kept.build.id, subject))
        yield {**answer, "presses": presses}


def _studies(kept: Still, most: Most) -> Iterator[Data]:
    for subject, presses in _subjects(kept.build, Kind.STUDY, most):
        answer = study_answer(study_asked(kept.desk, kept.build.id, subject))
        yield {**answer, "presses": presses}


def _subjects(build: Build, kind: Kind, most: Most) -> list[tuple[str, list[int]]]:
    """What operations of a kind are about, with the presses that answer them so far."""
    found: dict[str, list[int]] = {}
    for work in _works(build, kind):
        presses = found.setdefault(work.operation.subject, [])
        fills = build.fills[work.start : work.stop]
        presses += [fill.press for fill in fills if fill is not None and fill.press is not None]
    return [(subject, presses[: most.traces]) for subject, presses in found.items()]


def _traced(presses: Mapping[int, Envelope]) -> dict[int, str]:
    """Press → the SHA-256 of its torque trace, where it has one."""
    return {
        seq: str(press["body"]["trace"]["sha256"])
        for seq, press in presses.items()
        if "trace" in press["body"]
    }


def _turning(build: Build, presses: Mapping[int, Envelope]) -> list[Turned]:
    """Turning tests in the order of work; those of one round place by place."""
    traces = _traced(presses)
    found = []
    for work in build.works.values():
        if work.operation.kind is Kind.TURN:
            found += [_turned(build, work, at, traces) for at in range(work.start, work.stop)]
    return found


def _turned(build: Build, work: Work, at: int, traces: Mapping[int, str]) -> Turned:
    step, one = build.steps[at], build.spec.turning_tests[work.operation.subject]
    limits = limits_now(build, step)
    made = cell(build, [at], limits, held=step.subject_id in work.holds)
    press = made.taken[0].reading if made.taken else None
    trace = None
    if press is not None and press in traces:
        trace = Trace(press, traces[press], step.number, "", made.result)
    position = "" if step.part is None else build.spec.parts[step.part].position
    return Turned(
        work.operation.id, one.title, step.part, position, step.number, step.unit,
        limited(one.limits), made, trace, one.cautions,
    )  # fmt: skip


def _missing(build: Build, most: Most) -> list[Missing]:
    """Operations with steps that nothing answers, in the order of work."""
    found = []
    for work in build.works.values():
        if work.answered:
            continue
        left = [at for at in range(work.start, work.stop) if build.fills[at] is None]
        operation = work.operation
        found.append(
            Missing(
                operation=operation.id,
                kind=operation.kind.value,
                title=title_of(build.spec, operation.kind, operation.subject),
                left=len(left),
                total=work.total,
                open=not build.closed and any(build.is_open(at) for at in left[: most.rows]),
                waits_for=tuple(build.waits_for(work, build.steps[left[0]])),
                steps=some([build.steps[at].id for at in left], min(most.rows, 12)),
            )
        )
    return found


def simulated(kept: Still, entries: Iterable[Envelope]) -> int:
    """How many of the readings that count come from simulated instruments; ``entries`` are those
    of the build."""
    return _simulated(kept, tell.told(kept.build.id, entries))


def _simulated(kept: Still, found: tell.Told) -> int:
    records = kept.desk.records_by_seq
    count = 0
    for press in kept.build.press_at:
        said = found.presses.get(press)
        record = None if said is None else records.get(said.first["body"]["cites"]["instrument"])
        count += record is not None and record.instrument.simulated
    return count

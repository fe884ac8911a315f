"""The drawing of a step: its part, the point that is wanted lit, and which of its sisters it is.

Drawn from the spec's geometry (``FORMAT.md``, *Drawings*). Pure: a spec and a step in, SVG out.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from typing import Final, NamedTuple

from api.labels.catalogue import Labels
from api.pictures import gauges, other_parts, pattern, round_parts, sisters
from api.pictures.guess import shape_of
from api.pictures.seen import Seen, seen
from api.pictures.strokes import HEIGHT, WIDTH
from api.pictures.svg import picture, tag
from capture.quantity import plain
from capture.spec.model import Fastener, Kind, Part, Spec
from capture.spec.shape import Shape
from capture.step import Step
from capture.titles import title_of

SHAPES: Final[Mapping[Shape, Callable[[Seen], list[str]]]] = {
    Shape.BORE: round_parts.bore,
    Shape.CAPPED_BORE: round_parts.capped_bore,
    Shape.JOURNAL: round_parts.journal,
    Shape.SHELL: round_parts.shell,
    Shape.RING: round_parts.ring,
    Shape.PISTON: other_parts.piston,
    Shape.CROWN: other_parts.crown,
    Shape.GROOVE: other_parts.groove,
    Shape.ROD: other_parts.rod,
    Shape.BESIDE_ROD: other_parts.beside_rod,
    Shape.CAP: other_parts.cap,
    Shape.BOLT: other_parts.bolt,
    Shape.CRANKSHAFT: other_parts.crankshaft,
    Shape.CHAMBER: other_parts.chamber,
    Shape.BLOCK: other_parts.block,
    Shape.PROBE: other_parts.probe,
    Shape.FACE: other_parts.face,
    Shape.PART: other_parts.part,
}


MIDDLED: Final = 45
"""How far down a part stands that has no row of sisters below it."""


MARGIN: Final = 22
"""Round a pattern that stands by itself."""
NOTE: Final = 36
NOTE_LETTERS: Final = 26


class _Drawn(NamedTuple):
    inside: list[str]
    said: list[str]
    """Sentences for who cannot see it."""


def draw_step(
    spec: Spec,
    step: Step,
    *,
    labels: Labels,
    done: Collection[str] = (),
    standalone: bool = False,
) -> str:
    """The drawing of a step, 500 by 340, as SVG text. ``done``: ids of steps that are answered.
    ``standalone``: it is a file of its own, dark where the reader wants it dark."""
    drawn = _DRAWERS[step.kind](spec, step, labels, done)
    said, row = drawn.said, False
    if step.part is not None and step.kind is not Kind.TIGHTEN:
        part = spec.parts[step.part]
        row = part.count > 1
        if row:
            drawn.inside.extend(sisters.row(part, shape_of(spec, step), step.number))
        said = [_place(labels, part, step.number), *said]
    title = title_of(spec, step.kind, step.subject)
    alone = not row and step.kind in (Kind.MEASURE, Kind.CONFIRM, Kind.TURN)
    return picture(
        drawn.inside, WIDTH, HEIGHT, title, " ".join(said), standalone=standalone,
        top=-MIDDLED if alone else 0,
    )  # fmt: skip


def draw_pattern(
    spec: Spec,
    fastener: str,
    *,
    labels: Labels,
    results: Mapping[int, str] | None = None,
    hrefs: Mapping[int, str] | None = None,
    standalone: bool = False,
) -> str:
    """A whole group of fasteners as SVG text, the shape of its verdict at each. ``results`` and
    ``hrefs`` by number. Raises KeyError where the spec has no such group."""
    group = spec.fasteners[fastener]
    where = pattern.arrange(group, spec.parts[group.part])
    results, hrefs = results or {}, hrefs or {}
    said = [labels.text("drawing.order", numbers=_in_order(group.order))]
    words = {word: labels.named("common.verdict", word) for word in results.values()}
    said += [
        labels.text("drawing.result", number=number, result=words[result])
        for number, result in sorted(results.items())
    ]
    inside, note = pattern.judged(where, results, hrefs), _note(labels, group, where)
    top, bottom = where.top - MARGIN, where.bottom + MARGIN
    if note:
        bottom += NOTE
        inside.append(pattern.footing(note, bottom - 8, NOTE_LETTERS))
    return picture(
        inside, WIDTH, bottom - top, group.title, " ".join(said), standalone=standalone,
        linked=bool(hrefs), top=top,
    )  # fmt: skip


def _measure(spec: Spec, step: Step, labels: Labels, done: Collection[str]) -> _Drawn:
    shape = shape_of(spec, step)
    points = seen(spec.characteristics[step.subject], shape, step, done)
    said = []
    if points.depths:
        said.append(labels.text("drawing.depth", word=points.depth_word))
    if points.axes:
        said.append(labels.text("drawing.axis", word=points.axis_word))
    if step.repeats > 1:
        said.append(labels.text("drawing.repeat", number=step.repeat, count=step.repeats))
    return _Drawn(SHAPES[shape](points), said)


def _confirm(spec: Spec, step: Step, labels: Labels, done: Collection[str]) -> _Drawn:
    shape = Shape.BLOCK if step.part is None else shape_of(spec, step)
    part = tag("g", *SHAPES[shape](Seen(shape)), transform="translate(0 16) scale(0.8)")
    return _Drawn([part, *gauges.tick(446, 112)], [labels.text("drawing.confirm")])


def _tighten(spec: Spec, step: Step, labels: Labels, done: Collection[str]) -> _Drawn:
    group = spec.fasteners[step.subject]
    where = pattern.arrange(group, spec.parts[group.part], step.number)
    stage = next(one for one in group.stages if one.id == step.point)
    ticked = {n for n in group.order if f"{step.operation}/{n}/{stage.id}" in done}
    inside = pattern.tightening(group, where, step.number, ticked - {step.number})
    said = [
        labels.text("drawing.tighten", number=step.number, stage=stage.title),
        labels.text("drawing.order", numbers=_in_order(group.order)),
    ]
    if ticked:
        said.append(labels.text("drawing.done", numbers=_in_order(sorted(ticked))))
    note = _note(labels, group, where)
    return _Drawn([*inside, *([pattern.footing(note)] if note else [])], said)


def _note(labels: Labels, group: Fastener, where: pattern.Arrangement) -> str:
    """From where the pattern is seen; that it is no map where nobody said."""
    if where.known:
        return group.seen_from
    return labels.text("drawing.no_map") if len(group.order) > 1 else ""


def _turn(spec: Spec, step: Step, labels: Labels, done: Collection[str]) -> _Drawn:
    inside = other_parts.crankshaft(Seen(Shape.CRANKSHAFT), turned=True)
    return _Drawn(inside, [labels.text("drawing.turn")])


def _zero(spec: Spec, step: Step, labels: Labels, done: Collection[str]) -> _Drawn:
    return _Drawn(gauges.dial(step.unit), [labels.text("drawing.zero")])


def _study(spec: Spec, step: Step, labels: Labels, done: Collection[str]) -> _Drawn:
    study = spec.studies[step.subject]
    appraiser = step.point.rpartition("-")[0]
    samples = Part("", "", study.samples, "")
    row = sisters.row(samples, Shape.BORE, step.number)
    said = labels.text("drawing.sample", appraiser=appraiser, number=step.number)
    return _Drawn([*gauges.sample(appraiser), *row], [said])


def _check(spec: Spec, step: Step, labels: Labels, done: Collection[str]) -> _Drawn:
    tool = spec.tool_checks[step.subject]
    preload = step.limits.upper is None and step.limits.lower is None
    size = plain(tool.maximum) if preload else step.point.rpartition("-")[0]
    setting = f"{size} {step.unit}"
    return _Drawn(gauges.wrench(setting), [labels.text("drawing.check", setting=setting)])


def _place(labels: Labels, part: Part, number: int) -> str:
    if part.count == 1:
        return labels.text("drawing.part", part=part.title)
    return labels.text("drawing.place", part=part.title, number=number, count=part.count)


def _in_order(numbers: Collection[int]) -> str:
    return ", ".join(map(str, numbers))


_DRAWERS: Final[Mapping[Kind, Callable[[Spec, Step, Labels, Collection[str]], _Drawn]]] = {
    Kind.MEASURE: _measure,
    Kind.CONFIRM: _confirm,
    Kind.TIGHTEN: _tighten,
    Kind.TURN: _turn,
    Kind.ZERO: _zero,
    Kind.STUDY: _study,
    Kind.CHECK: _check,
}

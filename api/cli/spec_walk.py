"""The walk of a spec as text."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from capture.spec.problems import choose

if TYPE_CHECKING:
    from capture.instrument import Instrument
    from capture.spec.model import Limits, Spec
    from capture.walk import Asked, Stretch, Walk, Want

_HEAD, _WIDTH = 10, 100
_VERBS = {
    "measure": "Measure",
    "confirm": "Confirm",
    "tighten": "Tighten",
    "turn": "Turn",
    "zero": "Zero check",
    "study": "Gauge study",
    "check": "Tool check",
}
_FACTS = {
    "nominal_size": "nominal size {}",
    "repeats": "{} times each, judged on the mean",
    "temperature": "brought to 20 °C by: {}",
    "order": "in the order {}",
    "lubricant": "lubricant: {}",
    "together": "{} at a time through all stages",
    "torque_to_yield": "tightened into yield: never twice",
    "appraisers": "appraisers {}",
    "samples": "{} samples",
    "trials": "{} trials each",
    "tool": "the tool: {}",
    "maximum": "its largest setting {}",
    "points_percent": "at {} of it",
    "permissible_deviation": "permissible deviation {}",
}


def walk_text(
    spec: Spec, found: Walk, bench: Sequence[Instrument] | None, *, every_step: bool
) -> Iterator[str]:
    """The lines; ``bench`` names the instruments that suit, where it is given."""
    yield f"{spec.title}, revision {spec.revision}: {found.total} steps."
    if spec.invented:
        yield f"Invented. {spec.notice}".rstrip()
    for caution in spec.cautions:
        yield from _wrapped("", f"Caution: {caution}")
    if not found.walked:
        yield "Too many steps to walk them one by one: the order is that of the file."
    for one in found.stretches:
        yield ""
        yield from _stretch(spec, one, bench)
        if every_step:
            yield from (f"{'':{_HEAD}}{_step(asked)}" for asked in one.steps)
    if found.never:
        yield f"Never asked for: {choose(list(found.never))}."


def _stretch(spec: Spec, one: Stretch, bench: Sequence[Instrument] | None) -> Iterator[str]:
    kind = _VERBS[one.operation.kind.value]
    yield from _wrapped(_spans(one), f"{kind}: {one.title}  [{one.operation.id}]")
    yield from _lines(*_where(one))
    if one.text:
        yield from _lines(one.text)
    if one.follows:
        yield from _lines(f"limits: {one.follows}; at the widest:")
    yield from _lines(*(_want(want) for want in one.wants))
    yield from _lines(*(_FACTS[name].format(value) for name, value in one.facts))
    if one.instruments:
        yield from _lines(f"with {choose(one.instruments)}{_there(spec, one, bench)}")
    if one.waits_for:
        yield from _lines(f"waits for {', '.join(other.id for other in one.waits_for)}")
    for derived in one.completes:
        limits = _limits(derived.limits, derived.unit)
        yield from _lines(f"then judged: {derived.title}, {limits}")
    for caution in one.cautions:
        yield from _lines(f"Caution: {caution}")


def _spans(one: Stretch) -> str:
    spans = [str(low) if low == high else f"{low}-{high}" for low, high in one.spans]
    return ", ".join([*spans[:3], "…"] if len(spans) > 3 else spans)


def _where(one: Stretch) -> Iterator[str]:
    if one.part is not None:
        numbers = one.numbers or list(range(1, one.parts + 1))
        some = f"{numbers[0]} to {numbers[-1]}" if numbers == sorted(numbers) else "each"
        yield (
            one.part if one.parts == 1 else f"{one.part} {some if len(numbers) > 1 else numbers[0]}"
        )
    points = one.points
    if points and one.operation.kind.value == "measure":
        yield f"at {', '.join(points[:12])}{'…' if len(points) > 12 else ''}"
    if len(one.spans) > 1 and one.operation.round:
        yield f"number by number, in the round {one.operation.round}"


def _want(want: Want) -> str:
    head = f"{want.title}: " if want.title else ""
    target = f"{want.target} {want.unit}, " if want.target is not None else ""
    if want.limits.lower is None and want.limits.upper is None:
        return f"{head}{target}in {want.unit}"
    return f"{head}{target}{_limits(want.limits, want.unit)}"


def _limits(limits: Limits, unit: str) -> str:
    def shown(end: Decimal) -> str:
        return f"{end:f}"

    lower, upper = limits.lower, limits.upper
    if lower is not None and upper is not None:
        return f"{shown(lower)} to {shown(upper)} {unit}"
    if lower is not None:
        return f"at least {shown(lower)} {unit}"
    return "no limits" if upper is None else f"at most {shown(upper)} {unit}"


def _there(spec: Spec, one: Stretch, bench: Sequence[Instrument] | None) -> str:
    if bench is None:
        return ""
    from capture.spec.bench_advice import needs, suited

    lists = [suited(need, bench) for need in needs(spec, one.operation)]
    if not all(lists):
        return "; NOTHING ON THIS BENCH SUITS"
    names = dict.fromkeys(each.id for some in lists for each in some)
    return f"; on this bench: {', '.join(names)}"


def _step(asked: Asked) -> str:
    step = asked.step
    repeat = f"reading {step.repeat} of {step.repeats}" if step.repeats > 1 else ""
    number = "" if step.part is None else f"{step.part} {step.number}"
    return f"{asked.nth:>5}  {'  '.join(filter(None, (number, step.point, repeat)))}".rstrip()


def _lines(*texts: str) -> Iterator[str]:
    for text in texts:
        yield from _wrapped("", text)


def _wrapped(head: str, text: str) -> Iterator[str]:
    """Text behind a column for the numbers of the steps; a long head has a line of its own."""
    if len(head) >= _HEAD:
        yield head
        head = ""
    blank = " " * _HEAD
    yield from textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=f"{head:<{_HEAD}}",
        subsequent_indent=blank + "  ",
        break_long_words=False,
    )

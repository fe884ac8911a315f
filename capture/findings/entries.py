"""How readings were entered and with what: finer than real, overdue, one leaf away."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal

from capture.bracket import Bracket, By
from capture.build import Build, Fill
from capture.findings.finding import Finding, Source
from capture.fineness import finer_than_shown
from capture.leaves import Code, unlike_sisters
from capture.quantity import convert, exact, text
from capture.spec.model import Kind
from capture.step import Step


def _sourced(build: Build, sources: Mapping[int, Source]) -> Iterator[tuple[Step, Fill, Source]]:
    for step, fill in zip(build.steps, build.fills, strict=True):
        if fill is not None and fill.press is not None and fill.press in sources:
            yield step, fill, sources[fill.press]


def too_fine(build: Build, sources: Mapping[int, Source]) -> Iterator[Finding]:
    """Digits finer than the gauge can show are not real, or not of that unit."""
    for step, _, source in _sourced(build, sources):
        tool = source.instrument
        if tool.leaves or not finer_than_shown(source.digits, source.unit, tool):
            continue
        yield Finding(
            "finer-than-shown",
            step.id,
            f"{source.digits} {source.unit} was {'typed' if source.typed else 'sent'}, but "
            f"{tool.id} shows steps of {text(tool.resolution)} {tool.unit}: the last digits are "
            "not real, or of another unit.",
            {"digits": source.digits, "resolution": text(tool.resolution), "unit": tool.unit},
        )


def overdue(build: Build, sources: Mapping[int, Source]) -> Iterator[Finding]:
    """Tools whose calibration had passed its due date as they were used; one for each tool."""
    used: dict[str, tuple[str, str, list[str]]] = {}
    for step, _, source in _sourced(build, sources):
        calibration = source.instrument.calibration
        if calibration is not None and calibration.due < source.day:
            steps = used.setdefault(source.instrument.id, (calibration.due, source.day, []))[2]
            steps.append(step.id)
    for tool, (due, day, steps) in used.items():
        yield Finding(
            "tool-overdue",
            tool,
            f"The calibration of {tool} was due on {due}; it answered {len(steps)} "
            f"step{'s' if len(steps) > 1 else ''} from {day} on, {steps[0]} first.",
            {"due": due, "day": day, "steps": str(len(steps))},
        )


def one_leaf_away(build: Build, sources: Mapping[int, Source]) -> Iterator[Finding]:
    """Feeler gaps a leaf or more away from all their sisters, which agree to the leaf."""
    groups: dict[tuple[str, str], list[tuple[Step, Bracket, Source]]] = {}
    for step, fill, source in _sourced(build, sources):
        if step.kind is Kind.MEASURE and source.instrument.leaves and fill.bracket is not None:
            bracket = Bracket(*fill.bracket, By.LEAVES)
            groups.setdefault((step.operation, step.point), []).append((step, bracket, source))
    for found in groups.values():
        for step, gap, source in found:
            unit = source.instrument.unit
            leaves = [
                Decimal(text(exact(convert(leaf, unit, step.unit))))
                for leaf in source.instrument.leaves
            ]
            sisters = [other for one, other, _ in found if one.number != step.number]
            problem = unlike_sisters(gap, sisters, leaves, enough=3)
            if problem is not None and problem.code is Code.UNLIKE_SISTERS:
                yield Finding(
                    "one-leaf-away", step.id, problem.text,
                    {"lower": _end(gap.lower), "upper": _end(gap.upper), "unit": step.unit},
                )  # fmt: skip


def _end(end: object) -> str:
    return "" if end is None else str(end)

"""Everything a page says about a spec, made in one go: errors, warnings, the walk, the figures.

Bytes and instruments in, plain values out. It takes up to seconds for a
large spec, so pages call it on a thread of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from capture.errors import Problem, SpecError
from capture.instrument import Instrument
from capture.spec.bench_advice import bench_warnings, needs, suited
from capture.spec.coarse import Fineness, fineness, left_out
from capture.spec.load import load, warnings
from capture.spec.model import Spec
from capture.walk import Stretch, Walk, walk

MOST_LINES = 5000
"""Lines of a spec that are shown."""
MOST_QUOTED = 200
"""Characters of a line that are quoted."""


class Said(NamedTuple):
    """One error or warning, with the line of the spec that it is about."""

    problem: Problem
    quoted: str


class There(NamedTuple):
    """The instruments of the bench for one operation."""

    ids: tuple[str, ...]
    missing: bool
    """Whether something is needed that nothing on the bench can give."""


@dataclass(frozen=True, slots=True)
class Look:
    """A spec as a page shows it."""

    file: str
    text: str
    errors: list[Said]
    spec: Spec | None = None
    warnings: list[Said] = field(default_factory=list)
    """Of the spec alone."""
    on_bench: list[Said] = field(default_factory=list)
    """On the bench that it would be worked on."""
    walk: Walk | None = None
    there: dict[str, There] = field(default_factory=dict)
    """By operation."""
    fineness: list[Fineness] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    """Titles of derived quantities that no single instrument serves."""

    @property
    def lines(self) -> list[str]:
        """The lines of the text that are shown."""
        return self.text.splitlines()[:MOST_LINES]

    @property
    def more_lines(self) -> int:
        return max(0, len(self.text.splitlines()) - MOST_LINES)


def look(data: bytes, file: str, bench: Sequence[Instrument], day: str) -> Look:
    """What there is to be said about the spec in ``data``. Never raises for what is wrong in it."""
    text = data.decode("utf-8", "replace")
    rows = text.splitlines()
    try:
        spec = load(data, file)
    except SpecError as error:
        return Look(file, text, _said(error.problems, rows))
    return Look(
        file,
        text,
        [],
        spec,
        _said(warnings(spec, file), rows),
        _said(bench_warnings(spec, bench, day, file), rows),
        found := walk(spec),
        {one.operation.id: _there(spec, one, bench) for one in found.stretches},
        [row for row in fineness(spec, bench) if row.instrument],
        [spec.derived[id_].title for id_ in left_out(spec)],
    )


def _said(problems: Sequence[Problem], rows: Sequence[str]) -> list[Said]:
    return [
        Said(one, rows[one.line - 1].strip()[:MOST_QUOTED] if 0 < one.line <= len(rows) else "")
        for one in problems
    ]


def _there(spec: Spec, one: Stretch, bench: Sequence[Instrument]) -> There:
    lists = [suited(need, bench) for need in needs(spec, one.operation)]
    names = dict.fromkeys(each.id for some in lists for each in some)
    return There(tuple(names), not all(lists))


def spans_text(one: Stretch) -> str:
    """``2–9``, ``18, 20``: which steps of the order an operation has."""
    spans = [str(low) if low == high else f"{low}\N{EN DASH}{high}" for low, high in one.spans]
    return ", ".join([*spans[:8], "…"] if len(spans) > 8 else spans)


def numbers_text(one: Stretch) -> str:
    """``1–4`` or ``2, 5``: which numbers of its part; empty where it is about none or only one."""
    numbers = sorted(one.numbers) or list(range(1, one.parts + 1))
    if one.part is None or one.parts == 1:
        return ""
    if numbers == list(range(numbers[0], numbers[-1] + 1)):
        return f"{numbers[0]}\N{EN DASH}{numbers[-1]}"
    return ", ".join(map(str, numbers[:12]))

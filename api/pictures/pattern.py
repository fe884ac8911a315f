"""A group of fasteners: each where it is, the one to be tightened now lit, those done ticked."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from itertools import combinations
from typing import Final, NamedTuple

from api.pictures.other_parts import fitted
from api.pictures.sisters import hexagon
from api.pictures.strokes import (
    INK,
    LETTERS,
    LIT,
    ON_LIT,
    THIN,
    check,
    circle,
    line,
    polygon,
    turn,
    words,
)
from api.pictures.svg import tag
from api.pictures.verdict import verdict_mark
from capture.spec.model import Fastener, Part
from capture.spec.shape import Place

MOST: Final = 60
"""Fasteners that are drawn; of more, those tightened about the one that is wanted."""
RING: Final = 5
"""Up to so many, tightened crosswise, are drawn in a ring."""
X, Y, WIDE, HIGH = 70.0, 72.0, 360.0, 172.0


class Arrangement(NamedTuple):
    """Where the fasteners are: number → place on the drawing."""

    places: dict[int, tuple[float, float]]
    r: float
    """Of one fastener."""
    known: bool
    """The spec says where they are; else it is no map."""

    @property
    def top(self) -> float:
        return min(y for _, y in self.places.values()) - self.r

    @property
    def bottom(self) -> float:
        return max(y for _, y in self.places.values()) + self.r


def arrange(group: Fastener, part: Part, wanted: int | None = None) -> Arrangement:
    """Where each fastener is drawn."""
    numbers = _shown(group, wanted)
    silent = not group.layout
    layout = _guessed(group, part, numbers) if silent else [group.layout[n - 1] for n in numbers]
    places = [(p[0], p[1]) for p in fitted(tuple(layout), X, Y, WIDE, HIGH)]
    apart = min((math.dist(a, b) for a, b in combinations(places, 2)), default=120.0)
    return Arrangement(
        dict(zip(numbers, places, strict=True)), min(max(apart * 0.33, 9.0), 34.0), not silent
    )


def _shown(group: Fastener, wanted: int | None) -> list[int]:
    order = group.order
    if len(order) <= MOST:
        return sorted(order)
    middle = order.index(wanted) if wanted is not None else 0
    first = max(0, min(middle - MOST // 2, len(order) - MOST))
    return sorted(order[first : first + MOST])


def _guessed(group: Fastener, part: Part, numbers: list[int]) -> list[Place]:
    """Columns, so many as stand at each place; a ring or two rows where order goes crosswise."""
    count = part.count
    if part.per > 1:
        at = [divmod(n - 1, part.per) for n in numbers]
        return [(float(column), -float(row)) for column, row in at]
    crosswise = list(group.order) != sorted(group.order) and count > 2
    if crosswise and count <= RING:
        angles = [math.pi / 2 - 2 * math.pi * (n - 1) / count + math.pi / count for n in numbers]
        return [(math.cos(angle), math.sin(angle)) for angle in angles]
    if count > 6 or crosswise:
        columns = min(math.ceil(count / 2), 10)
        return [((n - 1) % columns, -float((n - 1) // columns)) for n in numbers]
    return [(float(n), 0.0) for n in numbers]


def tightening(
    group: Fastener, where: Arrangement, wanted: int, ticked: Collection[int]
) -> list[str]:
    """The pattern with one fastener wanted: its arrow turns as a clock runs, a dashed line leads
    to the next one."""
    made = []
    after = _after(group, wanted, ticked)
    here = where.places[wanted]
    if after in where.places:
        made.append(_lead(here, where.places[after], where.r))
    for number, (x, y) in where.places.items():
        if number != wanted:
            made += _fastener(number, x, y, where.r, done=number in ticked)
    x, y = here
    r = min(max(where.r * 1.12, 24.0), 38.0)
    made.append(turn(x, y, r + 13, max(4.0, r / 6)))
    made.append(
        polygon(hexagon(x, y, r), class_="lit", fill=LIT, stroke=INK, stroke_width=6,
                data_number=wanted)
    )  # fmt: skip
    made.append(_number(wanted, x, y, r, fill=ON_LIT, class_="lit-number"))
    return made


def judged(where: Arrangement, results: Mapping[int, str], hrefs: Mapping[int, str]) -> list[str]:
    """The pattern with the verdict's shape at each fastener."""
    made = []
    for number, (x, y) in where.places.items():
        one = _fastener(number, x, y, where.r, done=False)
        if number in results:
            side = where.r * 0.82
            one.append(verdict_mark(results[number], x + side, y - side, max(where.r * 0.42, 7)))
        href = hrefs.get(number)
        made += [tag("a", *one, href=href)] if href else one
    return made


def _after(group: Fastener, wanted: int, ticked: Collection[int]) -> int:
    """The next one of this stage that is not done; the wanted one itself where there is none."""
    size = group.together or len(group.order)
    at = group.order.index(wanted)
    start = at - at % size
    rest = [n for n in group.order[at + 1 : start + size] if n not in ticked]
    return rest[0] if rest else wanted


def _fastener(number: int, x: float, y: float, r: float, *, done: bool) -> list[str]:
    made = [circle(x, y, r, stroke_width=THIN if r >= 16 else 3, data_number=number)]
    if done:
        tick = check(x, y, r * 0.5, stroke_width=THIN if r >= 16 else 3, class_="was")
        return [made[0], tick]
    return [*made, _number(number, x, y, r)]


def _number(number: int, x: float, y: float, r: float, **attributes: object) -> str:
    size = r * (1.15 if number < 100 else 0.8)
    return tag(
        "text", str(number), x=x, y=y + size * 0.36, font_size=size, text_anchor="middle",
        **{"fill": INK, "font_weight": 700, **attributes},
    )  # fmt: skip


def _lead(here: tuple[float, float], there: tuple[float, float], r: float) -> str:
    """A dashed line between the rims of two fasteners."""
    apart = math.dist(here, there)
    if apart < 3.4 * r:
        return ""
    along = ((there[0] - here[0]) / apart, (there[1] - here[1]) / apart)
    clear = r + 30
    return line(
        here[0] + along[0] * clear, here[1] + along[1] * clear,
        there[0] - along[0] * (r + 6), there[1] - along[1] * (r + 6),
        stroke_width=THIN, stroke_dasharray="3 11", class_="lit-line",
    )  # fmt: skip


def footing(said: str, y: float = 332, most: float = LETTERS) -> str:
    """A line at the foot of the pattern."""
    return words(said, 250, y, 480, most, font_weight=400)

"""Which piece best goes where for a clearance, what fits nothing, and how much to hone."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

from capture import belong
from capture.act import clearance_of
from capture.desk import Desk
from capture.errors import Conflict
from capture.quantity import Number, brief, exact, text
from capture.shapes import mean
from capture.sized import sizes_of
from capture.spec.model import Basis, Limits

Data = dict[str, Any]


class Fitting(NamedTuple):
    """What a proposal is made of; sizes in ``unit``."""

    build: str
    derived: str
    title: str
    unit: str
    band: Limits
    target: Decimal | None
    outers: dict[str | int, Number]
    """By number of the outer part."""
    inners: dict[str | int, Number]
    """By piece of the inner part."""
    now: dict[int, str]
    """The piece at each number as things stand."""
    unmeasured: list[str]
    places: int
    """The most decimals that a size is shown with: two more than the sizes and the band have."""


def fit_asked(desk: Desk, build_id: str, name: str) -> Fitting:
    """Raises NotFound, RequestError for what is no clearance, Conflict where nothing is measured
    yet or the parts do not stand one in one."""
    build = desk.build(build_id)
    derived = clearance_of(build, name)
    outer, inner = (build.spec.characteristics[each] for each in derived.of)
    if build.spec.parts[outer.part].count != build.spec.parts[inner.part].count:
        raise Conflict(f"{name} is not between parts that stand one in one.")
    outers: dict[str | int, Number] = {}
    inners: dict[str | int, Number] = {}
    now: dict[int, str] = {}
    unmeasured = []
    limits = (derived.limits.lower, derived.limits.upper)
    places = max(_places(one) for one in limits if one is not None)
    for number in belong.numbers(build.spec, derived):
        piece = build.pieces.at(inner.part, number)
        assert piece is not None
        now[number] = piece
        for one, key in ((outer, None), (inner, piece)):
            sizes = sizes_of(build, one, number, {}, derived.unit)
            if sizes is None:
                unmeasured.append(f"{one.part} {number}")
                continue
            values = [size.value for size in sizes.values()]
            places = max(places, *map(_places, values))
            if key is None:
                outers[number] = _size(values, derived.basis, outer=True)
            else:
                inners[key] = _size(values, derived.basis, outer=False)
    if not outers or not inners:
        raise Conflict(
            f"Nothing to fit for {name} yet.", mend=f"Measure {', '.join(unmeasured)} first."
        )
    return Fitting(
        build_id, name, derived.title, derived.unit, derived.limits, derived.target, outers,
        inners, now, unmeasured, places + 2,
    )  # fmt: skip


def _places(size: Number) -> int:
    """Digits after the point; 0 where there is no end to them (the band's then say enough)."""
    return len(text(size).partition(".")[2]) if isinstance(size, Decimal) else 0


def _size(values: list[Number], basis: Basis, *, outer: bool) -> Number:
    """The one size that a clearance of this basis is taken from."""
    if basis is Basis.MEAN:
        return mean(values)
    smallest = outer == (basis is Basis.LEAST)
    return min(values) if smallest else max(values)


def fit_answer(asked: Fitting) -> Data:
    """The proposal as plain data. Raises ValueError for a band without a middle or target."""
    from capture.fit.hone import hone
    from capture.fit.select import assign, shortfall

    target = asked.target
    if target is None and None in (asked.band.lower, asked.band.upper):
        known = asked.band.lower if asked.band.lower is not None else asked.band.upper
        target = known  # one limit alone: as near to it as can be
    band = (asked.band.lower, asked.band.upper)
    proposal = assign(asked.outers, asked.inners, band, target)
    found = shortfall(asked.outers, asked.inners, band, target)
    pairs = {pair.outer: pair.inner for pair in proposal.pairs}
    cuts = hone(asked.outers, asked.inners, pairs, band, target)
    cut = {each.outer: each for each in cuts.cuts}
    places = asked.places
    return {
        "build": asked.build,
        "derived": asked.derived,
        "title": asked.title,
        "unit": asked.unit,
        "lower": None if asked.band.lower is None else text(asked.band.lower),
        "upper": None if asked.band.upper is None else text(asked.band.upper),
        "target": text(_target(asked, target)),
        "order": {str(pair.outer): str(pair.inner) for pair in proposal.pairs},
        "changes": _changes(asked, {int(p.outer): str(p.inner) for p in proposal.pairs}),
        "pairs": [
            {
                "number": int(pair.outer),
                "piece": str(pair.inner),
                "clearance": brief(pair.clearance, places),
                "within": pair.within,
                "hone": brief(cut[pair.outer].amount, places),
                "hone_to": _brief(cut[pair.outer].to, places),
                "hone_says": cut[pair.outer].sentence(asked.unit, places),
            }
            for pair in proposal.pairs
        ],
        "worst_miss": brief(proposal.worst_miss, places),
        "total_miss": brief(proposal.total_miss, places),
        "complete": found.complete,
        "cannot_fit": [
            {
                "part": str(misfit.part),
                "nearest": None if misfit.nearest is None else str(misfit.nearest),
                "clearance": _brief(misfit.clearance, places),
                "off": _brief(misfit.off, places),
            }
            for misfit in (*found.misfit_outers, *found.misfit_inners)
        ],
        "unmeasured": asked.unmeasured,
    }


def _brief(value: Number | None, places: int) -> str | None:
    return None if value is None else brief(value, places)


def _changes(asked: Fitting, order: dict[int, str]) -> dict[str, str]:
    """What moves, as a change of places: a piece that gives way to another goes where that one was
    (a position that is not measured yet may get another piece so)."""
    then = {**asked.now, **order}
    freed = [piece for number, piece in asked.now.items() if piece not in then.values()]
    for number in asked.now:
        if number not in order and then[number] in order.values():
            then[number] = freed.pop(0)
    moved = {number: piece for number, piece in then.items() if asked.now[number] != piece}
    return {str(number): piece for number, piece in sorted(moved.items())}


def _target(asked: Fitting, target: Number | None) -> Number:
    if target is not None:
        return target
    assert asked.band.lower is not None
    assert asked.band.upper is not None
    return exact((Fraction(asked.band.lower) + Fraction(asked.band.upper)) / 2)

"""Which piece the sizes propose where, beside what stands there and what was accepted."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from capture import belong
from capture.build import Build
from capture.desk import Desk
from capture.errors import CaptureError
from capture.evaluate import measured_of
from capture.inquiry.fits import fit_answer, fit_asked
from capture.inquiry.glance.beside import Fit, Pair
from capture.inquiry.glance.cells import limited
from capture.inquiry.glance.rounded import alike, shown
from capture.inquiry.glance.shape import Data
from capture.quantity import plain
from capture.spec import model
from capture.spec.model import Quantity

PIECES_MOST = 64
"""Pieces that are still matched for a page; more are matched when asked for."""


def fits(desk: Desk, build: Build, story: Sequence[Data]) -> list[Fit]:
    """Of every clearance whose inner pieces someone named, or accepted a fit of: only what has a
    name of its own can be put elsewhere."""
    named = {part for part, _ in build.pieces.named}
    found = []
    for name, one in build.spec.derived.items():
        if one.quantity is not Quantity.CLEARANCE:
            continue
        made = tuple(each for each in story if each["kind"] == "fit" and each["clearance"] == name)
        inner = build.spec.characteristics[one.of[1]].part
        if made or inner in named:
            found.append(_fit(desk, build, one, inner, made))
    return found


def _fit(desk: Desk, build: Build, one: model.Derived, inner: str, made: tuple[Data, ...]) -> Fit:
    proposal, why = None, ""
    numbers = belong.numbers(build.spec, one)
    if len(numbers) <= PIECES_MOST:
        try:
            proposal = fit_answer(fit_asked(desk, build.id, one.id))
        except (CaptureError, ValueError) as error:
            why = str(error)
    by_number = {pair["number"]: pair for pair in (proposal or {"pairs": []})["pairs"]}
    pairs = [
        _pair(build, one, inner, number, by_number.get(number)) for number in numbers[:PIECES_MOST]
    ]
    said = alike([size for pair in pairs for size in (pair.clearance, pair.proposed_clearance)])
    alike_pairs = tuple(
        pair._replace(clearance=stands, proposed_clearance=proposed)
        for pair, stands, proposed in zip(pairs, said[::2], said[1::2], strict=True)
    )
    return Fit(one.id, one.title, one.unit, plain(one.target), proposal, why, alike_pairs, made)


def _pair(build: Build, one: model.Derived, inner: str, number: int, proposed: Data | None) -> Pair:
    fill = build.derived.get((one.id, number))
    stands = build.pieces.at(inner, number) or ""
    there = None if proposed is None else str(proposed["piece"])
    return Pair(
        number=number,
        stands=stands,
        clearance=None if fill is None else _clearance(one, fill.verdict),
        result="" if fill is None else str(fill.verdict["result"]),
        proposed=there,
        proposed_clearance=None if proposed is None else str(proposed["clearance"]),
        same=there == stands,
        hone=_hone(proposed),
    )


def _clearance(one: model.Derived, verdict: Data) -> str:
    limits = limited(one.limits)
    return shown(measured_of(verdict), limits.lower, limits.upper, verdict["expanded_uncertainty"])


def _hone(proposed: Data | None) -> str:
    """What would have to come off; nothing where the clearance is within its band."""
    if proposed is None or not Decimal(proposed["hone"]):
        return ""
    return str(proposed["hone_says"])

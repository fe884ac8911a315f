"""What a whole build shows: preloads behind the pulls, findings, clearances point by point."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from capture.bolts import Estimate, Interval, of_joint, of_stretch
from capture.build import Build
from capture.derive import clearances_at
from capture.desk import Desk
from capture.entry import Envelope
from capture.extension import factor
from capture.findings import NOT_SHOWN, Source, findings
from capture.quantity import Number, convert, dimension, text
from capture.spec.model import Fastener, Kind, Quantity
from capture.step import Step

Data = dict[str, Any]


def preloads(desk: Desk, build_id: str) -> list[Data]:
    """The newest pull by torque (or stretch) of every fastener whose spec says enough for an
    estimate; ``then`` names the stages after it, by angle, that no torque tells of."""
    build = desk.build(build_id)
    newest: dict[tuple[str, int], Data] = {}
    for at, step in enumerate(build.steps):
        fill = build.fills[at]
        if step.kind is not Kind.TIGHTEN or fill is None or fill.value is None:
            continue
        group = build.spec.fasteners[step.subject]
        key = (step.subject, step.number)
        made = _estimate(group, step, fill.value)
        if made is not None:
            said = {"fastener": group.id, "number": step.number, "stage": step.point}
            newest[key] = {**said, "lubricant": group.lubricant, "then": [], **_plain(made)}
        elif key in newest:
            newest[key]["then"].append(
                f"{step.point}: {text(fill.value)} {step.unit}, which the estimate does not count"
            )
    return [newest[key] for key in sorted(newest)]


def _estimate(group: Fastener, step: Step, value: Number) -> Estimate | None:
    if group.joint is None:
        return None
    kind = dimension(step.unit)
    if kind == "torque":
        return of_joint(group.joint, convert(value, step.unit, "N·m"))
    if kind == "length":
        return of_stretch(group.joint, convert(value, step.unit, "mm"), None)
    return None


def _plain(made: Estimate) -> Data:
    return {
        "method": made.method,
        "preload_newton": text(made.preload, 0),
        "lower_newton": None if made.lower is None else text(made.lower, 0),
        "upper_newton": None if made.upper is None else text(made.upper, 0),
        "scatter": made.scatter,
        "share_of_proof": _interval(made.share_of_proof, 3),
        "stretch_mm": _interval(made.stretch, 4),
        "cautions": list(made.cautions),
    }


def _interval(found: Interval | None, places: int) -> Data | None:
    if found is None:
        return None
    return {
        name: None if value is None else text(value, places)
        for name, value in found._asdict().items()
    }


def presses_of(desk: Desk, build_id: str) -> list[int]:
    """Seqs of the presses that answer a build's steps."""
    return list(desk.build(build_id).press_at)


def found_in(desk: Desk, build_id: str, presses: Mapping[int, Envelope]) -> Data:
    """Findings over the build, and what no data can show with the practice that guards it."""
    build = desk.build(build_id)
    sources = {
        seq: Source(
            press["body"]["digits"],
            press["body"]["unit"],
            press["at"][:10],
            press["body"]["typed"],
            desk.instruments[press["body"]["instrument"]].instrument,
        )
        for seq, press in presses.items()
        if press["body"]["instrument"] in desk.instruments
    }
    factors = {
        f"{name}: {text(kept.extension.length)} {kept.extension.unit}": 1
        / float(factor(kept.extension))
        for seq, kept in desk.extensions_by_seq.items()
        for name in [f"extension of entry {seq}"]
    }
    return {
        "findings": [one._asdict() for one in findings(build, sources, factors)],
        "not_shown": [one._asdict() for one in NOT_SHOWN],
    }


def clearances(build: Build) -> list[Data]:
    """Every clearance at every measured point of its outer part."""
    found = []
    for name, number in sorted(build.derived):
        derived = build.spec.derived[name]
        if derived.quantity is Quantity.CLEARANCE:
            points = clearances_at(build, derived, number)
            found.append({"id": name, "number": number, "unit": derived.unit, "points": points})
    return found

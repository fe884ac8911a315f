"""A step in words and plain data: what it is called, where, with what, within which limits."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from capture.quantity import dimension, plain, text

if TYPE_CHECKING:
    from capture.build import Build
    from capture.desk import Desk
    from capture.spec.model import Kind, Limits, Spec
    from capture.step import Step

Data = dict[str, Any]


def title_of(spec: Spec, kind: Kind, subject: str) -> str:
    """The title of what an operation or step is about."""
    if kind == "measure":
        return spec.characteristics[subject].title
    if kind == "confirm":
        return spec.confirmations[subject].title
    if kind == "tighten":
        return spec.fasteners[subject].title
    if kind == "turn":
        return spec.turning_tests[subject].title
    if kind == "zero":
        return spec.zero_checks[subject].title
    if kind == "study":
        return spec.studies[subject].title
    return spec.tool_checks[subject].title


def describe(desk: Desk, found: Build, step: Step) -> Data:
    """A step in full: where, with what, within which limits, and what to beware of."""
    spec = found.spec
    part = None if step.part is None else spec.parts[step.part]
    details = _details(spec, step)
    limits = limits_now(found, step)
    return {
        **found.placement(step),
        "title": title_of(spec, step.kind, step.subject),
        "part_title": None if part is None else part.title,
        "position": None if part is None else part.position,
        "count": 1 if part is None else part.count,
        "repeats": step.repeats,
        "instruments": list(step.instruments),
        "unit": step.unit or None,
        "lower": None if limits is None else plain(limits.lower),
        "upper": None if limits is None else plain(limits.upper),
        "bracketed": bracketed(desk, step),
        "tool_settings": tool_settings(desk, step, details["target"]),
        **details,
        "cautions": [*_spent(found, step), *details["cautions"]],
    }


def _spent(found: Build, step: Step) -> list[str]:
    """A fastener that was tightened into yield must not be tightened again."""
    piece = found.pieces.at(step.part, step.number)
    if step.kind != "tighten" or (step.part or "", piece or "") not in found.yielded:
        return []
    return [
        f"{piece} was tightened into yield: do not use it again unless the engine's maker says so. "
        f"Fit a new one and assign it to {step.part} {step.number}."
    ]


def bracketed(desk: Desk, step: Step) -> bool:
    """Whether a size is found between two values: by feeler leaves, or by raising the setting of a
    click tool until the crank turns."""
    if step.kind == "turn" and "click-wrench" in step.instruments:
        return True
    kinds = {
        record.instrument.kind for record in desk.instruments.values() if record.instrument.leaves
    }
    return step.kind == "measure" and bool(kinds & set(step.instruments))


def tool_settings(desk: Desk, step: Step, target: str | None) -> dict[str, str]:
    """What each torque tool with an extension on it must be set to for the wanted torque."""
    if target is None or step.kind != "tighten" or dimension(step.unit) != "torque":
        return {}
    from capture.extension import setting_for

    return {
        name: text(setting_for(Decimal(target), kept.extension), 2)
        for name, kept in desk.extensions.items()
        if desk.instruments[name].instrument.kind in step.instruments
    }


def _details(spec: Spec, step: Step) -> Data:
    found: Data = {"nominal_size": None, "target": None, "text": None, "stage": None}
    if step.kind == "measure":
        one = spec.characteristics[step.subject]
        found.update(nominal_size=plain(one.nominal_size), cautions=list(one.cautions))
    elif step.kind == "confirm":
        asked = spec.confirmations[step.subject]
        found.update(text=asked.text, cautions=list(asked.cautions))
    elif step.kind == "tighten":
        group = spec.fasteners[step.subject]
        stage = next(stage for stage in group.stages if stage.id == step.point)
        found.update(
            target=plain(stage.target),
            stage=stage.title,
            lubricant=group.lubricant,
            torque_to_yield=group.torque_to_yield,
            cautions=list(group.cautions),
        )
    elif step.kind == "turn":
        found.update(cautions=list(spec.turning_tests[step.subject].cautions))
    elif step.kind == "zero":
        text_said = "On its setting standard: rock it, and press SEND at the reversal."
        found.update(text=text_said, cautions=list(spec.zero_checks[step.subject].cautions))
    elif step.kind == "study":
        appraiser, _, trial = step.point.rpartition("-")
        asked_of = f"{appraiser} measures sample {step.number} (trial {trial})."
        found.update(text=asked_of, cautions=list(spec.studies[step.subject].cautions))
    else:
        check = spec.tool_checks[step.subject]
        setting = step.point.rpartition("-")[0] if step.limits.upper is not None else None
        found.update(
            target=plain(check.maximum) if setting is None else setting,
            tool=check.tool,
            text=f"Pull {check.tool} to {setting or plain(check.maximum)} {step.unit} on the "
            "reference" + (" (a preload, not evaluated)." if setting is None else "."),
            cautions=list(check.cautions),
        )
    return found


def limits_now(found: Build, step: Step) -> Limits | None:
    """The limits as they are now; None while what they follow from is not measured."""
    from capture.factored import limits_of

    return limits_of(found, step)

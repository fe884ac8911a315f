"""What a threaded fastener's tightening says about its preload, and what its stretch says.

Formulas take any consistent units: lengths in mm, forces in N, stresses in MPa (N/mm²) and torques
in N·mm; or inches, lbf, psi and lbf·in. ``of_joint`` and its sisters take a spec's joint (mm, MPa)
with a torque in N·m and give newtons and millimetres.

Every preload here is an **estimate** and carries its scatter, which the caller states; friction is
never known well, and none of it replaces the engine maker's torque, angle or stretch. Joints that
the caller has not described far enough give None, never a guess.

Thread geometry is that of the 60° profile, with √3 and π as ratios good to 40 decimals.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final, NamedTuple

from capture.quantity import Number, exact, text
from capture.shapes import PI
from capture.spec.model import Joint

SQRT3: Final = Fraction("1.73205080756887729352744634150587236694280525381038").limit_denominator(
    10**20
)

CAUTION: Final = (
    "An estimate from a torque or a stretch, not a measurement of preload: the engine maker's "
    "torque, angle or stretch, lubricant and rules for reuse come first."
)
OVER_PROOF: Final = (
    "The estimate reaches the proof load: a fastener tightened so may be stretched for good or "
    "break. Check torque, unit, lubricant and joint against the engine maker's data first."
)
SCATTER_NOT_STATED: Final = "scatter not stated"


class Interval(NamedTuple):
    """A value and the ends it may lie between; both ends None where the scatter is not stated."""

    value: Number
    lower: Number | None
    upper: Number | None


class Estimate(NamedTuple):
    """A preload and what follows from it."""

    preload: Number
    lower: Number | None
    upper: Number | None
    """Both None where the scatter is not stated."""
    method: str
    """``nut factor``, ``friction`` or ``stretch``."""
    scatter: str
    """``± 25 %``, or ``scatter not stated``."""
    share_of_proof: Interval | None = None
    """Of the proof load, 1 is all of it; None where the proof stress is not stated."""
    stretch: Interval | None = None
    """Of the fastener, in the unit of its length; None where length or modulus is not stated."""
    cautions: tuple[str, ...] = (CAUTION,)


class Bound(NamedTuple):
    """Something known only from above."""

    upper: Number
    note: str


def pitch_diameter(diameter: Number, pitch: Number) -> Fraction:
    """Basic pitch diameter d2 = d − 3√3/8 · P (ISO 68-1 and ASME B1.1 profile, from memory)."""
    _thread(diameter, pitch)
    return Fraction(diameter) - SQRT3 * 3 / 8 * Fraction(pitch)


def stress_area_metric(diameter: Number, pitch: Number) -> Fraction:
    """Tensile stress area π/4 · ((d2 + d3)/2)² of ISO 898-1, which is π/4 · (d − 13√3/24 · P)²
    (0.938194 P). Diameter and pitch in mm give mm²."""
    _thread(diameter, pitch)
    return PI / 4 * (Fraction(diameter) - SQRT3 * 13 / 24 * Fraction(pitch)) ** 2


def stress_area_unified(diameter: Number, pitch: Number) -> Fraction:
    """Tensile stress area π/4 · (D − 0.9743 P)² of ASME B1.1 (from memory), P = 1 / threads per
    inch. Inches give in²."""
    _thread(diameter, pitch)
    return PI / 4 * (Fraction(diameter) - Fraction("0.9743") * Fraction(pitch)) ** 2


def stress_area_high_strength(least_pitch_diameter: Number, pitch: Number) -> Fraction:
    """Tensile stress area π · (Es/2 − 0.16238 P)² for steels over 100 000 psi (Machinery's
    Handbook), from the thread's least pitch diameter Es. Inches give in²."""
    _thread(least_pitch_diameter, pitch)
    return PI * (Fraction(least_pitch_diameter) / 2 - Fraction("0.16238") * Fraction(pitch)) ** 2


def stress_area(joint: Joint) -> Fraction:
    """Tensile stress area of a spec's joint in mm², by its series."""
    if joint.series == "unified":
        return stress_area_unified(joint.diameter, joint.pitch)
    return stress_area_metric(joint.diameter, joint.pitch)


def proof_load(area: Number, proof_stress: Number) -> Number:
    """As · Sp (ISO 898-1)."""
    return exact(_positive(area, "a stress area") * _positive(proof_stress, "a proof stress"))


def torque_by_nut_factor(preload: Number, diameter: Number, nut_factor: Number) -> Number:
    """T = K · d · F."""
    return exact(Fraction(preload) * _nut_arm(diameter, nut_factor))


def preload_by_nut_factor(torque: Number, diameter: Number, nut_factor: Number) -> Number:
    """F = T / (K · d)."""
    return exact(Fraction(torque) / _nut_arm(diameter, nut_factor))


def torque_by_friction(
    preload: Number,
    diameter: Number,
    pitch: Number,
    friction_thread: Number,
    friction_head: Number,
    bearing_diameter: Number,
) -> Number:
    """T = F · (P/2π + d2·µ_thread/√3 + D/2·µ_head), D the mean diameter of friction under the head.

    The form of VDI 2230 (0.16 P + 0.58 d2 µ + D/2 µ) and ISO 16047 (0.577 d2 µ), from memory.
    """
    arm = _friction_arm(diameter, pitch, friction_thread, friction_head, bearing_diameter)
    return exact(Fraction(preload) * arm)


def preload_by_friction(
    torque: Number,
    diameter: Number,
    pitch: Number,
    friction_thread: Number,
    friction_head: Number,
    bearing_diameter: Number,
) -> Number:
    """The preload that ``torque`` gives: see ``torque_by_friction``."""
    arm = _friction_arm(diameter, pitch, friction_thread, friction_head, bearing_diameter)
    return exact(Fraction(torque) / arm)


def stretch(preload: Number, length: Number, area: Number, modulus: Number) -> Number:
    """F · L / (A · E): how much longer a fastener of one area is under ``preload``. Threads and
    head give a little too, which this leaves out."""
    return exact(Fraction(preload) / _stiffness(length, area, modulus))


def preload_by_stretch(elongation: Number, length: Number, area: Number, modulus: Number) -> Number:
    """δ · A · E / L, while the fastener is elastic."""
    return exact(Fraction(elongation) * _stiffness(length, area, modulus))


def stretch_by_angle(pitch: Number, degrees: Number) -> Bound:
    """The most a fastener can stretch in turning by ``degrees`` after snug: pitch · angle / 360."""
    if degrees < 0:
        raise ValueError("the angle of tightening is not negative")
    return Bound(
        exact(_positive(pitch, "a pitch") * Fraction(degrees) / 360),
        "upper bound: as if the parts clamped were rigid; what they give is taken from it",
    )


def with_scatter(value: Number, scatter_percent: Number | None) -> Interval:
    """``value`` ± its scatter. None is not stated, which gives no ends rather than narrow ones."""
    if scatter_percent is None:
        return Interval(value, None, None)
    if not 0 < scatter_percent < 100:
        raise ValueError("the scatter of a preload is above 0 % and below 100 %")
    part = Fraction(scatter_percent) / 100
    return Interval(value, exact(Fraction(value) * (1 - part)), exact(Fraction(value) * (1 + part)))


def of_joint(joint: Joint, torque_newton_metre: Number) -> Estimate | None:
    """The preload in N that a torque gives in a spec's joint, with share of proof load and stretch
    where the joint says enough for them.

    By friction where thread, head and bearing diameter are all stated, else by the nut factor;
    None where neither is. ValueError where the torque is negative or a value cannot be.
    """
    if torque_newton_metre < 0:
        raise ValueError("a tightening torque is not negative")
    torque = Fraction(torque_newton_metre) * 1000
    if (
        joint.friction_thread is not None
        and joint.friction_head is not None
        and joint.bearing_diameter is not None
    ):
        preload = preload_by_friction(
            torque,
            joint.diameter,
            joint.pitch,
            joint.friction_thread,
            joint.friction_head,
            joint.bearing_diameter,
        )
        return _estimate(joint, preload, joint.scatter_percent, "friction")
    if joint.nut_factor is None:
        return None
    preload = preload_by_nut_factor(torque, joint.diameter, joint.nut_factor)
    return _estimate(joint, preload, joint.scatter_percent, "nut factor")


def torque_for_preload(joint: Joint, preload_newton: Number) -> Number | None:
    """The torque in N·m that a joint's friction or nut factor makes of a preload in N; None where
    neither is stated."""
    at_one = of_joint(joint, Fraction(1))
    return None if at_one is None else exact(Fraction(preload_newton) / Fraction(at_one.preload))


def of_stretch(
    joint: Joint, stretch_millimetre: Number, scatter_percent: Number | None
) -> Estimate | None:
    """The preload in N that a measured stretch shows; None where length or modulus is not stated.

    ``scatter_percent`` is of this method, from the uncertainty of the stretch, the length and the
    area; the joint's own is of a torque and says nothing here.
    """
    if joint.clamped_length is None or joint.elastic_modulus is None:
        return None
    preload = preload_by_stretch(
        stretch_millimetre, joint.clamped_length, stress_area(joint), joint.elastic_modulus
    )
    return _estimate(joint, preload, scatter_percent, "stretch")


def _estimate(
    joint: Joint, preload: Number, scatter_percent: Number | None, method: str
) -> Estimate:
    between = with_scatter(preload, scatter_percent)
    said = SCATTER_NOT_STATED if scatter_percent is None else f"± {text(scatter_percent)} %"
    area = stress_area(joint)
    share = longer = None
    if joint.proof_stress is not None:
        share = _over(between, Fraction(proof_load(area, joint.proof_stress)))
    if joint.clamped_length is not None and joint.elastic_modulus is not None:
        longer = _over(between, _stiffness(joint.clamped_length, area, joint.elastic_modulus))
    over = share is not None and max(share.value, share.upper or share.value) >= 1
    cautions = (CAUTION, OVER_PROOF) if over else (CAUTION,)
    return Estimate(*between, method, said, share, longer, cautions)


def _over(between: Interval, divisor: Fraction) -> Interval:
    value, lower, upper = (
        None if end is None else exact(Fraction(end) / divisor) for end in between
    )
    assert value is not None
    return Interval(value, lower, upper)


def _stiffness(length: Number, area: Number, modulus: Number) -> Fraction:
    """Force per elongation: A · E / L."""
    return (
        _positive(area, "a stress area")
        * _positive(modulus, "a modulus of elasticity")
        / _positive(length, "a clamped length")
    )


def _nut_arm(diameter: Number, nut_factor: Number) -> Fraction:
    return _positive(diameter, "a diameter") * _positive(nut_factor, "a nut factor")


def _friction_arm(
    diameter: Number,
    pitch: Number,
    friction_thread: Number,
    friction_head: Number,
    bearing_diameter: Number,
) -> Fraction:
    """Torque per preload."""
    if friction_thread < 0 or friction_head < 0:
        raise ValueError("a coefficient of friction is not negative")
    return (
        Fraction(pitch) / (2 * PI)
        + pitch_diameter(diameter, pitch) * Fraction(friction_thread) / SQRT3
        + _positive(bearing_diameter, "a bearing diameter") / 2 * Fraction(friction_head)
    )


def _thread(diameter: Number, pitch: Number) -> None:
    if not 0 < pitch < diameter / 2:
        raise ValueError(
            "a thread's pitch is above zero and well below its diameter: check the unit of both "
            "(threads per inch are not a pitch: give 1 over them)"
        )


def _positive(value: Number, what: str) -> Fraction:
    if value <= 0:
        raise ValueError(f"{what} is above zero")
    return Fraction(value)

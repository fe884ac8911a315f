"""A spec as loaded: what an engine wants measured, confirmed, tightened and turned.

Everything here is immutable and checked; ``capture.spec.load`` makes it from a TOML file.
Sizes and torques are ``Decimal`` in the unit beside them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from capture.formula.tree import Formula
from capture.quantity import Number
from capture.spec.shape import Place, Shape


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits of size (ISO 286-1) or of torque; None is unlimited on that side. Ties are inside."""

    lower: Decimal | None
    upper: Decimal | None


@dataclass(frozen=True, slots=True)
class Part:
    """A kind of part and how many the engine has; numbers run from 1 to ``count``."""

    id: str
    title: str
    count: int
    position: str
    """What its numbers count (``cylinder``, ``main``): parts that share a position word and a
    number belong together. Its own id where the file is silent."""
    per: int = 1
    """How many of it stand at each number of its position, counted one place after the other: of
    two rod bolts a cylinder, 1 and 2 are at cylinder 1, 3 and 4 at cylinder 2."""
    shape: Shape | None = None
    """What it looks like; None is not stated."""

    def place(self, number: int) -> int:
        """The number of its position at which one of this part stands."""
        return (number - 1) // self.per + 1


@dataclass(frozen=True, slots=True)
class Point:
    """Where on the part: a depth, an axis, or both. Both empty: the part as a whole."""

    depth: str = ""
    axis: str = ""

    @property
    def id(self) -> str:
        """``top-thrust``, ``top``, ``thrust`` or ``''``."""
        return "-".join(word for word in (self.depth, self.axis) if word)


@dataclass(frozen=True, slots=True)
class Characteristic:
    """A size to measure on every one of a part, at every point, ``repeats`` times."""

    id: str
    title: str
    part: str
    unit: str
    nominal_size: Decimal | None
    limits: Limits
    points: tuple[Point, ...]
    """Depth-major, in the file's order; at least one."""
    repeats: int
    instruments: tuple[str, ...]
    """Kinds of instrument suited; at least one."""
    plausible: Limits
    """Outside this a reading is questioned, not evaluated. Both ends are always set."""
    cautions: tuple[str, ...] = ()
    factors: Factors | None = None
    """Where its limits follow from another size; ``limits`` are then the widest they can be."""
    expansion: Expansion | None = None
    """Where its sizes are brought to 20 °C."""
    shape: Shape | None = None
    """What is drawn of it; None: what its part looks like."""
    layout: tuple[Place, ...] = ()
    """Where each of its points is, or none of them."""
    directions: tuple[float, ...] = ()
    """Degrees of its axes, against the clock from the right; or none."""


@dataclass(frozen=True, slots=True)
class Factors:
    """Limits that are a measured size times a factor: a ring gap by the bore of its cylinder."""

    of: str
    """Id of the characteristic (its mean) or derived quantity, looked up at the same position."""
    lower: Decimal | None
    upper: Decimal | None


@dataclass(frozen=True, slots=True)
class Expansion:
    """How a part's size follows its temperature (ISO 1 refers sizes to 20 °C)."""

    temperature: str
    """Id of the characteristic (in °C or °F) that is the part's temperature, looked up at the same
    position, or at number 1 where it is of another part of which there is one."""
    coefficient: Decimal
    """Linear expansion of the part, 10⁻⁶ per °C."""
    coefficient_uncertainty: Decimal | None
    """Standard uncertainty of the coefficient, same unit."""


class Quantity(StrEnum):
    """Quantities that can be derived from measured sizes in this format."""

    MEAN = "mean"
    TAPER = "taper"
    OUT_OF_ROUND = "out-of-round"
    CYLINDRICITY = "cylindricity"
    CLEARANCE = "clearance"
    FORMULA = "formula"
    """Arithmetic over named quantities: see ``capture.formula``."""


class Basis(StrEnum):
    """Which sizes a clearance is taken between."""

    MEAN = "mean"
    """Mean of the outer less mean of the inner."""
    LEAST = "least"
    """Smallest outer less largest inner."""
    GREATEST = "greatest"
    """Largest outer less smallest inner."""


@dataclass(frozen=True, slots=True)
class Derived:
    """A quantity computed from measured sizes, for every number of its part (or position)."""

    id: str
    title: str
    quantity: Quantity
    of: tuple[str, ...]
    """Ids of what it is computed from: one characteristic; for a clearance two, the outer first;
    for a formula every characteristic and derived quantity it names (not the given ones)."""
    unit: str
    """``1`` for a ratio."""
    limits: Limits
    basis: Basis = Basis.MEAN
    cautions: tuple[str, ...] = ()
    part: str = ""
    """The part whose numbers it is computed for: of those in ``of`` the one with most numbers."""
    formula: Formula | None = None
    """Only where ``quantity`` is ``formula``."""
    target: Decimal | None = None
    """The value wanted of it, within the limits; select fit centres on it. None: mid-limits."""


@dataclass(frozen=True, slots=True)
class Given:
    """A value the spec gives rather than wants measured: a stroke, a gasket's thickness."""

    id: str
    title: str
    value: Decimal
    unit: str


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of tightening a group of fasteners."""

    id: str
    title: str
    unit: str
    """Of torque, of angle, or (for a stretch stage) of length."""
    target: Decimal
    limits: Limits
    plausible: Limits
    final: bool
    """The last stage of its group."""


@dataclass(frozen=True, slots=True)
class Joint:
    """What an estimate of preload needs; None is not stated. Lengths in mm, stresses in MPa."""

    diameter: Decimal
    pitch: Number
    """A Fraction where threads per inch give no ending decimals of a millimetre."""
    series: str
    """``metric`` (ISO 68-1 profile) or ``unified``."""
    nut_factor: Decimal | None
    """K of T = K·d·F."""
    friction_thread: Decimal | None
    friction_head: Decimal | None
    bearing_diameter: Decimal | None
    """Mean diameter of friction under the head."""
    scatter_percent: Decimal | None
    """Of the preload at a given torque, ±."""
    proof_stress: Number | None
    """A Fraction where it is stated in psi or ksi; so is ``elastic_modulus``."""
    clamped_length: Decimal | None
    elastic_modulus: Number | None


@dataclass(frozen=True, slots=True)
class Fastener:
    """A group of like fasteners tightened in stages, each stage in order over the group."""

    id: str
    title: str
    part: str
    order: tuple[int, ...]
    """Numbers in tightening order: every number of the part once."""
    stages: tuple[Stage, ...]
    instruments: tuple[str, ...]
    torque_to_yield: bool
    lubricant: str
    cautions: tuple[str, ...] = ()
    together: int = 0
    """How many, in order, go through all stages before the next ones; 0: all of them."""
    joint: Joint | None = None
    layout: tuple[Place, ...] = ()
    """Where number 1, 2… is; none where the file is silent."""
    seen_from: str = ""
    """From where the layout is seen."""


@dataclass(frozen=True, slots=True)
class Confirmation:
    """Something only a person can confirm, once or for every one of a part."""

    id: str
    title: str
    text: str
    part: str | None
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TurningTest:
    """The torque that turns the assembly so far."""

    id: str
    title: str
    unit: str
    limits: Limits
    plausible: Limits
    instruments: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    part: str | None = None
    """Given: once for every one of that part (after each cap, after each piston)."""


@dataclass(frozen=True, slots=True)
class ZeroCheck:
    """A comparative gauge back on its setting standard: opens or closes a set of readings."""

    id: str
    title: str
    unit: str
    plausible: Limits
    """Of the deviation seen."""
    instruments: tuple[str, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Study:
    """A gauge study: every appraiser measures every sample ``trials`` times, in a drawn order."""

    id: str
    title: str
    unit: str
    appraisers: tuple[str, ...]
    samples: int
    trials: int
    references: tuple[Decimal, ...]
    """Known size of each sample, where bias and linearity are studied; else empty."""
    lot: str
    """Any text; the order is drawn from it, so that the same text gives the same order."""
    tolerance: Decimal | None
    """Width of the tolerance the gauge is to serve, where its share is wanted."""
    plausible: Limits
    instruments: tuple[str, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ToolCheck:
    """A torque tool against a reference (ISO 6789-1): ``readings`` at each point, ascending.

    The reading is what the reference shows; the tool is set to, or pulled to, the point."""

    id: str
    title: str
    unit: str
    tool: str
    """Id of the instrument being checked, as in bench.toml."""
    maximum: Decimal
    """The tool's largest setting, in ``unit``."""
    points_percent: tuple[Decimal, ...]
    """Of the maximum, ascending."""
    readings: int
    preloads: int
    """Pulls at the maximum before the first reading; not evaluated."""
    permissible_deviation_percent: Decimal
    plausible: Limits
    instruments: tuple[str, ...]
    """Kinds of the reference."""
    cautions: tuple[str, ...] = ()


class Kind(StrEnum):
    """What a step asks of the builder."""

    MEASURE = "measure"
    CONFIRM = "confirm"
    TIGHTEN = "tighten"
    TURN = "turn"
    ZERO = "zero"
    STUDY = "study"
    CHECK = "check"


@dataclass(frozen=True, slots=True)
class Operation:
    """One line of the order of work. ``subject`` is the id of what it measures, confirms…"""

    id: str
    kind: Kind
    subject: str
    after: tuple[str, ...]
    """Ids of operations that must be complete, and free of open nonconformities, before."""
    round: str = ""
    """Operations that stand together with the same word here are done number by number: all of
    them for cylinder 1, then all of them for cylinder 2. Within a round ``after`` waits only for
    the same number."""


class Rule(StrEnum):
    """Decision rules."""

    SIMPLE = "simple"
    GUARDED = "guarded"
    ISO14253 = "iso14253"


@dataclass(frozen=True, slots=True)
class Decision:
    """How conformity is decided in this spec."""

    rule: Rule = Rule.GUARDED
    guard_factor: Decimal = Decimal(1)
    """g: the guard band is g × U. Not used by ``simple`` and ``iso14253`` (1.65 × u)."""
    coverage_factor: Decimal = Decimal(2)
    overdue: str = "mark"
    """``mark``: an overdue instrument marks the verdict; ``hold``: its readings do not count."""
    repeat_window_ms: int = 1000
    """The same digits from the same instrument within this time are taken for a repeated press."""


@dataclass(frozen=True, slots=True)
class Spec:
    """A whole spec. ``hash`` is the SHA-256 (hex) of the file's bytes."""

    hash: str
    id: str
    title: str
    revision: str
    invented: bool
    notice: str
    parts: dict[str, Part]
    characteristics: dict[str, Characteristic]
    derived: dict[str, Derived]
    fasteners: dict[str, Fastener]
    confirmations: dict[str, Confirmation]
    turning_tests: dict[str, TurningTest]
    operations: tuple[Operation, ...]
    decision: Decision
    cautions: tuple[str, ...] = ()
    given: dict[str, Given] = field(default_factory=dict)
    zero_checks: dict[str, ZeroCheck] = field(default_factory=dict)
    studies: dict[str, Study] = field(default_factory=dict)
    tool_checks: dict[str, ToolCheck] = field(default_factory=dict)
    text: str = field(default="", repr=False, compare=False)

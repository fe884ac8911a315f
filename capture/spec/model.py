"""A spec as loaded: what an engine wants measured, confirmed, tightened and turned.

Everything here is immutable and checked; ``capture.spec.load`` makes it from a TOML file.
Sizes and torques are ``Decimal`` in the unit beside them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum


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


class Quantity(StrEnum):
    """Quantities that can be derived from measured sizes in this format."""

    MEAN = "mean"
    TAPER = "taper"
    OUT_OF_ROUND = "out-of-round"
    CLEARANCE = "clearance"


class Basis(StrEnum):
    """Which sizes a clearance is taken between."""

    MEAN = "mean"
    """Mean of the outer less mean of the inner."""
    LEAST = "least"
    """Smallest outer less largest inner."""


@dataclass(frozen=True, slots=True)
class Derived:
    """A quantity computed from measured sizes, for every number of its part (or position)."""

    id: str
    title: str
    quantity: Quantity
    of: tuple[str, ...]
    """Ids of characteristics: one; for a clearance two, the outer first."""
    unit: str
    limits: Limits
    basis: Basis = Basis.MEAN
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of tightening a group of fasteners."""

    id: str
    title: str
    unit: str
    target: Decimal
    limits: Limits
    plausible: Limits
    final: bool
    """The last stage of its group."""


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


class Kind(StrEnum):
    """What a step asks of the builder."""

    MEASURE = "measure"
    CONFIRM = "confirm"
    TIGHTEN = "tighten"
    TURN = "turn"


@dataclass(frozen=True, slots=True)
class Operation:
    """One line of the order of work. ``subject`` is the id of what it measures, confirms…"""

    id: str
    kind: Kind
    subject: str
    after: tuple[str, ...]
    """Ids of operations that must be complete, and free of open nonconformities, before."""


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
    text: str = field(default="", repr=False, compare=False)

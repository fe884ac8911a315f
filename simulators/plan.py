"""What a scenario file may say: the bench, the parts, and what goes wrong."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

from simulators.workshop import Feature


class ScenarioError(ValueError):
    """A scenario file is wrong: says which, where and how to mend it."""


@dataclass(frozen=True, slots=True)
class PortPlan:
    """A cable: its name and the settings written to bench.toml."""

    id: str
    baud: int = 9600
    data_bits: int = 8
    parity: str = "none"
    stop_bits: str = "1"


@dataclass(frozen=True, slots=True)
class InstrumentPlan:
    """An instrument: what bench.toml says of it, and the errors only the workshop knows."""

    id: str
    kind: str
    port: str
    profile: str
    unit: str
    resolution: Decimal
    channel: str | None = None
    range: tuple[str, str] | None = None
    comparative: bool = False
    sends_unit: bool = True
    """False: its line has no unit word, and a pressed unit key goes unnoticed."""
    calibration: Mapping[str, str] | None = None
    leaves: tuple[str, ...] = ()
    """Of a feeler set, in the order of the fan."""
    expansion: str | None = None
    """Of its scale, 10⁻⁶ per °C."""
    traces: bool = False
    """It gives the whole trace of a pull rather than a number."""
    errors: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Standard:
    """A setting standard for comparative gauges. ``size`` in ``unit`` as engraved."""

    id: str
    size: str
    unit: str
    expanded_uncertainty: str | None = None
    coverage_factor: str | None = None
    instruments: tuple[str, ...] = ()
    """Ids of the gauges that reach it; none given: every one."""
    from_instrument: str | None = None
    """The micrometer that the gauge is set from, where it is no standard of its own."""


@dataclass(frozen=True, slots=True)
class Turning:
    """What torque (N·m) turns the assembly at a test, and by how much that varies."""

    test: str
    torque: float
    spread: float = 0.0
    each: float = 0.0
    """What every time adds, where the test is done after each of a part."""


@dataclass(frozen=True, slots=True)
class Zero:
    """Which gauge a zero check (by its operation) is of, and on which standard."""

    operation: str
    instrument: str
    standard: str


@dataclass(frozen=True, slots=True)
class Traced:
    """Which pulls of an operation (all of it, or one stage) are taken as traces, with what."""

    operation: str
    instrument: str
    stage: str | None = None


@dataclass(frozen=True, slots=True)
class Reach:
    """An offset extension that an operation's torque tool needs. Lengths in ``unit``."""

    operation: str
    instrument: str
    tool_length: str
    length: str
    angle: str = "0"
    unit: str = "mm"


@dataclass(frozen=True, slots=True)
class Remedy:
    """What the builder does about a result that holds the work.

    ``about`` is the id of an operation or derived quantity, as the hold's subject begins. With
    ``rework`` (a part's id) the piece is worked on and measured again: ``machines`` (a
    characteristic) changes by ``change`` mm. With ``fit`` the pieces of that clearance go where the
    service proposes, and with ``remeasure`` (the gauge knocked) the set is measured anew. Without
    any of them the result is accepted as a concession.
    """

    about: str
    reason: str
    number: int | None = None
    rework: str | None = None
    machines: str | None = None
    change: float = 0.0
    fit: bool = False
    remeasure: bool = False
    once: tuple[str, ...] = ()
    """Operations that must be done before it makes sense; it waits for them."""


MISTAKES = (
    "double-press",
    "wrong-unit",
    "wrong-cylinder",
    "wrong-part",
    "unset-gauge",
    "noise",
    "split",
    "merge",
    "stall",
    "vanish",
    "neighbour",
    "knocked-gauge",
    "hidden-leaf",
    "second-pull",
    "rough-pull",
    "extension-left-out",
    "overturned",
    "wrong-standard",
)


@dataclass(frozen=True, slots=True)
class Mistake:
    """One thing that goes wrong, once, at the first step it fits."""

    kind: str
    """One of MISTAKES."""
    about: str | None = None
    """Id of the operation or characteristic; None fits any."""
    number: int | None = None
    point: str | None = None
    measures: str | None = None
    """For ``wrong-part``: the characteristic that is really under the gauge. For ``overturned``:
    the length that a yielded fastener does not get back."""
    measures_number: int = 1
    """For ``wrong-part``, ``wrong-cylinder``, ``neighbour``: the number really under the gauge."""
    measures_point: str = ""
    standard: str | None = None
    """For ``wrong-standard``: the id of the one that is said, not set on."""
    pull: str = "jerky"
    """For ``rough-pull``: how it goes, one of ``waveforms.KINDS``."""
    change: float = 0.0
    """For ``knocked-gauge``: what its zero moves by, mm. For ``overturned``: degrees too far."""
    stretches: float = 0.0
    """For ``overturned``: how much longer ``measures`` of the fastener stays, mm."""

    def __post_init__(self) -> None:
        if self.kind not in MISTAKES:
            raise ScenarioError(
                f"There is no mistake '{self.kind}'. Use one of {', '.join(MISTAKES)}."
            )


@dataclass(frozen=True, slots=True)
class Assignment:
    """Which piece is fitted where."""

    part: str
    number: int
    piece: str


@dataclass(frozen=True, slots=True)
class Scenario:
    """A whole scenario."""

    name: str
    title: str
    spec: Path
    lot: str
    operator: str
    part_temperature: float
    gauge_temperature: float
    ports: tuple[PortPlan, ...]
    instruments: tuple[InstrumentPlan, ...]
    standards: tuple[Standard, ...]
    features: tuple[Feature, ...]
    turnings: tuple[Turning, ...]
    remedies: tuple[Remedy, ...]
    mistakes: tuple[Mistake, ...]
    assignments: tuple[Assignment, ...]
    zeros: tuple[Zero, ...]
    traced: tuple[Traced, ...]
    reaches: tuple[Reach, ...]

"""A build at a glance as plain values: what the build page and the build sheet are both made from.

Sizes are decimal text in the unit of their table. ``value`` has every digit, as the verdict in the
ledger has it; ``shown`` is rounded for reading, to one digit more than its uncertainty and limits
have. ``result`` is one of the four results of a verdict, or empty where nothing is there yet.
Lists that could grow without bound are ``Some``: the first of them, and how many more there are.
"""

from __future__ import annotations

from typing import Any, Generic, NamedTuple, TypeVar

from capture.inquiry.glance.beside import Confirmed, Fit, NotCounted, SetOn, Used, Zeroed

Data = dict[str, Any]
T = TypeVar("T")


class Some(NamedTuple, Generic[T]):
    """The first of many."""

    shown: tuple[T, ...]
    more: int = 0
    """How many are left out."""


class Most(NamedTuple):
    """How much is taken into a glance; what is beyond it is counted and left out."""

    rows: int = 64
    """Numbers in a table, lines in a list."""
    tables: int = 200
    """Parts, operations and derived quantities."""
    points: int = 24
    """Points of a characteristic."""
    traces: int = 200
    """Pulls that are looked at for a trace."""
    cells: int = 6_000
    """Cells of all tables together, about."""
    presses: int = 5_000
    """Readings of a build among which findings are still looked for."""


class Limited(NamedTuple):
    """Limits as text, those that follow from another size to six decimals; None is unlimited on
    that side."""

    lower: str | None
    upper: str | None


class Tally(NamedTuple):
    """How many there are of each."""

    conforming: int
    nonconforming: int
    undecided: int
    not_evaluated: int
    missing: int
    """Steps that nothing answers yet."""


class Taken(NamedTuple):
    """One reading that answers a step."""

    reading: int | None
    """Seq of its press; None for a confirmation."""
    entry: int
    """Seq of the entry that decided on it."""
    value: str
    shown: str
    bracket: tuple[str | None, str | None] | None
    """Between which two values it lies, where that is all that is known."""


class Cell(NamedTuple):
    """One point of one number: all of its repeats together."""

    point: str
    """Id of the point; of the stage of a fastener."""
    subject: str
    """``operation/number/point``: what concessions and holds name."""
    taken: tuple[Taken, ...]
    """Its repeats so far, in order."""
    wanted: int
    """How many repeats the spec asks for."""
    value: str | None
    """The mean of the repeats; of a single reading its own size."""
    shown: str | None
    result: str
    expanded: str | None
    """Expanded uncertainty as in the verdict."""
    coverage: str | None
    limits: Limited | None
    """None while what they follow from is not measured."""
    conceded: str | None
    """The reason it was accepted for."""
    follows: str | None
    """What its limits follow from, where that has changed since the verdict."""
    drift: str
    """What a zero check found over its set, where the gauge had drifted."""
    held: bool
    """It holds what comes after it."""


class Row(NamedTuple):
    """One number of a part."""

    number: int
    place: int
    """The number of its position."""
    piece: str | None
    pass_number: int
    limits: Limited | None
    """Of the whole row (they may follow from another size); None while they are not known."""
    cells: tuple[Cell, ...]
    preload: Data | None = None
    """Of a fastener: what its pull stands for, as ``GET /v1/builds/{id}/preloads``."""


class Spot(NamedTuple):
    """A column of a table: a point of a characteristic, or a stage of tightening."""

    id: str
    title: str
    """Of a stage; else the id."""
    depth: str = ""
    axis: str = ""
    unit: str = ""
    target: str | None = None
    limits: Limited | None = None


class Table(NamedTuple):
    """One operation that measures or tightens: numbers by points (or stages)."""

    operation: str
    subject: str
    """Id of the characteristic or fastener group."""
    kind: str
    """``measure`` or ``tighten``."""
    title: str
    part: str
    part_title: str
    position: str
    """What its numbers count."""
    unit: str
    """Of a characteristic; stages have their own."""
    nominal: str | None
    limits: Limited | None
    """What the spec states; None where they follow from another size (``follows``)."""
    follows: str | None
    repeats: int
    kinds: tuple[str, ...]
    """Kinds of instrument suited."""
    cautions: tuple[str, ...]
    spots: Some[Spot]
    rows: Some[Row]
    tally: Tally
    earlier: Some[Earlier]
    """What counted once, and does no more."""
    per: int = 1
    """How many of the part stand at each number of its position."""
    at_20_degrees: bool = False
    """Sizes were brought to 20 °C (ISO 1) by the temperature of the part."""
    order: tuple[int, ...] = ()
    """Of fasteners: the numbers in tightening order."""
    lubricant: str = ""
    into_yield: bool = False
    traces: tuple[Trace, ...] = ()


class Earlier(NamedTuple):
    """A reading that answered a step once: of an earlier pass, or superseded otherwise."""

    reading: int
    at: str
    step: str
    number: int
    point: str
    pass_number: int
    value: str
    shown: str
    """Of a bracket its two ends; an ellipsis for one that is not known."""
    unit: str
    result: str
    entry: int


class Trace(NamedTuple):
    """A torque trace behind a reading."""

    reading: int
    sha256: str
    number: int
    point: str
    result: str


class Derived(NamedTuple):
    """A derived quantity at every number of its part."""

    id: str
    title: str
    quantity: str
    unit: str
    part: str
    part_title: str
    position: str
    basis: str
    """Of a clearance: ``mean``, ``least`` or ``greatest``."""
    formula: str
    """As the spec has it; empty where it is none."""
    of: tuple[str, ...]
    limits: Limited
    target: str | None
    cautions: tuple[str, ...]
    rows: Some[DerivedRow]
    tally: Tally


class DerivedRow(NamedTuple):
    """A derived quantity at one number."""

    number: int
    value: str | None
    """None while a size it needs is missing."""
    shown: str | None
    result: str
    expanded: str | None
    coverage: str | None
    rule: str | None
    notes: tuple[str, ...]
    entry: int | None
    """Seq of the entry that computed it."""
    readings: tuple[int, ...]
    """The readings it rests on."""
    conceded: str | None
    held: bool
    points: tuple[tuple[str, str], ...]
    """Of a clearance: (point of the outer part, clearance there)."""


class Turned(NamedTuple):
    """A turning test, in the order in which the assembly grew."""

    operation: str
    title: str
    part: str | None
    position: str
    """Empty where it is done once."""
    number: int
    unit: str
    limits: Limited
    cell: Cell
    trace: Trace | None
    cautions: tuple[str, ...]


class Missing(NamedTuple):
    """An operation that is not complete."""

    operation: str
    kind: str
    title: str
    left: int
    total: int
    open: bool
    waits_for: tuple[str, ...]
    """Operations that must be complete first."""
    steps: Some[str]
    """Ids of the steps that nothing answers."""


class Placed(NamedTuple):
    """One number of a part: everything about it in one word."""

    number: int
    piece: str | None
    result: str
    """The worst of its results, derived ones too; empty where it has none."""
    missing: int
    conceded: int
    held: bool
    passes: int
    """How often it was measured: the highest pass of its operations."""


class PartLine(NamedTuple):
    """A part of the engine and all of its numbers."""

    part: str
    title: str
    position: str
    how_many: int
    tally: Tally
    numbers: Some[Placed]


class Glance(NamedTuple):
    """A build as it stood when the ledger had ``size`` entries."""

    size: int
    as_of: str
    """When the last of those entries was made (UTC)."""
    state: Data
    """As ``GET /v1/builds/{id}``."""
    spec: Data
    """As ``GET /v1/specs/{id}``."""
    simulated: int
    """Readings that count and come from simulated instruments."""
    typed: int | None
    """Readings that count and were typed in; None where the build is too large to look."""
    counted: int
    """Readings that count."""
    parts: Some[PartLine]
    sizes: Some[Table]
    derived: Some[Derived]
    fasteners: Some[Table]
    turning: Some[Turned]
    confirmed: Some[Confirmed]
    missing: Some[Missing]
    fits: tuple[Fit, ...]
    checks: tuple[Data, ...]
    """Tool checks, as ``GET /v1/builds/{id}/checks/{id}``, with ``presses``: the readings they
    rest on, in the order of work."""
    studies: tuple[Data, ...]
    """Gauge studies, as ``GET /v1/builds/{id}/studies/{id}``, with ``presses`` likewise."""
    findings: tuple[Data, ...] | None
    """As ``GET /v1/builds/{id}/findings``; None where the build is too large to look (``Most``)."""
    not_shown: tuple[Data, ...]
    """What no data can show, and the practice that guards it."""
    story: Some[Data]
    """As ``GET /v1/builds/{id}/story``."""
    not_counted: Some[NotCounted]
    zeros: Some[Zeroed]
    sets: Some[SetOn]
    instruments: Some[Used]

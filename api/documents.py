"""What answers look like, for the OpenAPI document only: nothing is validated with these at run
time, where answers are made of bytes the ledger has. A contract test holds the two together.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field, JsonValue

Seq = Annotated[int, Field(ge=1, description="Ledger sequence number.")]
Size = Annotated[int, Field(ge=0, description="Entries in the ledger: the seq of the last one.")]
Decimal = Annotated[
    str, Field(pattern=r"^-?[0-9]+(\.[0-9]+)?$", description="Decimal text, digits as they are.")
]
Moment = Annotated[str, Field(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:]{8}\.[0-9]{6}Z$")]
Hex = Annotated[str, Field(pattern=r"^([0-9a-f]{2})*$")]
Result = Literal["conforming", "nonconforming", "undecided", "not_evaluated"]
StepKind = Literal["measure", "confirm", "tighten", "turn"]


DeviceWord = Literal["closed", "opening", "ready", "lagging", "lost", "faulted"]


class ProblemItem(BaseModel):
    key: str
    message: str
    mend: str
    file: str = ""
    line: int = 0


class Problem(BaseModel):
    """An error (RFC 9457)."""

    type: str
    title: str
    status: Annotated[int, Field(ge=400, le=599)]
    detail: str
    mend: str = ""
    errors: list[ProblemItem] = []


class Condition(BaseModel):
    state: Literal["storing", "not_storing", "unknown"]
    detail: str
    held: Annotated[int, Field(ge=0, description="Presses in memory, not yet on disk.")]
    since: Moment | None


class Health(BaseModel):
    status: Literal["ready", "not_storing", "unknown"]
    bench: str
    title: str
    boot: Annotated[int, Field(ge=1)]
    size: Size
    version: str
    simulated: bool
    condition: Condition


class Recorded(BaseModel):
    """The entry's body, with where and when it was recorded. What else it holds depends on its
    kind."""

    seq: Seq
    at: Moment
    operator: str | None


class SpecSummary(BaseModel):
    id: Annotated[str, Field(pattern="^[0-9a-f]{64}$", description="SHA-256 of the bytes.")]
    name: str
    title: str
    revision: str
    invented: bool
    notice: str
    cautions: list[str]
    seq: Seq


class Specs(BaseModel):
    specs: list[SpecSummary]


class BuildCard(BaseModel):
    id: str
    seq: Seq
    title: str
    spec: str
    opened_at: Moment
    active: bool
    closed: bool


class Builds(BaseModel):
    builds: list[BuildCard]


class OperationState(BaseModel):
    id: str
    kind: StepKind
    title: str
    done: int
    total: int
    open: bool
    complete: bool
    after: list[str]


class Verdict(BaseModel):
    """Limits, rule and uncertainty it was made with. One that was not evaluated says why."""

    result: Result
    measured: Decimal | None = None
    unit: str | None = None
    lower: Decimal | None = None
    upper: Decimal | None = None
    expanded_uncertainty: Decimal | None = None
    coverage_factor: Decimal | None = None
    rule: Literal["simple", "guarded", "iso14253"] | None = None
    notes: list[str] = []
    because: str | None = None


class DerivedResult(BaseModel):
    id: str
    number: Annotated[int, Field(ge=1)]
    verdict: Verdict


class Hold(BaseModel):
    """A result that must be settled before what needs it can go on."""

    subject: str
    operations: list[str]
    holds_up: list[str]
    title: str
    result: Result
    number: int
    parts: list[str]
    reading: Seq | None


class Conceded(BaseModel):
    subject: str
    reason: str


class Piece(BaseModel):
    part: str
    number: int
    piece: str


class BuildState(BuildCard):
    state: Literal["open", "done", "closed"]
    invented: bool
    notice: str
    steps_done: int
    steps_total: int
    results: dict[Result, int]
    operations: list[OperationState]
    derived: list[DerivedResult]
    holds: list[Hold]
    concessions: list[Conceded]
    pieces: list[Piece]
    cautions: list[str]


class StepState(BaseModel):
    id: str
    kind: StepKind
    operation: str
    characteristic: str
    part: str | None
    number: int
    point: str
    repeat: int
    done: bool
    open: bool
    reading: Seq | None
    entry: Seq | None
    result: Result | None


class Steps(BaseModel):
    steps: list[StepState]


class NextStep(BaseModel):
    id: str
    kind: StepKind
    operation: str
    characteristic: str
    part: str | None
    number: int
    piece: str | None
    point: str
    repeat: int
    title: str
    text: str | None
    instruments: list[str]
    unit: str | None
    nominal_size: Decimal | None
    lower: Decimal | None
    upper: Decimal | None
    cautions: list[str]


class Next(BaseModel):
    build: str
    step: NextStep | None
    waiting: list[Hold]
    steps_done: int
    steps_total: int
    done: bool


class Objection(BaseModel):
    """Why a reading is not placed, with the numbers that the rule looked at."""

    code: str
    detail: str


class PlacementState(BaseModel):
    """The step a reading answers; or the reason why it answers none."""

    build: str | None
    step: str | None = None
    characteristic: str | None = None
    part: str | None = None
    number: int | None = None
    piece: str | None = None
    point: str | None = None
    repeat: int | None = None
    reason: Objection | None = None


class Corrected(BaseModel):
    digits: Decimal
    unit: str


class Reading(BaseModel):
    seq: Seq
    instrument: str
    received_at: Moment
    raw: Hex
    value: Decimal
    unit: str
    flags: list[str]
    simulated: bool
    typed: bool
    late: str | None
    operator: str | None
    corrected: Corrected | None
    placement: PlacementState
    verdict: Verdict
    derived: list[DerivedResult]
    decided_by: Literal["rule", "person"]
    because: str | None
    decision_seq: Seq


class Waiting(Reading):
    """A reading that waits for a person, with whether the next step could be what it answers."""

    placeable: bool


class Readings(BaseModel):
    readings: list[Reading]
    next: Size


class Entry(BaseModel):
    """A ledger entry in canonical JSON (RFC 8785)."""

    v: Literal[1]
    bench: str
    boot: Annotated[int, Field(ge=1)]
    seq: Seq
    kind: str
    at: Moment
    mono: Annotated[str, Field(pattern="^[0-9]+$")]
    operator: str | None
    body: dict[str, JsonValue]


class Entries(BaseModel):
    entries: list[Entry]
    next: Size


class Device(BaseModel):
    instrument: str
    state: DeviceWord
    detail: str
    at: Moment


class Calibration(BaseModel):
    certificate: str
    due: Annotated[str, Field(pattern="^[0-9]{4}-[0-9]{2}-[0-9]{2}$")]
    expanded_uncertainty: Decimal
    coverage_factor: Decimal


class InstrumentState(BaseModel):
    id: str
    kind: str
    unit: str
    resolution: Decimal
    port: str
    profile: str
    channel: str | None
    comparative: bool
    simulated: bool
    calibration: Calibration | None
    seq: Seq
    state: DeviceWord | None = None
    device: Device | None = None


class Instruments(BaseModel):
    instruments: list[InstrumentState]


class Asked(BaseModel):
    instrument: str
    asked: Literal[True]


class BenchState(BaseModel):
    title: str
    bench: str
    size: Size
    simulated: bool
    known: bool
    operator: str | None
    build: BuildState | None
    next: Next | None
    last: Reading | None
    unplaced: list[Waiting]
    older: Annotated[int, Field(ge=0, description="How many more wait, of the last 5000 entries.")]
    instruments: list[InstrumentState]
    devices: list[Device]
    condition: Condition


class Inclusion(BaseModel):
    seq: Seq
    leaf_index: Annotated[int, Field(ge=0)]
    tree_size: Seq
    leaf_hash: Hex
    root_hash: Hex
    inclusion_path: list[Hex]
    entry: str


class Consistency(BaseModel):
    first: Seq
    second: Seq
    first_root: Hex
    second_root: Hex
    consistency_path: list[Hex]

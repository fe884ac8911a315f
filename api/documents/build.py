"""Specs, builds and their steps."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from api.documents.common import Decimal, DerivedResult, Moment, Result, Seq, StepKind


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


class HoldPlace(BaseModel):
    part: str
    number: Annotated[int, Field(ge=1)]


class Hold(BaseModel):
    """A result that must be settled before what needs it can go on."""

    subject: str
    operations: list[str]
    holds_up: list[str]
    title: str
    result: Result
    number: int
    parts: list[str]
    places: Annotated[
        list[HoldPlace], Field(description="The pieces it rests on: what can be reworked.")
    ]
    drift: Annotated[bool, Field(description="A gauge's zero had moved over its set.")]
    follows: Annotated[
        str | None, Field(description="What its limits follow from, where that has changed since.")
    ]
    reading: Seq | None


class Conceded(BaseModel):
    subject: str
    reason: str


class Piece(BaseModel):
    part: str
    number: int
    piece: str


class OpenSet(BaseModel):
    """Readings of a comparative gauge that no closing zero check has looked at."""

    instrument: str
    opened: Seq
    readings: Annotated[int, Field(ge=1)]


class Counts(BaseModel):
    """Results that count now, told apart by what they are about. Superseded ones are in none."""

    readings: dict[Result, int]
    """Sizes, pulls and turning torques: a result for each reading."""
    derived: dict[Result, int]
    """Quantities that were computed from them."""
    gauge_checks: dict[Result, int]
    """Readings of zero checks, tool checks and gauge studies."""


class BuildState(BuildCard):
    state: Literal["open", "done", "closed"]
    invented: bool
    notice: str
    steps_done: int
    steps_total: int
    results: dict[Result, int]
    counts: Counts
    operations: list[OperationState]
    derived: list[DerivedResult]
    holds: list[Hold]
    concessions: list[Conceded]
    pieces: list[Piece]
    open_sets: list[OpenSet]
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
    target: Decimal | None
    stage: str | None
    bracketed: Annotated[bool, Field(description="Answered between two values, or may be.")]
    tool_settings: Annotated[
        dict[str, Decimal], Field(description="Of tools with an extension: what to set.")
    ]
    cautions: list[str]


class Next(BaseModel):
    build: str
    step: NextStep | None
    waiting: list[Hold]
    steps_done: int
    steps_total: int
    done: bool

"""Readings, where they were placed, and what came with them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from api.documents.common import Decimal, DerivedResult, Hex, Moment, Seq, Size, Verdict


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


class Between(BaseModel):
    """Between which two values, and the leaves it was found with."""

    lower: Decimal | None
    upper: Decimal | None
    leaves: list[Decimal]
    beside: Annotated[list[Decimal | None], Field(min_length=2, max_length=2)] | None


class PullFound(BaseModel):
    """What the trace of a pull shows, in sentences too."""

    kind: Literal["pull"]
    click: Decimal | None
    peak: Decimal
    rise_seconds: Decimal | None
    angle: Decimal | None
    codes: list[str]
    sentences: list[str]


class TurningFound(BaseModel):
    """What the trace of a turning test shows, in sentences too."""

    kind: Literal["turning"]
    breakaway: Decimal | None
    running: Decimal | None
    least: Decimal | None
    most: Decimal | None
    ripple: Decimal | None
    turns: Decimal | None
    codes: list[str]
    sentences: list[str]


class Incomplete(BaseModel):
    """Why samples of a pull are missing; such a reading waits for a person."""

    why: str
    missing: Annotated[int | None, Field(description="Samples; null: not known how many.")]


class TraceOf(BaseModel):
    """The trace that a reading was made of: GET /v1/traces/{sha256}."""

    sha256: Hex
    samples: Annotated[int, Field(ge=1)]
    found: PullFound | TurningFound
    interval_us: Annotated[
        int | None, Field(description="From sample to sample, where a device streamed them.")
    ] = None
    incomplete: Incomplete | None = None


class ZeroFound(BaseModel):
    """What a zero check found: against the one before, how far the zero has moved."""

    deviation: Decimal
    opening: Decimal
    drift: Decimal
    unit: str
    expanded_uncertainty: Decimal | None
    steady: Annotated[bool | None, Field(description="Null: no uncertainty is established.")]
    opened: Seq
    presses: Annotated[list[Seq], Field(description="Readings marked by a drift.")]
    readings: int


class Drift(BaseModel):
    """Why a reading is marked: the zero moved over its set."""

    drift: Decimal
    unit: str
    expanded_uncertainty: Decimal
    zero: Annotated[Seq, Field(description="The zero check that found it.")]


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
    decided_by: Literal["rule", "person", "zero"]
    because: str | None
    decision_seq: Seq
    bracket: Between | None = None
    trace: TraceOf | None = None
    zero: ZeroFound | None = None
    drift: Drift | None = None


class Waiting(Reading):
    """A reading that waits for a person, with whether the next step could be what it answers."""

    placeable: bool


class Readings(BaseModel):
    readings: list[Reading]
    next: Size

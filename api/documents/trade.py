"""What is computed over a build: fits, studies, checks, preloads, findings, and its story."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, Field, JsonValue

from api.documents.common import Decimal, Hex, Moment, Seq

Percent = Annotated[float | None, Field(description="Percent.")]


class FitPair(BaseModel):
    """A piece at a number, and what honing would do there."""

    number: Annotated[int, Field(ge=1)]
    piece: str
    clearance: Decimal
    within: bool
    hone: Decimal
    hone_to: Decimal | None
    hone_says: str


class Misfit(BaseModel):
    """A part that fits none of the others as they are."""

    part: str
    nearest: str | None
    clearance: Decimal | None
    off: Decimal | None


class FitProposal(BaseModel):
    """Which piece best goes where. Send ``order`` (or ``changes``) back to accept it."""

    build: str
    derived: str
    title: str
    unit: str
    lower: Decimal | None
    upper: Decimal | None
    target: Decimal
    order: Annotated[dict[str, str], Field(description="Number → piece.")]
    changes: dict[str, str]
    pairs: list[FitPair]
    worst_miss: Decimal
    total_miss: Decimal
    complete: Annotated[bool, Field(description="Every clearance can be in the band at once.")]
    cannot_fit: list[Misfit]
    unmeasured: list[str]


class StudyState(BaseModel):
    """A gauge study so far; ``result`` once every reading is in, in the form of the calculation
    ``gauge-study``."""

    study: str
    title: str
    readings: Annotated[int, Field(ge=0)]
    wanted: int
    complete: bool
    result: dict[str, JsonValue] | None


class Done(BaseModel):
    done: int
    wanted: int


class CheckPoint(BaseModel):
    setting: Decimal
    readings: list[Decimal]
    deviations_percent: list[Decimal]
    within: list[bool]
    spread_percent: Decimal
    complete: bool


class CheckState(BaseModel):
    """A torque tool against a reference, so far."""

    check: str
    title: str
    tool: str
    unit: str
    permissible_deviation_percent: Decimal
    preloads: Done
    conforming: Annotated[bool | None, Field(description="Null while readings are wanted.")]
    worst_percent: Decimal | None
    repeatability_percent: Percent
    expanded_uncertainty_percent: Percent
    points: list[CheckPoint]


class Ends(BaseModel):
    value: Decimal
    lower: Decimal | None
    upper: Decimal | None


class Preload(BaseModel):
    """An estimate, with its scatter."""

    fastener: str
    number: Annotated[int, Field(ge=1)]
    stage: str
    lubricant: str
    method: str
    preload_newton: Decimal
    lower_newton: Decimal | None
    upper_newton: Decimal | None
    scatter: str
    share_of_proof: Ends | None
    stretch_mm: Ends | None
    cautions: list[str]


class Preloads(BaseModel):
    preloads: list[Preload]


class Finding(BaseModel):
    """Something worth a look. It holds nothing."""

    code: str
    subject: str
    detail: str
    numbers: dict[str, str]


class NotShown(BaseModel):
    """A mistake that no data can show, and the practice that guards against it."""

    mistake: str
    why: str
    practice: str


class Findings(BaseModel):
    findings: list[Finding]
    not_shown: list[NotShown]


class PointClearance(BaseModel):
    point: str
    value: Decimal


class ClearancesOf(BaseModel):
    id: str
    number: Annotated[int, Field(ge=1)]
    unit: str
    points: list[PointClearance]


class Clearances(BaseModel):
    clearances: list[ClearancesOf]


class Told(BaseModel):
    """Something that happened beside the measuring. What else it holds depends on its kind."""

    seq: Seq
    at: Moment
    operator: str | None
    kind: str


class Story(BaseModel):
    story: list[Told]


class BudgetLine(BaseModel):
    name: str
    standard_uncertainty: float
    expanded_uncertainty: float
    share: Annotated[float, Field(ge=0, description="Of the combined variance.")]
    degrees_of_freedom: float | None


class ReadingBudget(BaseModel):
    """The uncertainty of one reading, the largest line first."""

    reading: Seq
    step: str
    unit: str
    established: bool
    lines: list[BudgetLine]
    standard_uncertainty: float | None = None
    degrees_of_freedom: float | None = None
    coverage_factor: Decimal | None = None
    expanded_uncertainty: Decimal | None = None


class TraceSamples(BaseModel):
    """A torque trace, digits as sent."""

    sha256: Hex
    unit: str
    seconds: list[Decimal]
    torque: list[Decimal]
    angle: list[Decimal] | None


class CalculationState(BaseModel):
    name: str
    sentence: str
    input: Annotated[dict[str, JsonValue], Field(description="JSON schema of the input.")]
    example: dict[str, JsonValue]


class Calculations(BaseModel):
    calculations: list[CalculationState]


class Calculated(BaseModel):
    """A calculation's answer. Sizes are decimal text, statistics JSON numbers."""

    calculation: str
    unit: Annotated[str | None, Field(description="Of what names no other.")]
    method: str
    result: dict[str, JsonValue]
    cautions: list[str]

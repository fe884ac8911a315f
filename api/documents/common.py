"""What documents share: how numbers and moments are written, problems, what was recorded."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field

Seq = Annotated[int, Field(ge=1, description="Ledger sequence number.")]
Size = Annotated[int, Field(ge=0, description="Entries in the ledger: the seq of the last one.")]
Decimal = Annotated[
    str, Field(pattern=r"^-?[0-9]+(\.[0-9]+)?$", description="Decimal text, digits as they are.")
]
Moment = Annotated[str, Field(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:]{8}\.[0-9]{6}Z$")]
Hex = Annotated[str, Field(pattern=r"^([0-9a-f]{2})*$")]
Result = Literal["conforming", "nonconforming", "undecided", "not_evaluated"]
StepKind = Literal["measure", "confirm", "tighten", "turn", "zero", "study", "check"]
DeviceWord = Literal[
    "closed",
    "opening",
    "scanning",
    "connecting",
    "ready",
    "lagging",
    "silent",
    "lost",
    "faulted",
]


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


class Recorded(BaseModel):
    """The entry's body, with where and when it was recorded. What else it holds depends on its
    kind."""

    seq: Seq
    at: Moment
    operator: str | None


class Verdict(BaseModel):
    """Limits, rule and uncertainty it was made with. One that was not evaluated says why; one at
    20 °C holds the size as it was and what was added."""

    result: Result
    measured: Decimal | None = None
    unit: str | None = None
    lower: Decimal | None = None
    upper: Decimal | None = None
    expanded_uncertainty: Decimal | None = None
    coverage_factor: Decimal | None = None
    rule: Literal["simple", "guarded", "iso14253"] | None = None
    guard_band: Decimal | None = None
    notes: list[str] = []
    because: str | None = None
    bracket: Annotated[list[Decimal | None], Field(min_length=2, max_length=2)] | None = None
    uncorrected: Decimal | None = None
    correction: Decimal | None = None


class DerivedResult(BaseModel):
    id: str
    number: Annotated[int, Field(ge=1)]
    verdict: Verdict

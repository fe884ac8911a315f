"""What is known over years: the life of an instrument, control charts over builds."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field, JsonValue

from api.documents.bench import Calibration, InstrumentState
from api.documents.common import Decimal, Hex, Moment, Result, Seq
from api.documents.reading import Reading
from api.documents.trade import CheckState, StudyState

Count = Annotated[int, Field(ge=0)]
FormWord = Literal["individuals", "mean-and-range", "mean-and-deviation"]
SignalWord = Literal["beyond", "side", "trend"]


class Standing(BaseModel):
    """Whether a calibration is in force. ``soon``: due within 30 days."""

    state: Literal["none", "unknown", "valid", "soon", "overdue"]
    days: Annotated[int | None, Field(description="Left; below zero where it is overdue.")]


class ShelfInstrument(InstrumentState):
    on_bench: Annotated[bool, Field(description="It is in bench.toml.")]
    standing: Standing
    last: Reading | None


class Certified(BaseModel):
    """A certificate, from when it was on record to when another took its place."""

    seq: Seq
    at: Moment
    until: Moment | None
    calibration: Calibration | None
    unit: str


class Moved(BaseModel):
    name: str
    before: str | None
    after: str | None


class Change(BaseModel):
    """What changed in an instrument's record, beside its calibration."""

    seq: Seq
    at: Moment
    changed: list[Moved]


class Said(BaseModel):
    seq: Seq
    at: Moment
    operator: str | None


class SetOn(Said):
    standard: str
    size: Decimal
    unit: str
    expanded_uncertainty: Decimal | None
    coverage_factor: Decimal | None
    from_instrument: str | None


class ZeroCheck(Said):
    """A zero check, in the instrument's unit where it converts; ``seq`` is its decision."""

    reading: Seq
    deviation: Decimal
    opening: Decimal
    drift: Decimal
    expanded_uncertainty: Decimal | None
    unit: str
    steady: bool | None
    opened: Seq
    readings: Count
    build: str | None


class WarmthSaid(Said):
    value: Decimal
    unit: str
    expanded_uncertainty: Decimal | None
    coverage_factor: Decimal | None


class ExtensionSaid(Said):
    tool_length: Decimal
    length: Decimal
    angle: Decimal
    unit: str


class Trouble(BaseModel):
    """Bytes that make no reading; ``gap``: presses may be missing here."""

    seq: Seq
    at: Moment
    code: str
    detail: str
    raw: Hex


class NotCounted(BaseModel):
    reason: str
    count: Count


class CheckCount(BaseModel):
    kind: Literal["zero", "study", "check"]
    count: Count


class Counts(BaseModel):
    of_last: Count
    results: dict[Result, Count]
    checks: list[CheckCount]
    not_counted: list[NotCounted]


class GaugeVariation(BaseModel):
    """Repeatability and reproducibility."""

    standard_deviation: Decimal
    percent_of_tolerance: Decimal | None


class StudyTaken(StudyState):
    build: str
    unit: str
    gauge: GaugeVariation | None


class CheckTaken(CheckState):
    build: str
    role: Literal["tool", "reference"]


class InstrumentLife(BaseModel):
    """Every list oldest first: the newest ``most`` of each. Studies and checks are those of the
    newest ``builds`` builds."""

    instrument: ShelfInstrument
    as_of: str
    most: Count
    builds: Count
    calibrations: list[Certified]
    changes: list[Change]
    settings: list[SetOn]
    zero_checks: list[ZeroCheck]
    temperatures: list[WarmthSaid]
    extensions: list[ExtensionSaid]
    trouble: list[Trouble]
    readings: Counts
    studies: list[StudyTaken]
    checks: list[CheckTaken]


class ChartedValue(BaseModel):
    """A value of a build, and where it comes from; several readings where it is their mean."""

    name: str
    value: Decimal
    readings: list[Seq]
    entry: Seq


class ChartedBuild(BaseModel):
    build: str
    title: str
    opened_at: Moment
    revision: str
    mean: Decimal
    spread: Annotated[
        Decimal | None,
        Field(description="Range, standard deviation, or range to the build before."),
    ]
    values: list[ChartedValue]
    signals: list[SignalWord]
    spread_signals: list[SignalWord]


class ChartCard(BaseModel):
    """A chart in the list. ``lower`` and ``upper`` are control limits."""

    quantity: str
    title: str
    sort: Literal["characteristic", "derived", "turning"]
    unit: str
    form: FormWord
    builds: Count
    limits_computed: bool
    trial: bool
    signals: Count
    newest: ChartedBuild
    means: list[Decimal]
    stands_out: Annotated[
        list[Count], Field(description="Which of the means stand out, or their scatter; from 1.")
    ]
    lower: Decimal | None
    upper: Decimal | None


class SpecCharts(BaseModel):
    """The charts of specs of one name."""

    name: str
    title: str
    builds: Count
    older_builds: bool
    charts: list[ChartCard]


class Charts(BaseModel):
    specs: list[SpecCharts]
    older_builds: bool


class ControlLines(BaseModel):
    """Computed from the builds shown; nothing to do with limits of size."""

    centre: Decimal
    lower: Decimal
    upper: Decimal


class SizeLimits(BaseModel):
    """What the spec wants, by its revisions."""

    lower: Decimal | None
    upper: Decimal | None
    unit: str
    revisions: list[str]


class LeftOut(BaseModel):
    build: str
    title: str
    why: Literal["unfinished", "other-size", "other-unit", "other-limits"]


class ChartState(BaseModel):
    """A control chart over builds, oldest first."""

    spec: Annotated[dict[str, JsonValue], Field(description="Its name and title.")]
    quantity: str
    title: str
    sort: Literal["characteristic", "derived", "turning"]
    unit: str
    position: str
    together: Annotated[
        Literal["one", "sisters", "points"],
        Field(description="What the values of one build are."),
    ]
    size: Annotated[int, Field(ge=1, description="Values of a build on this chart.")]
    points_each: Annotated[int, Field(ge=1)]
    form: FormWord
    forms: list[FormWord]
    trial: Annotated[bool, Field(description="Fewer than ``trial_below`` builds.")]
    control: Annotated[ControlLines | None, Field(description="Null below ``least`` builds.")]
    spread_control: ControlLines | None
    standard_deviation: Decimal | None
    size_limits: Annotated[list[SizeLimits], Field(description="Newest first.")]
    follows: Annotated[str | None, Field(description="The size that limits of size follow from.")]
    chance: Annotated[
        Decimal | None,
        Field(description="Of means as far apart, by the scatter inside builds; 0.000001 or less."),
    ]
    builds_differ: bool
    points: list[ChartedBuild]
    left_out: list[LeftOut]
    newest_only: Annotated[int | None, Field(description="Where there are older builds.")]
    least: Count
    trial_below: Count
    row: Annotated[int, Field(description="Points in a row that stand out.")]

"""The bench, its store and its instruments."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from api.documents.build import BuildState, Next
from api.documents.common import Decimal, DeviceWord, Moment, Seq, Size
from api.documents.reading import Between, Corrected, PlacementState, Reading, Waiting


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


class Device(BaseModel):
    instrument: str
    state: DeviceWord
    detail: str
    at: Moment
    since: Moment | None = Field(
        default=None,
        description="When this began; a lost port's tries to open it again begin nothing new.",
    )
    battery: Annotated[int, Field(ge=0, le=100, description="Percent, where it tells.")] | None = (
        None
    )
    low_battery: bool = Field(default=False, description="Its battery is to be changed now.")


class PedalPress(BaseModel):
    """What a press came to."""

    result: Literal["done", "nothing", "failed"]
    detail: str
    seq: Seq | None
    at: Moment


class PedalState(BaseModel):
    """A foot pedal, as ``pedal`` events tell it too."""

    pedal: str
    does: Literal["send", "confirm", "void"]
    instrument: str | None
    state: DeviceWord
    detail: str
    at: Moment
    press: PedalPress | None


class OperatorState(BaseModel):
    """Somebody who works at this bench."""

    name: str
    badge: Annotated[str, Field(description="What a scan of the badge types.")] | None


class BadgeScan(BaseModel):
    """What a scan came to."""

    result: Literal["done", "nothing", "unknown", "failed"]
    detail: str
    badge: str | None
    operator: str | None
    seq: Seq | None
    at: Moment


class BadgeReaderState(BaseModel):
    """A badge reader, as ``badge`` events tell it too."""

    reader: str
    state: DeviceWord
    detail: str
    at: Moment
    scan: BadgeScan | None


class Operators(BaseModel):
    operator: str | None
    operators: list[OperatorState]
    badge_readers: list[BadgeReaderState]


class Calibration(BaseModel):
    certificate: str
    due: Annotated[str, Field(pattern="^[0-9]{4}-[0-9]{2}-[0-9]{2}$")]
    expanded_uncertainty: Decimal
    coverage_factor: Decimal


class Warmth(BaseModel):
    celsius: Decimal
    at: Moment
    seq: Seq


class Extended(BaseModel):
    """The extension on a torque tool."""

    tool_length: Decimal
    length: Decimal
    angle: Decimal
    unit: str
    seq: Seq


class GaugeSet(BaseModel):
    """The readings of a comparative gauge since it was last on its standard."""

    opened: Seq
    readings: int
    closed: bool


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
    leaves: list[Decimal] | None = None
    expansion: Decimal | None = None
    repeatability: Decimal | None = None
    drift: Decimal | None = None
    seq: Seq
    temperature: Warmth | None
    extension: Extended | None
    set: GaugeSet | None
    zero_due: bool
    state: DeviceWord | None = None
    device: Device | None = None


class Instruments(BaseModel):
    instruments: list[InstrumentState]


class Asked(BaseModel):
    instrument: str
    asked: Literal[True]


class Latest(BaseModel):
    """An instrument's latest reading, as far as it is among the recent ones."""

    seq: Seq
    instrument: str
    received_at: Moment
    value: Decimal
    unit: str
    corrected: Corrected | None
    placement: PlacementState
    bracket: Between | None


class BenchState(BaseModel):
    title: str
    bench: str
    size: Size
    at: Annotated[Moment, Field(description="The service's clock now.")]
    simulated: bool
    known: bool
    operator: str | None
    build: BuildState | None
    next: Next | None
    last: Reading | None
    latest: list[Latest]
    unplaced: list[Waiting]
    older: Annotated[int, Field(ge=0, description="How many more wait, of the last 5000 entries.")]
    instruments: list[InstrumentState]
    devices: list[Device]
    pedals: list[PedalState]
    operators: list[OperatorState]
    badge_readers: list[BadgeReaderState]
    askable: Annotated[list[str], Field(description="Instruments that can be asked for a reading.")]
    condition: Condition

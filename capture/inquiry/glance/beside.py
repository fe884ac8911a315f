"""What stands in a glance beside the sizes: who confirmed what, how the gauges were checked, set
and recorded, which piece went where, what was not counted. See ``shape`` for the words."""

from __future__ import annotations

from typing import Any, NamedTuple

Data = dict[str, Any]


class Confirmed(NamedTuple):
    """What a person confirmed, or has yet to."""

    operation: str
    title: str
    text: str
    part: str | None
    number: int
    entry: int | None
    at: str | None
    operator: str | None
    note: str | None
    cautions: tuple[str, ...] = ()


class Zeroed(NamedTuple):
    """A zero check that answers a step of the build."""

    reading: int
    at: str
    instrument: str
    step: str
    deviation: str
    drift: str
    unit: str
    expanded: str | None
    steady: bool | None
    """None where no uncertainty is established."""
    readings: int
    """How many readings the set has that it closes."""
    counts: bool
    """False where the set was measured again since."""


class Used(NamedTuple):
    """An instrument as it was recorded when readings of this build were taken with it."""

    entry: int
    instrument: Data
    """As ``GET /v1/instruments``: id, kind, resolution, calibration…"""
    readings: int
    first: str
    last: str
    """When its first and last reading of this build were taken (UTC)."""
    overdue: bool
    """Its calibration was past its date at the last of them."""


class SetOn(NamedTuple):
    """What a comparative gauge was set on for readings of this build."""

    entry: int
    instrument: str
    standard: str
    size: str
    unit: str
    expanded: str | None
    coverage: str | None
    at: str
    readings: int


class NotCounted(NamedTuple):
    """A reading that was placed on the build and answers nothing."""

    reading: int
    at: str
    code: str
    detail: str
    by_person: bool
    entry: int


class Fit(NamedTuple):
    """Which piece the sizes propose where, beside what stands there."""

    derived: str
    title: str
    unit: str
    target: str | None
    """The clearance wanted; None is the middle of the band."""
    proposal: Data | None
    """As ``GET /v1/builds/{id}/fits/{clearance}``; None where there is none (``why``)."""
    why: str
    pairs: tuple[Pair, ...]
    made: tuple[Data, ...]
    """The fits that were accepted, as the story tells them, oldest first."""


class Pair(NamedTuple):
    """One number of a fit."""

    number: int
    stands: str
    """The piece that stands there."""
    clearance: str | None
    """As it stands, rounded."""
    result: str
    proposed: str | None
    proposed_clearance: str | None
    same: bool
    hone: str

"""What a person asks the bench to record. Each becomes one or more new entries, never a change.

``key`` and ``operator`` travel beside a command, not in it: see ``capture.pipeline``. Named tuples,
because so many frozen dataclasses take more than ten milliseconds of every start to make.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any, NamedTuple


class AddSpec(NamedTuple):
    """Record a spec's bytes. ``text`` is the file's text; ``file`` names it in errors."""

    text: str
    file: str


class OpenBuild(NamedTuple):
    """Open a build on a spec (by hash) and make it the active one."""

    spec: str
    title: str


class ActivateBuild(NamedTuple):
    """Make another open build the active one."""

    build: str


class CloseBuild(NamedTuple):
    """No further reading is placed on this build."""

    build: str
    reason: str


class ChooseStep(NamedTuple):
    """Work on this open step next; None goes back to the order of work."""

    build: str
    step: str | None


class Confirm(NamedTuple):
    """A person confirms what a confirmation step asks."""

    build: str
    step: str
    note: str


class Assign(NamedTuple):
    """Join a piece (this very piston) to a position (piston 3)."""

    build: str
    part: str
    number: int
    piece: str


class Rework(NamedTuple):
    """The piece at this position is worked on again: its steps, and what rests on them, reopen."""

    build: str
    part: str
    number: int
    reason: str


class Concede(NamedTuple):
    """Accept a nonconforming or undecided result with a reason. ``subject`` is a step's id, or
    ``derived-id/number``."""

    build: str
    subject: str
    reason: str


class Scrap(NamedTuple):
    """Reject the piece at this position; its steps reopen for another piece."""

    build: str
    part: str
    number: int
    reason: str


class TypeReading(NamedTuple):
    """A reading typed in by hand."""

    instrument: str
    digits: str
    unit: str


class TypeBracket(NamedTuple):
    """A size known only between two values: the largest leaf that goes and the smallest that does
    not; the last setting that clicked without turning and the first that turned. Decimal text."""

    instrument: str
    unit: str
    lower: str | None
    upper: str | None
    leaves: tuple[str, ...]
    """Of a feeler set: the leaf, or the stacked leaves, that go."""
    beside: tuple[str | None, str | None] | None
    """The leaves seen on either side of it; None at an end of the set."""


class RecordPull(NamedTuple):
    """A torque trace: one pull, sample by sample. Made by ``capture.pulls``."""

    instrument: str
    unit: str
    digits: str
    """The torque it stands for."""
    digest: str
    """SHA-256 (hex) of the trace's uncompressed bytes."""
    samples: int
    found: dict[str, Any]
    """What the trace shows: strings, nulls and lists of strings."""
    blob: bytes
    """The trace as it is stored."""


class Place(NamedTuple):
    """A person says which step a stored reading answers. ``press`` is the reading's seq."""

    press: int
    build: str
    step: str
    reason: str


class Correct(NamedTuple):
    """A person corrects the value or unit of a stored reading; the original stays."""

    press: int
    digits: str
    unit: str | None
    reason: str


class Void(NamedTuple):
    """A person takes a stored reading out of the count, with a reason."""

    press: int
    reason: str


class SetGauge(NamedTuple):
    """A comparative gauge was set on a standard of this size; its deviations refer to it."""

    instrument: str
    standard: str
    size: Decimal
    unit: str
    expanded_uncertainty: Decimal | None
    coverage_factor: Decimal | None
    from_instrument: str | None = None
    """The instrument it was set from (a micrometer), where it was not a standard of its own."""


class ExpectZero(NamedTuple):
    """The next press of a comparative gauge is its zero check: it lies on its standard."""

    instrument: str


class RecordTemperature(NamedTuple):
    """How warm an instrument's scale, or what it was set on, is."""

    instrument: str
    value: Decimal
    unit: str
    expanded_uncertainty: Decimal | None
    coverage_factor: Decimal | None


class FitExtension(NamedTuple):
    """An offset extension of this length and angle is on a torque tool; length 0: none is."""

    instrument: str
    tool_length: Decimal
    length: Decimal
    angle: Decimal
    unit: str


class AcceptFit(NamedTuple):
    """Pieces of the inner part of a clearance go to these numbers: (number, piece) of each that
    is named."""

    build: str
    derived: str
    order: tuple[tuple[int, str], ...]


class Remeasure(NamedTuple):
    """The set of readings that this zero check closed is measured again, gauge set anew: the check
    that answers ``step``, or an announced one, by the seq of its reading."""

    build: str
    step: str | None
    reason: str
    reading: int | None = None


class SetOperator(NamedTuple):
    """Who is at the bench from now on; goes into every entry that names nobody else."""

    operator: str


Command = (
    AddSpec
    | OpenBuild
    | ActivateBuild
    | CloseBuild
    | ChooseStep
    | Confirm
    | Assign
    | Rework
    | Concede
    | Scrap
    | TypeReading
    | TypeBracket
    | RecordPull
    | Place
    | Correct
    | Void
    | SetGauge
    | ExpectZero
    | RecordTemperature
    | FitExtension
    | AcceptFit
    | Remeasure
    | SetOperator
)

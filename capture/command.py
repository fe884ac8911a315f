"""What a person asks the bench to record. Each becomes one or more new entries, never a change.

``key`` and ``operator`` travel beside a command, not in it: see ``capture.pipeline``.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class AddSpec:
    """Record a spec's bytes. ``text`` is the file's text; ``file`` names it in errors."""

    text: str
    file: str


@dataclass(frozen=True, slots=True)
class OpenBuild:
    """Open a build on a spec (by hash) and make it the active one."""

    spec: str
    title: str


@dataclass(frozen=True, slots=True)
class ActivateBuild:
    """Make another open build the active one."""

    build: str


@dataclass(frozen=True, slots=True)
class CloseBuild:
    """No further reading is placed on this build."""

    build: str
    reason: str


@dataclass(frozen=True, slots=True)
class ChooseStep:
    """Work on this open step next; None goes back to the order of work."""

    build: str
    step: str | None


@dataclass(frozen=True, slots=True)
class Confirm:
    """A person confirms what a confirmation step asks."""

    build: str
    step: str
    note: str


@dataclass(frozen=True, slots=True)
class Assign:
    """Join a piece (this very piston) to a position (piston 3)."""

    build: str
    part: str
    number: int
    piece: str


@dataclass(frozen=True, slots=True)
class Rework:
    """The piece at this position is worked on again: its steps, and what rests on them, reopen."""

    build: str
    part: str
    number: int
    reason: str


@dataclass(frozen=True, slots=True)
class Concede:
    """Accept a nonconforming or undecided result with a reason. ``subject`` is a step's id, or
    ``derived-id/number``."""

    build: str
    subject: str
    reason: str


@dataclass(frozen=True, slots=True)
class Scrap:
    """Reject the piece at this position; its steps reopen for another piece."""

    build: str
    part: str
    number: int
    reason: str


@dataclass(frozen=True, slots=True)
class TypeReading:
    """A reading typed in by hand."""

    instrument: str
    digits: str
    unit: str


@dataclass(frozen=True, slots=True)
class Place:
    """A person says which step a stored reading answers. ``press`` is the reading's seq."""

    press: int
    build: str
    step: str
    reason: str


@dataclass(frozen=True, slots=True)
class Correct:
    """A person corrects the value or unit of a stored reading; the original stays."""

    press: int
    digits: str
    unit: str | None
    reason: str


@dataclass(frozen=True, slots=True)
class Void:
    """A person takes a stored reading out of the count, with a reason."""

    press: int
    reason: str


@dataclass(frozen=True, slots=True)
class SetGauge:
    """A comparative gauge was set on a standard of this size; its deviations refer to it."""

    instrument: str
    standard: str
    size: Decimal
    unit: str
    expanded_uncertainty: Decimal | None
    coverage_factor: Decimal | None


@dataclass(frozen=True, slots=True)
class SetOperator:
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
    | Place
    | Correct
    | Void
    | SetGauge
    | SetOperator
)

"""What every command needs: what it becomes, what it may look up, and the checks they share."""

from __future__ import annotations

from typing import Any, NamedTuple, Protocol

from capture.build import Build
from capture.desk import Desk
from capture.entry import Envelope, Kind
from capture.errors import Conflict, NotFound, RequestError
from capture.step import Step


class Lookup(Protocol):
    """What is on disk already."""

    def entry(self, seq: int) -> Envelope | None:
        """An entry by seq."""
        ...

    def decision(self, press: int) -> Envelope | None:
        """The newest decision on a press."""
        ...


class Draft(NamedTuple):
    """An entry about to be written."""

    kind: Kind
    body: dict[str, Any]
    press: Envelope | None = None
    """For a decision: the press it is on."""


class Known(NamedTuple):
    """Nothing to write: an entry with this seq says it already."""

    seq: int


def open_build(desk: Desk, build_id: str) -> Build:
    build = desk.build(build_id)
    if build.closed:
        raise Conflict(f"Build {build_id} is closed.", mend="Open a new build.")
    return build


def step_of(build: Build, step_id: str) -> Step:
    at = build.index.get(step_id)
    if at is None:
        raise NotFound(
            f"Build {build.id} has no step {step_id}.",
            mend=f"List its steps: GET /v1/builds/{build.id}/steps.",
        )
    return build.steps[at]


def reason_of(text: str) -> str:
    if not text.strip():
        raise RequestError("A reason is needed.", mend="Say why in a few words.")
    return text.strip()


def digits_of(text: str) -> str:
    """Decimal text as typed, in the form readings have. Raises RequestError."""
    cleaned = text.strip().lstrip("+").replace("−", "-")
    whole, point, decimals = cleaned.lstrip("-").partition(".")
    if (
        not (whole + decimals).isascii()
        or not (whole + decimals).isdigit()
        or len(cleaned) > 40
        or (point and not decimals)
        or cleaned.startswith("--")
    ):
        raise RequestError(
            f"{text!r} is not a decimal number.", mend="Write it as digits, for example 25.400."
        )
    sign = "-" if cleaned.startswith("-") else ""
    return f"{sign}{whole.lstrip('0') or '0'}{point}{decimals}"

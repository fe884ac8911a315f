"""The envelope of every ledger entry, fixed from the first day: it can never be rewritten.

``{"v": 1, "bench", "boot", "seq", "kind", "at", "mono", "operator", "body"}``: every value a
string, integer, boolean, null, list or object with ASCII keys; written as RFC 8785 canonical JSON.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Any

from capture.reading import Stamp

VERSION = 1

RULES_VERSION = "3"
"""Of the rules of placement and decision: goes up whenever the same press could be decided
otherwise than before. Every start and every decision says by which rules it was made."""

Envelope = dict[str, Any]
"""An entry as a dict; ``Any`` because its body's shape depends on its kind."""


class Kind(StrEnum):
    """What an entry records."""

    BOOT = "boot"
    """The service started: its version, the bench's public key. Begins a new monotonic clock."""
    BENCH = "bench"
    """The bench's display name."""
    PROFILE = "profile"
    """A profile's text, verbatim."""
    INSTRUMENT = "instrument"
    """An instrument with its calibration; supersedes the earlier record of the same id."""
    SPEC = "spec"
    """A spec's text, verbatim; its hash is the SHA-256 of the text's UTF-8 bytes."""
    OPERATOR = "operator"
    """Who is at the bench from here on."""
    BUILD = "build"
    """A build was opened on a spec; its id is ``b`` and this entry's seq."""
    ACTIVATE = "activate"
    CLOSE = "close"
    CHOOSE = "choose"
    CONFIRMATION = "confirmation"
    ASSIGN = "assign"
    REWORK = "rework"
    CONCESSION = "concession"
    SCRAP = "scrap"
    SETTING = "setting"
    """A comparative gauge was set on a standard."""
    ZERO_DUE = "zero_due"
    """The next press of a comparative gauge is its zero check on the standard."""
    TEMPERATURE = "temperature"
    """How warm an instrument is: its scale, or what it was set on."""
    EXTENSION = "extension"
    """An offset extension was put on a torque tool, or taken off."""
    FIT = "fit"
    """Pieces were moved to the positions that a select fit proposes, or a person chose."""
    REMEASURE = "remeasure"
    """A set of readings whose gauge had drifted is opened again."""
    PRESS = "press"
    """What one press sent. Its rule decision is always the next entry."""
    DECISION = "decision"
    """Placement and verdict of a press, or the reason there is none; the newest one counts."""
    UNDECODABLE = "undecodable"
    """Bytes that make no reading."""


def envelope(
    bench: str, boot: int, seq: int, kind: Kind, stamp: Stamp, operator: str | None, body: Envelope
) -> Envelope:
    """An entry ready to be written."""
    return {
        "v": VERSION,
        "bench": bench,
        "boot": boot,
        "seq": seq,
        "kind": kind._value_,
        "at": stamp.at,
        "mono": str(stamp.mono),
        "operator": operator,
        "body": body,
    }

"""The tree of errors.

::

    CaptureError
    ├── TransportError       a port or radio could not be opened, or was lost
    │   └── PortGone         it vanished; it may come back under another name
    ├── FramingError         bytes that do not make a message (code, frame)
    ├── DecodingError        a message that does not make a reading (code, frame)
    ├── UnitError            a unit nobody here knows, or of another dimension
    ├── BenchError           bench.toml or a profile is wrong (all problems at once)
    ├── SpecError            a spec is wrong (all problems at once)
    ├── RequestError         a request that cannot be carried out as it stands
    │   ├── NotFound         it names something that does not exist
    │   └── Conflict         it contradicts what is already there
    ├── NotCanonical         (capture.ledger.canonical) a value no entry may hold
    ├── NoteError            (capture.ledger.note) text that is no signed note, or not signed
    └── StoreError           the ledger's disk side
        ├── StoreInUse       another service holds this store
        ├── StoreDamaged     what is on disk contradicts itself or a checkpoint
        ├── NotStored        the write failed and nothing of it is on disk
        └── OutcomeUnknown   the sync failed: it may or may not be on disk

``FramingError`` and ``DecodingError`` mean that the device misbehaved; ``RequestError`` that the
caller did; ``TransportError`` and ``NotStored`` are worth trying again, the others are not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class CaptureError(Exception):
    """Root of every error raised on purpose here. ``str(error)`` is fit for a person to read."""


class TransportError(CaptureError):
    """A port or radio could not be opened, or was lost. Worth trying again."""

    def __init__(self, message: str, *, port: str = "", mend: str = "") -> None:
        super().__init__(message)
        self.port = port
        self.mend = mend


class PortGone(TransportError):
    """The port vanished while open; it may come back, perhaps under another name."""


class WireError(CaptureError):
    """Bytes from a device that make no reading; ``code`` is a short word, ``frame`` the bytes."""

    def __init__(self, code: str, message: str, frame: bytes = b"") -> None:
        super().__init__(message)
        self.code = code
        self.frame = frame


class FramingError(WireError):
    """Bytes that do not make a message: noise, too long, wrong check."""


class DecodingError(WireError):
    """A whole message that does not make a reading: no number in it, unknown flag."""


class UnitError(CaptureError):
    """A unit nobody here knows, or two units of different dimensions."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a file: where it is and how to mend it."""

    file: str
    line: int
    key: str
    message: str
    mend: str

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else self.file
        return f"{where}: {self.key}: {self.message} Mend: {self.mend}"


class FileError(CaptureError):
    """A file a user wrote is wrong; carries every problem found, not only the first."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = tuple(problems)


class BenchError(FileError):
    """bench.toml or an instrument profile is wrong."""


class SpecError(FileError):
    """A spec is wrong."""


class RequestError(CaptureError):
    """A request that cannot be carried out as it stands; ``mend`` says what would work."""

    def __init__(self, message: str, *, mend: str = "") -> None:
        super().__init__(message)
        self.mend = mend


class NotFound(RequestError):
    """The request names something that does not exist."""


class Conflict(RequestError):
    """The request contradicts what is already there."""


class StoreError(CaptureError):
    """The ledger's disk side failed."""


class StoreInUse(StoreError):
    """Another service holds this store."""


class StoreDamaged(StoreError):
    """What is on disk contradicts itself or a signed checkpoint."""


class NotStored(StoreError):
    """The write failed and nothing of it is on disk. Worth trying again."""


class OutcomeUnknown(StoreError):
    """A sync failed: what was being written may or may not be on disk until it is looked at."""

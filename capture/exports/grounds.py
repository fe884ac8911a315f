"""What a reading rests on: the spec of its build, the record of its instrument."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple, Protocol

from capture.archive import Archive
from capture.entry import Kind
from capture.errors import SpecError
from capture.spec.load import load
from capture.spec.model import Spec


class Record(NamedTuple):
    """An instrument as it was recorded when a reading was taken."""

    seq: int
    body: dict[str, Any]


class Grounds(Protocol):
    """What an export may look up beside the readings."""

    @property
    def bench(self) -> str:
        """The bench's id."""
        ...

    def spec_of(self, build: str) -> Spec | None:
        """The spec a build is on; None where it is not there or is not read any more."""
        ...

    def record_of(self, seq: int) -> Record | None:
        """The instrument of the press with this seq, as it was recorded at that time."""
        ...


class Kept:
    """The grounds in a store. It remembers some of what it looked up, never all."""

    def __init__(self, archive: Archive) -> None:
        self._archive = archive
        self._spec = lru_cache(maxsize=32)(self._read)
        self._digest = lru_cache(maxsize=1024)(self._spec_of_build)
        self._record = lru_cache(maxsize=1024)(self._instrument)

    @property
    def bench(self) -> str:
        first = self._archive.envelope(1)
        return "" if first is None else str(first["bench"])

    def spec_of(self, build: str) -> Spec | None:
        digest = self._digest(build)
        return None if digest is None else self._spec(digest)

    def record_of(self, seq: int) -> Record | None:
        press = self._archive.envelope(seq)
        named = None if press is None else press["body"].get("record")
        return None if named is None else self._record(named)

    def _spec_of_build(self, build: str) -> str | None:
        opened = self._archive.envelope(int(build[1:])) if build[1:].isdecimal() else None
        if opened is None or opened["kind"] != Kind.BUILD:
            return None
        return str(opened["body"]["spec"])

    def _read(self, digest: str) -> Spec | None:
        text = self._archive.spec_text(digest)
        try:
            return None if text is None else load(text.encode(), digest)
        except SpecError:
            return None

    def _instrument(self, seq: int) -> Record | None:
        entry = self._archive.envelope(seq)
        return None if entry is None else Record(seq, entry["body"])

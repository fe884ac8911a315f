"""Parts of a document that can be written only after what follows them is known.

QIF says how many there are before the first of them, and what is measured before the measurements;
so each section waits, packed, in a file of its own that vanishes with it.
"""

from __future__ import annotations

import tempfile
import zlib
from collections.abc import Iterator
from types import TracebackType
from typing import Final

SIZE: Final = 65_536


class Spool:
    """Texts in order, on disk."""

    def __init__(self) -> None:
        self._file = tempfile.TemporaryFile()  # noqa: SIM115 (closed by ``close``)
        self._pack = zlib.compressobj(1)
        self.count = 0

    def __enter__(self) -> Spool:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()

    def add(self, item: str) -> None:
        """One more text at the end."""
        self._file.write(self._pack.compress(item.encode()))
        self.count += 1

    def chunks(self) -> Iterator[bytes]:
        """All of it, in UTF-8. Once, and nothing can be added after."""
        self._file.write(self._pack.flush())
        self._file.seek(0)
        unpack = zlib.decompressobj()
        while packed := self._file.read(SIZE):
            while unpacked := unpack.decompress(packed, SIZE):
                yield unpacked
                packed = unpack.unconsumed_tail

"""Text whose bytes still hold a parity bit.

::

    on the wire   B2 35 AE 35 8D          even parity left in the eighth bit
    cut as        32 35 2E 35 0D          "25.5" CR

The message's bytes are those of the wire; only where it begins and ends, and its check, are found
in seven bits.
"""

from __future__ import annotations

from collections.abc import Sequence

from drivers.framing.frame import Fault, Framer, Item

_SEVEN = bytes(byte & 0x7F for byte in range(256))


class SevenBitFramer(Framer):
    """Lets another framer cut the bytes without their eighth bit."""

    def __init__(self, inner: Framer, dropped: Sequence[bytes] = ()) -> None:
        """``dropped``: what ``inner`` drops without a word: terminators after nothing."""
        super().__init__(limit=0, patience=0)
        self._inner = inner
        self._dropped = tuple(mark.translate(_SEVEN) for mark in dropped)
        self._wire = b""

    def feed(self, chunk: bytes, now: int) -> list[Item]:
        """See ``Framer.feed``."""
        self._wire += chunk
        return self._as_sent(self._inner.feed(chunk.translate(_SEVEN), now))

    @property
    def due(self) -> int | None:
        """See ``Framer.due``."""
        return self._inner.due

    def drain(self) -> list[Item]:
        """See ``Framer.drain``."""
        items = self._as_sent(self._inner.drain())
        self._wire = b""
        return items

    def _as_sent(self, items: list[Item]) -> list[Item]:
        """The items with the bytes of the wire. Every byte comes in one of them, in order, save
        the terminators that were dropped; no item begins with one."""
        found: list[Item] = []
        at = 0
        for item in items:
            raw = item.raw if isinstance(item, Fault) else item
            at = self._past_dropped(at)
            wire = self._wire[at : at + len(raw)]
            found.append(item._replace(raw=wire) if isinstance(item, Fault) else wire)
            at += len(raw)
        at = self._past_dropped(at) if self._inner.due is None else at
        self._wire = self._wire[at:]
        return found

    def _past_dropped(self, at: int) -> int:
        while self._dropped:
            ahead = self._wire[at : at + max(map(len, self._dropped))].translate(_SEVEN)
            mark = next((mark for mark in self._dropped if ahead.startswith(mark)), None)
            if mark is None:
                break
            at += len(mark)
        return at

    def _cut(self, data: bytes, at: int) -> tuple[Item | None, int]:
        raise NotImplementedError("the inner framer cuts")

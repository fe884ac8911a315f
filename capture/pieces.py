"""Which piece (this very piston) stands at which position (piston 3 of the engine)."""

from __future__ import annotations

from capture.spec.model import Part


class Pieces:
    """Pieces by position. A position nobody named a piece for has one with a name of our own."""

    def __init__(self, parts: dict[str, Part]) -> None:
        self._parts = parts
        self.named: dict[tuple[str, int], str] = {}
        """(part, number) → piece, where one was assigned."""
        self.scrapped: set[tuple[str, str]] = set()
        """(part, piece)"""
        self._used: set[tuple[str, str]] = set()
        """(part, piece) of every piece that ever stood somewhere under a name."""

    def at(self, part: str | None, number: int) -> str | None:
        """The piece at a position; None for a step that is about no part."""
        if part is None:
            return None
        return self.named.get((part, number)) or f"{part}-{number}"

    def where(self, part: str, piece: str) -> int | None:
        """The number at which a piece stands, if it does."""
        for number in range(1, self._parts[part].count + 1):
            if self.at(part, number) == piece:
                return number
        return None

    def put(self, part: str, number: int, piece: str) -> None:
        before = self.at(part, number)
        assert before is not None
        self._used |= {(part, before), (part, piece)}
        self.named[part, number] = piece

    def scrap(self, part: str, number: int) -> None:
        """The piece is rejected; a nameless successor takes its place."""
        old = self.at(part, number)
        assert old is not None
        self.scrapped.add((part, old))
        live = {(part, self.at(part, one)) for one in range(1, self._parts[part].count + 1)}
        count = 2
        while (part, f"{part}-{number}.{count}") in self._used | self.scrapped | live:
            count += 1
        self.put(part, number, f"{part}-{number}.{count}")

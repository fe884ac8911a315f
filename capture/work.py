"""One operation's progress through its steps, and what holds it."""

from __future__ import annotations

from capture.spec.model import Operation


class Work:
    """The slice of a build's steps that is one operation's own, and how far it is."""

    __slots__ = (
        "_changed", "_own", "cursor", "filled", "holds", "left", "operation", "start", "stop",
    )  # fmt: skip

    def __init__(self, operation: Operation, start: int, places: list[int]) -> None:
        """``places``: the place (number of its position) of each step, in order."""
        self.operation = operation
        self.start = start
        self.stop = start + len(places)
        self.cursor = start
        self.filled = 0
        self.holds: dict[str, int] = {}
        """Subject of an unsettled result → the place it is at."""
        self._changed = 0
        self._own: dict[int, int] = {}
        self.left: dict[int, int] | None = None
        """In a round: how many steps are unanswered at each place."""
        if operation.round:
            self.left = dict.fromkeys(places, 0)
            for place in places:
                self.left[place] += 1

    @property
    def total(self) -> int:
        return self.stop - self.start

    @property
    def answered(self) -> bool:
        return self.filled == self.stop - self.start

    @property
    def complete(self) -> bool:
        return self.answered and not self.holds

    def complete_at(self, place: int) -> bool:
        """Whether nothing is left or held there; in a round only."""
        assert self.left is not None
        return not self.left.get(place, 0) and place not in self.holds.values()

    def count(self, number: int, place: int, by: int) -> None:
        """One more (``by`` = 1) or one less (−1) of its steps at this number is answered."""
        self.filled += by
        self._changed += 1
        self._own[number] = self._own.get(number, 0) + 1
        if self.left is not None:
            self.left[place] -= by

    def changed_beside(self, number: int) -> int:
        """A count that goes up whenever a step of another number than this changes."""
        return self._changed - self._own.get(number, 0)

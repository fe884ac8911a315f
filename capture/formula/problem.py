"""What is wrong with a formula, and where in its text."""

from __future__ import annotations


class FormulaError(ValueError):
    """A formula that will not do: ``at`` is the place in its text, from 0."""

    def __init__(self, at: int, message: str, mend: str) -> None:
        super().__init__(message)
        self.at = at
        self.message = message
        self.mend = mend

"""How a sheet says what several of its sections say: moments, limits, verdicts, places."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from api.labels.catalogue import Labels
from api.placed import Places, readable
from api.sheet.blocks import Result, Text
from capture.inquiry.glance.shape import Limited, Some
from capture.quantity import text
from capture.spec.model import Spec

Bracket = tuple[str | None, str | None]
MANY = 6
"""Decimals of a limit from which on it was computed, and is rounded: nobody states so many."""
FEW = 4
"""Decimals that such limits are shown with."""


class Say:
    """The words of one language, about one spec."""

    def __init__(self, labels: Labels, spec: Spec) -> None:
        self.labels = labels
        self.text = labels.text
        self.named = labels.named
        self._places = Places(spec)

    def moment(self, at: str) -> str:
        """As the record has it, to the second."""
        return f"{at[:10]} {at[11:19]} UTC"

    def limits(self, limited: Limited | None, unit: str) -> str:
        """Limits in words; what they follow from may not be known yet."""
        if limited is None:
            return self.text("sheet.limits_not_known")
        lower, upper = _short(limited)
        unit = self.unit(unit)
        if lower is not None and upper is not None:
            return self.text("common.from_to", lower=lower, upper=upper, unit=unit).strip()
        if lower is not None:
            return self.text("common.at_least", limit=lower, unit=unit).strip()
        if upper is not None:
            return self.text("common.at_most", limit=upper, unit=unit).strip()
        return self.text("common.no_limits")

    def limits_of(self, verdict: dict[str, Any]) -> str:
        """The limits that a verdict in the ledger was made with."""
        return self.limits(Limited(verdict["lower"], verdict["upper"]), verdict["unit"])

    def unit(self, unit: str) -> str:
        """A ratio has none to show."""
        return "" if unit == "1" else unit

    def of_unit(self, name: str, unit: str) -> str:
        """The head of a column of values."""
        return f"{name}, {unit}" if self.unit(unit) else name

    def between(self, bracket: Bracket, unit: str = "") -> str:
        """Where a bracketed size lies."""
        lower, upper = bracket
        if lower is None:
            return self.text("sheet.below", upper=upper, unit=unit).strip()
        if upper is None:
            return self.text("sheet.or_more", lower=lower, unit=unit).strip()
        return self.text("common.from_to", lower=lower, upper=upper, unit=unit).strip()

    def result(self, word: str, conceded: str | None = None) -> Result:
        """A verdict; one that was accepted by concession says so."""
        if not word:
            return Result("", self.text("sheet.missing"))
        said = self.named("common.verdict", word)
        return Result(word, self.text("sheet.conceded", verdict=said) if conceded else said)

    def gauge(self, kind: str) -> str:
        """A kind of instrument."""
        return self.named("sheet.gauge", kind)

    def readable(self, word: str) -> str:
        """A word of the spec, without its hyphens."""
        return readable(word)

    def place(self, part: str | None, number: int) -> str:
        """One of a part: ``Cylinder 3``."""
        return self._places.part(part, number)

    def where(self, subject: str) -> str:
        """What a step, an operation or a quantity is called, and where it is."""
        return self._places.of(subject)

    def about(self, *words: str) -> str:
        """Several things that hold for a whole table, in one line."""
        return " · ".join(word for word in words if word)

    def seqs(self, seqs: Iterable[int]) -> str:
        """Entries of the ledger; several in a row as their first and last."""
        runs: list[list[int]] = []
        for seq in seqs:
            if runs and seq == runs[-1][-1] + 1:
                runs[-1].append(seq)
            else:
                runs.append([seq])
        return ", ".join(
            f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs
        )

    def more(self, *lists: Some[Any]) -> tuple[Text, ...]:
        """What is to be said where something was left out."""
        left = sum(one.more for one in lists)
        return (Text(self.text("sheet.more", count=left)),) if left else ()

    def notes(self, found: Iterable[tuple[str, str]], rows: int) -> tuple[str, ...]:
        """(row, note) of single rows, like notes together; one that all of several rows have is
        said once for all."""
        by_note: dict[str, list[str]] = {}
        for row, note in found:
            by_note.setdefault(note, []).append(row)
        return tuple(
            note if len(names) == rows > 1 else f"{_some(names)}: {note}" if _some(names) else note
            for note, names in by_note.items()
        )


def _some(names: list[str]) -> str:
    return ", ".join(dict.fromkeys(name for name in names if name))


def _short(limited: Limited) -> Limited:
    """As they are stated; where one was computed, both rounded alike."""
    stated = all(one is None or len(one.partition(".")[2]) <= FEW for one in limited)
    longest = max((len(one.partition(".")[2]) for one in limited if one is not None), default=0)
    if stated or longest < MANY:
        return limited
    return Limited(*(None if one is None else _rounded(one) for one in limited))


def _rounded(limit: str) -> str:
    stated = len(limit.partition(".")[2]) <= FEW
    return limit if stated else f"≈ {text(Decimal(limit), FEW)}"

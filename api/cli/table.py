"""Plain data for a person to read: names with their values, lists of alike objects as tables."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

Data = dict[str, Any]
MOST_ROWS = 200
MOST_LISTED = 12
LONGEST_WORD = 24


def readable(answer: Data) -> str:
    """A calculation's answer: its unit and method, the result, and what to beware of."""
    head = {name: answer[name] for name in ("calculation", "unit", "method") if answer[name]}
    lines = [*_object(head, 0), "", *_object(answer["result"], 0)]
    for caution in answer["cautions"]:
        lines += ["", f"! {caution}"]
    return "\n".join(lines)


def _object(data: Data, depth: int) -> Iterator[str]:
    """Single values first, each in a line; what holds more below, under its name."""
    margin = "  " * depth
    single = {name: value for name, value in data.items() if _is_single(value)}
    width = max((len(_words(name)) for name in single), default=0)
    for name, value in single.items():
        yield f"{margin}{_words(name):<{width}}  {_said(value)}".rstrip()
    alike = _alike({name: value for name, value in data.items() if name not in single})
    if alike:
        yield from _table([{"": _words(name), **data[name]} for name in alike], depth)
    for name, value in data.items():
        if name not in single and name not in alike:
            yield f"{margin}{_words(name)}:"
            yield from _inside(value, depth + 1)


def _alike(data: Data) -> list[str]:
    """Names of objects that hold the same single values, where there are several: a table."""
    first = next((value for value in data.values() if isinstance(value, dict)), {})
    found = [
        name
        for name, value in data.items()
        if isinstance(value, dict)
        and value.keys() == first.keys()
        and all(map(_is_single, value.values()))
    ]
    return found if len(found) > 1 else []


def _inside(value: Any, depth: int) -> Iterator[str]:
    if isinstance(value, dict):
        yield from _object(value, depth)
    elif all(isinstance(one, dict) and all(map(_is_single, one.values())) for one in value):
        yield from _table(value, depth)
    else:
        for one in value[:MOST_ROWS]:
            if _is_single(one):
                yield f"{'  ' * depth}{_said(one)}"
            else:
                yield from _inside(one, depth)
                yield ""


def _table(rows: list[Data], depth: int) -> Iterator[str]:
    names = list(dict.fromkeys(name for row in rows for name in row))
    cells = [[_words(name) for name in names]]
    cells += [[_said(row.get(name)) for name in names] for row in rows[:MOST_ROWS]]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    for row in cells:
        padded = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield f"{'  ' * depth}{'  '.join(padded)}".rstrip()
    if len(rows) > MOST_ROWS:
        yield f"{'  ' * depth}… and {len(rows) - MOST_ROWS} more (--json gives them all)"


def _is_single(value: Any) -> bool:
    """A value, or a list of them that stands well in one line."""
    if isinstance(value, list):
        return all(not isinstance(one, dict | list | str) or _is_word(one) for one in value)
    return not isinstance(value, dict) or not value


def _is_word(one: Any) -> bool:
    return isinstance(one, str) and len(one) <= LONGEST_WORD


def _words(name: str) -> str:
    return name.replace("_", " ")


def _said(value: Any) -> str:
    if value is None or value in ([], {}):
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.7g}"
    if isinstance(value, list):
        more = f" … ({len(value)})" if len(value) > MOST_LISTED else ""
        return ", ".join(_said(one) for one in value[:MOST_LISTED]) + more
    return str(value)

"""The forms that text in a request may have to take, and what is said where it does not."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

WRITTEN = r"\S"
"""Something, not only blanks."""
DIGITS = r"^[+-]?[0-9]+(\.[0-9]+)?$"
SIZE = r"^[0-9]+(\.[0-9]+)?$"
SPEC_ID = r"^[0-9a-f]{64}$"

NUMBER_MEND = 'Write the number as text with a decimal point, digits as read: "25.400".'
WORDS_MEND = "Write some text here."
_OF_FORM: dict[str, tuple[str, str]] = {
    WRITTEN: ("Nothing is written here but blanks.", WORDS_MEND),
    DIGITS: ("This is no decimal number.", NUMBER_MEND),
    SIZE: ("This is no decimal number without a sign.", NUMBER_MEND),
    SPEC_ID: (
        "This is no id of a spec, which is 64 hexadecimal digits (SHA-256 of its bytes).",
        "Take the id from GET /v1/specs, or from the answer to POST /v1/specs.",
    ),
}
_NUMBERS = frozenset({"value", "size", "expanded_uncertainty", "coverage_factor"})
"""Fields that hold a number as text."""


def explain(error: Mapping[str, Any]) -> tuple[str, str]:
    """(what is wrong, how to mend it) for one validation error of pydantic's or our own."""
    kind, message = error["type"], str(error["msg"])
    limits: Mapping[str, Any] = error.get("ctx", {})
    field = error["loc"][-1] if error["loc"] else ""
    if kind == "string_pattern_mismatch" and limits.get("pattern") in _OF_FORM:
        return _OF_FORM[limits["pattern"]]
    if kind == "string_type" and field in _NUMBERS:
        return "The number is not given as text.", NUMBER_MEND
    if kind == "string_too_short":
        return "Nothing is written here.", WORDS_MEND
    return message, _mend(kind, limits)


def _mend(kind: str, limits: Mapping[str, Any]) -> str:
    if kind in _MENDS:
        return _MENDS[kind]
    if kind in _COUNTED:
        words, name = _COUNTED[kind]
        return f"{words} {limits[name]}."
    if kind == "literal_error":
        return f"Write {limits['expected']}."
    for name, words in _BOUNDS.items():
        if name in limits:
            return f"{words} {limits[name]}."
    return "See the description at /openapi.json."


_MENDS = {
    "missing": "Add it.",
    "extra_forbidden": "Leave it out, or look for a typing mistake in its name.",
    "json_invalid": "Send one JSON object.",
    "model_type": "Send one JSON object.",
    "string_type": 'Send text, in quotes; numbers too, digits as read: "25.400".',
    "list_type": "Send a list, in square brackets.",
    "dict_type": "Send an object, in curly brackets.",
    "bool_type": "Send true or false, without quotes.",
    "int_type": "Send a whole number, without quotes.",
    "int_parsing": "Give a whole number.",
    "int_parsing_size": "Give a smaller number.",
    "seq": "Take the seq from GET /v1/readings or GET /v1/entries.",
}
_COUNTED = {
    "too_short": ("Give at least", "min_length"),
    "too_long": ("Give at most", "max_length"),
}
"""Of lists and objects."""
_BOUNDS = {
    "ge": "Give at least",
    "le": "Give at most",
    "max_length": "Shorten it; the most characters it may have is",
}

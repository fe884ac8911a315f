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
        "Take the id from a list: GET /v1/specs, or /specs in a browser.",
    ),
}
_NUMBERS = frozenset({"value", "size", "expanded_uncertainty", "coverage_factor"})
"""Fields that hold a number as text."""


SAID = "said"
"""Kind of an error whose message and mend (in its context) stand as they are."""


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
    if kind == "extra_forbidden" and error["loc"][:1] == ("query",):
        return (
            f"This address takes no “{field}” behind its question mark.",
            "Leave it out, or look for a typing mistake in its name.",
        )
    if kind == SAID:
        return message, str(limits["mend"])
    return _said(kind, limits) or message, _mend(kind, limits)


def _said(kind: str, limits: Mapping[str, Any]) -> str | None:
    """What is wrong, in plain words; None for what has none here."""
    if kind == "json_invalid":
        return f"This is no JSON: {limits['error']}."
    words = _WORDS.get(kind)
    return None if words is None else words.format(**limits)


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


_WORDS = {
    "missing": "This is missing.",
    "extra_forbidden": "There is no such key here.",
    "model_type": "This is no JSON object.",
    "model_attributes_type": "This is no JSON object.",
    "string_type": "This is not text.",
    "string_too_long": "This is too long.",
    "string_pattern_mismatch": "This is not written in the form it has to have.",
    "list_type": "This is no list.",
    "dict_type": "This is no JSON object.",
    "bool_type": "This is neither true nor false.",
    "bool_parsing": "This is neither true nor false.",
    "int_type": "This is no whole number.",
    "int_from_float": "This is no whole number.",
    "int_parsing": "This is no whole number.",
    "int_parsing_size": "This number is too large.",
    "literal_error": "This is none of the words that may stand here.",
    "too_short": "Too few are given: {actual_length}.",
    "too_long": "Too many are given.",
    "greater_than": "This number is too small.",
    "greater_than_equal": "This number is too small.",
    "less_than": "This number is too large.",
    "less_than_equal": "This number is too large.",
}
"""What is said for each kind of pydantic's errors, whose own words are a program's."""
_MENDS = {
    "missing": "Add it.",
    "extra_forbidden": "Leave it out, or look for a typing mistake in its name.",
    "json_invalid": "Send one JSON object.",
    "model_type": "Send one JSON object.",
    "string_type": 'Send text, in quotes; numbers too, digits as read: "25.400".',
    "list_type": "Send a list, in square brackets.",
    "dict_type": "Send an object, in curly brackets.",
    "bool_type": "Send true or false, without quotes.",
    "model_attributes_type": "Send one JSON object.",
    "bool_parsing": "Write true or false.",
    "int_from_float": "Send a whole number, without a decimal point.",
    "int_type": "Send a whole number, without quotes.",
    "int_parsing": "Give a whole number.",
    "int_parsing_size": "Give a smaller number.",
    "seq": "Take the seq from GET /v1/readings or /v1/entries, /history or /entries in a browser.",
}
_COUNTED = {
    "too_short": ("Give at least", "min_length"),
    "too_long": ("Give at most", "max_length"),
}
"""Of lists and objects."""
_BOUNDS = {
    "ge": "Give at least",
    "gt": "Give more than",
    "lt": "Give less than",
    "le": "Give at most",
    "max_length": "Shorten it; the most characters it may have is",
}

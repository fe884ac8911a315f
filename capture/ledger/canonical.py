"""Canonical JSON (RFC 8785) of ledger entries.

An entry holds only strings, integers within ±(2^53 − 1), booleans, null, lists and objects with
ASCII keys. Over those values a serialiser that sorts keys by their bytes and writes no space
gives the very bytes of RFC 8785: ASCII keys sort alike by byte and by UTF-16 code unit (§3.2.3),
integers of that range print alike in ECMAScript (§3.2.2.3), and strings are escaped alike
(§3.2.2.2). A property test holds this to the ``rfc8785`` package.

Two entrances. ``encode`` trusts the shapes it is given, because the hot path built them itself:
it refuses what the serialiser refuses (big integers, lone surrogates, unknown types), but would
let a float pass. ``encode_checked`` looks at every value first and says where a wrong one is.
"""

from __future__ import annotations

from typing import Any, Final

import orjson

from capture.errors import CaptureError

LARGEST_INTEGER: Final = 2**53 - 1
DEEPEST: Final = 64

# Passthrough: what is no JSON value is refused instead of being turned into some text of the
# serialiser's choice. Strict integer: 53 bits, as RFC 8785 §3.2.2.3 demands.
_OPTIONS: Final = (
    orjson.OPT_SORT_KEYS
    | orjson.OPT_STRICT_INTEGER
    | orjson.OPT_PASSTHROUGH_DATACLASS
    | orjson.OPT_PASSTHROUGH_DATETIME
)


class NotCanonical(CaptureError, ValueError):
    """A value that an entry may not hold, or bytes that are not canonical JSON."""


def encode(value: object) -> bytes:
    """Canonical bytes of a value whose shape is already known to be an entry's.

    Raises ``NotCanonical`` for what the serialiser refuses; floats and keys beyond ASCII are the
    caller's promise (``encode_checked`` tests them).
    """
    try:
        return orjson.dumps(value, option=_OPTIONS)
    except orjson.JSONEncodeError as error:
        check(value)  # names the place, where it can
        raise NotCanonical(f"cannot be written as canonical JSON: {error}") from error


def encode_checked(value: object) -> bytes:
    """Canonical bytes of any value; ``NotCanonical`` names the place of the first wrong one."""
    check(value)
    return encode(value)


def decode(data: bytes) -> Any:
    """The value of canonical bytes; ``NotCanonical`` unless they are exactly what we would write.

    A duplicate key, a space, another key order or another escape all fail, because writing the
    value again gives other bytes.
    """
    try:
        value = orjson.loads(data)
    except orjson.JSONDecodeError as error:
        raise NotCanonical(f"not JSON: {error}") from error
    if encode_checked(value) != data:
        raise NotCanonical("JSON, but not in canonical form (RFC 8785)")
    return value


def check(value: object) -> None:
    """Raise ``NotCanonical`` for the first value an entry may not hold, saying where it is."""
    _check(value, "$", 0)


def _check(value: object, place: str, depth: int) -> None:
    if value is None or isinstance(value, bool):
        return
    if isinstance(value, str):
        _check_text(value, place)
    elif isinstance(value, int):
        if not -LARGEST_INTEGER <= value <= LARGEST_INTEGER:
            raise NotCanonical(f"{place}: integer beyond ±(2^53 − 1); write it as text")
    elif depth >= DEEPEST:
        raise NotCanonical(f"{place}: nested more than {DEEPEST} deep")
    elif isinstance(value, dict):
        for key, item in value.items():
            if not isinstance(key, str) or not key.isascii():
                raise NotCanonical(f"{place}: key {key!r} is not ASCII text")
            _check(item, f"{place}.{key}", depth + 1)
    elif isinstance(value, list | tuple):
        for number, item in enumerate(value):
            _check(item, f"{place}[{number}]", depth + 1)
    else:
        kind = type(value).__name__
        raise NotCanonical(f"{place}: a {kind} cannot stand in an entry; write decimals as text")


def _check_text(value: str, place: str) -> None:
    try:
        value.encode()
    except UnicodeEncodeError as error:
        raise NotCanonical(f"{place}: text holds half a surrogate pair") from error

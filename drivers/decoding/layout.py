"""The layout of a text message, as a profile writes it, made into one bytes pattern.

::

    layout = "C{channel:2} {sign?}{number} {unit?} [{flags}]"

    {field}      what the field is made of, as much of it as there is
    {field:N}    exactly N bytes, padding blanks included
    {field?}     may be missing
    blank        any number of blanks, none too
    {{ and }}    a brace
    the rest     itself, byte for byte

Fields: ``sign`` (``+`` or ``-``), ``number``, ``unit``, ``flags`` (the profile's flag letters or
words, one or several, blanks or commas between), ``channel`` (letters and digits) and ``skip``
(anything; it may stand several times). Only ``number`` must be there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

FIELDS = ("sign", "number", "unit", "flags", "channel", "skip")

_TOKEN = re.compile(
    r"(?P<brace>\{\{|\}\})|\{(?P<name>[a-z]+)(?::(?P<width>[0-9]+))?(?P<optional>\?)?\}"
    r"|(?P<blank> +)|(?P<literal>[^{} ])|(?P<wrong>.)",
    re.DOTALL,
)

_UNIT = rb"[A-Za-z%\"'\x80-\xff][A-Za-z0-9%\"'./^*\-\x80-\xff]{0,15}"


class Pieces(NamedTuple):
    """What the fields of a layout are made of."""

    decimal_mark: str
    """``.`` or ``,``; empty where the digits carry none."""
    units: Iterable[bytes]
    """The words that are units; where there are none, any word is."""
    flags: Iterable[bytes]


class LayoutError(ValueError):
    """The layout cannot be read; the message says what and the mend."""


def compiled(layout: str, pieces: Pieces) -> re.Pattern[bytes]:
    """The pattern of ``layout``; raises ``LayoutError``.

    It has a group for every field except ``skip``, also for those not in the layout: these never
    match.
    """
    parts: list[bytes] = []
    seen: set[str] = set()
    for token in _TOKEN.finditer(layout):
        if token["wrong"]:
            raise LayoutError(f"a single {token['wrong']!r} means nothing: double it, or close it")
        if token["brace"]:
            parts.append(re.escape(token["brace"][0].encode()))
        elif token["blank"]:
            parts.append(rb"[ \t]*")
        elif token["literal"]:
            parts.append(re.escape(_byte(token["literal"])))
        else:
            _admit(token["name"], seen, pieces)
            if token["name"] == "number" and token["optional"]:
                raise LayoutError("{number} cannot be missing: take its ? away")
            parts.append(_field(token, pieces))
    if "number" not in seen:
        raise LayoutError("there is no {number} in it")
    absent = (b"(?P<%b>(?!))?" % name.encode() for name in FIELDS if name not in seen | {"skip"})
    return re.compile(b"".join([*parts, *absent]), re.DOTALL)


def _admit(name: str, seen: set[str], pieces: Pieces) -> None:
    if name not in FIELDS:
        raise LayoutError(f"{{{name}}} is no field: the fields are {', '.join(FIELDS)}")
    if name in seen and name != "skip":
        raise LayoutError(f"{{{name}}} stands twice: use {{skip}} for what is not to be read")
    if name == "flags" and not list(pieces.flags):
        raise LayoutError("{flags} needs a table `flags` that says what they mean")
    seen.add(name)


def _field(token: re.Match[str], pieces: Pieces) -> bytes:
    name, width = token["name"], token["width"]
    optional = b"?" if token["optional"] else b""
    if width is not None and not 0 < int(width) <= 1000:
        raise LayoutError(f"{{{name}}} cannot be {width} bytes wide")
    if name == "skip":
        return b"(?:.{%d})%b" % (int(width), optional) if width else b"(?:.*?)"
    label = name.encode()
    field = b"(?P<%b>%b)%b" % (label, _made_of(name, pieces), optional)
    if width is None:
        return field
    # what follows the N bytes is noted first; field and padding must then leave just that
    ahead = b"(?=.{%d}(?P<_%b>.*))" % (int(width), label)
    return ahead + rb"[ \t]*" + field + rb"[ \t]*" + rb"(?=(?P=_%b)\Z)" % label


def _made_of(name: str, pieces: Pieces) -> bytes:
    if name == "sign":
        return rb"[+-]"
    if name == "number":
        mark = re.escape(pieces.decimal_mark.encode())
        return rb"[0-9]+(?:%b[0-9]*)?|%b[0-9]+" % (mark, mark) if mark else rb"[0-9]+"
    if name == "unit":
        return _either(pieces.units) or _UNIT
    if name == "flags":
        one = _either(pieces.flags)
        return b"(?:%b)(?:[ ,]*(?:%b))*" % (one, one)
    return rb"[A-Za-z0-9]+"


def _either(words: Iterable[bytes]) -> bytes:
    """Any of the words, the longest that fits."""
    return b"|".join(re.escape(word) for word in sorted(words, key=len, reverse=True))


def _byte(character: str) -> bytes:
    try:
        return character.encode("latin-1")
    except UnicodeEncodeError:
        raise LayoutError(f"{character!r} is more than one byte: write its bytes") from None

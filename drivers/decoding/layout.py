"""The layout of a text message, as a profile writes it, made into one bytes pattern.

::

    layout = "C{channel:2} {sign?}{number} {unit?} [{flags}]"

    {field}      what the field is made of, as much of it as there is
    {field:N}    exactly N bytes, padding blanks included
    {field?}     may be missing
    blank        any number of blanks (or padding of the profile), none too
    {{ and }}    a brace
    the rest     itself, byte for byte

Fields, once each: ``sign`` (``+`` or ``-``, or the profile's signs), ``number``, ``unit``,
``flags`` (the profile's flag letters or words, one or several, blanks or commas between),
``channel`` (letters and digits) and ``close`` (the ``)`` that belongs to a sign ``(``). What is not
to be read, as often as it comes: ``digits``, ``hex`` (hexadecimal digits), ``other`` (another
number, with its sign) and ``skip`` (anything). Only ``number`` must be there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

READ = ("sign", "number", "unit", "flags", "channel", "close")
PASSED = ("skip", "digits", "hex", "other")
FIELDS = (*READ, *PASSED)

_TOKEN = re.compile(
    r"(?P<brace>\{\{|\}\})|\{(?P<name>[a-z]+)(?::(?P<width>[0-9]+))?(?P<optional>\?)?\}"
    r"|(?P<blank> +)|(?P<literal>[^{} ])|(?P<wrong>.)",
    re.DOTALL,
)

_UNIT = rb"[A-Za-z%\"'\x80-\xff][A-Za-z0-9%\"'./^*\-\x80-\xff]{0,15}"


class Pieces(NamedTuple):
    """What the fields of a layout are made of."""

    number: bytes
    """Pattern of a number without its sign."""
    units: Iterable[bytes]
    """The words that are units; where there are none, any word is."""
    flags: Iterable[bytes]
    signs: Iterable[bytes] = (b"+", b"-")
    padding: bytes = b""
    """Bytes that count as blanks."""

    @property
    def blank(self) -> bytes:
        return b"[ \\t%b]" % b"".join(b"\\x%02x" % byte for byte in self.padding)


class LayoutError(ValueError):
    """The layout cannot be read; the message says what and the mend."""


def compiled(layout: str, pieces: Pieces) -> re.Pattern[bytes]:
    """The pattern of ``layout``; raises ``LayoutError``.

    It has a group for every field that is read, also for those not in the layout: these never
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
            parts.append(pieces.blank + b"*")
        elif token["literal"]:
            parts.append(re.escape(_byte(token["literal"])))
        else:
            _admit(token["name"], seen, pieces)
            if token["name"] == "number" and token["optional"]:
                raise LayoutError("{number} cannot be missing: take its ? away")
            parts.append(_field(token, pieces))
    if "number" not in seen:
        raise LayoutError("there is no {number} in it")
    absent = (b"(?P<%b>(?!))?" % name.encode() for name in READ if name not in seen)
    return re.compile(b"".join([*parts, *absent]), re.DOTALL)


def _admit(name: str, seen: set[str], pieces: Pieces) -> None:
    if name not in FIELDS:
        raise LayoutError(f"{{{name}}} is no field: the fields are {', '.join(FIELDS)}")
    if name in seen and name not in PASSED:
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
    if name in ("digits", "hex"):
        # as many as there are, all or none: noise must not be tried in every way of sharing it
        count = b"{%d}" % int(width) if width else b"++"
        one = b"[0-9]" if name == "digits" else b"[0-9A-Fa-f]"
        return b"(?:%b%b)%b" % (one, count, optional)
    label = name.encode() if name in READ else b"p%d" % token.start()
    field = b"(?P<%b>%b)%b" % (label, _made_of(name, pieces), optional)
    if width is None:
        return field
    # what follows the N bytes is noted first; field and padding must then leave just that
    ahead = b"(?=.{%d}(?P<_%b>.*))" % (int(width), label)
    return ahead + b"%b*%b%b*" % (pieces.blank, field, pieces.blank) + rb"(?=(?P=_%b)\Z)" % label


def _made_of(name: str, pieces: Pieces) -> bytes:
    if name == "sign":
        return _either(pieces.signs)
    if name == "number":
        return pieces.number
    if name == "other":
        return b"(?>(?:%b)?%b*(?:%b))" % (_either(pieces.signs), pieces.blank, pieces.number)
    if name == "close":
        return rb"\)"
    if name == "unit":
        return _either(pieces.units) or _UNIT
    if name == "flags":
        one = _either(pieces.flags)
        return b"(?:%b)(?:[ ,]*(?:%b))*" % (one, one)
    return rb"[A-Za-z0-9]+"


def _either(words: Iterable[bytes]) -> bytes:
    """Any of the words, the longest that fits."""
    words = list(words)
    if words and all(len(word) == 1 for word in words):
        return b"[%b]" % b"".join(map(re.escape, words))
    return b"|".join(re.escape(word) for word in sorted(words, key=len, reverse=True))


def _byte(character: str) -> bytes:
    try:
        return character.encode("latin-1")
    except UnicodeEncodeError:
        raise LayoutError(f"{character!r} is more than one byte: write its bytes") from None

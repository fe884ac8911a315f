"""TOML text from bytes, and a document from the text; the first syntax error with its line."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal, InvalidOperation

from capture.errors import Problem, SpecError

_PLACE = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_MENDS = (
    ("Invalid value", 'write text and decimals in quotes: unit = "mm", target = "40.0"'),
    ("Cannot overwrite a value", "this key stands twice in its table: remove one of the two"),
    ("Cannot declare", "this table was begun before: repeat it as [[name]], or remove one"),
    ("Expected '='", "write a line as key = value; a remark begins with #"),
    ("Unclosed array", "close the array with ]"),
    ("Expected ']", "close the table's name: [name], or [[name]] for one of several"),
    ("Unterminated string", 'close the text with the same quote it began with: "…"'),
    ("Illegal character", "close the text with a quote before the end of the line"),
    ("Expected newline", "put each key = value on a line of its own"),
)
LARGEST = 8_000_000
_GENERAL = "correct the line; FORMAT.md shows how each kind of line is written"


def decode(data: bytes, file: str) -> str:
    """``data`` as text. Raises SpecError when it is too large or not UTF-8."""
    if len(data) > LARGEST:
        message = f"the file has {len(data)} bytes; a spec has {LARGEST} at most."
        raise _wrong(file, 1, message, "check that this is a spec, and split it if it is")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        message = f"byte {error.start} (0x{data[error.start]:02x}) is not UTF-8 text."
        raise _wrong(file, line, message, "save the file as UTF-8") from None
    if text.startswith("\ufeff"):
        message = "the file begins with a byte order mark, which TOML does not allow."
        raise _wrong(file, 1, message, "save the file as UTF-8 without a byte order mark")
    return text


def parse(text: str, file: str) -> dict[str, object]:
    """The document in ``text``, its decimals as ``Decimal`` with the digits as written.

    Raises SpecError with the first syntax error.
    """
    try:
        return tomllib.loads(text, parse_float=_decimal)
    except tomllib.TOMLDecodeError as error:
        raise _syntax(error, text, file) from None
    except ValueError:  # int() refuses thousands of digits; tomllib lets that through
        message = "a whole number has too many digits."
        line = _longest_number(text)
        raise _wrong(file, line, message, "write a number of at most nine digits") from None
    except RecursionError:
        message = "arrays or tables are nested too deeply."
        raise _wrong(file, 1, message, "write at most a few levels of brackets") from None


def _decimal(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation:  # an exponent beyond what Decimal holds: refused later, with its key
        return Decimal("NaN")


def _syntax(error: tomllib.TOMLDecodeError, text: str, file: str) -> SpecError:
    what = str(error)
    place = _PLACE.search(what)
    line, column = len(text.rstrip("\n").split("\n")), ""
    if place is not None:
        what = what[: place.start()]
        if place.group(1):
            line, column = int(place.group(1)), f" at column {place.group(2)}"
    mend = next((mend for start, mend in _MENDS if what.startswith(start)), _GENERAL)
    return _wrong(file, line, f"{what}{column}: this is not TOML.", mend)


def _longest_number(text: str) -> int:
    """The line with the longest run of digits."""
    longest, line = 0, 1
    for number, row in enumerate(text.split("\n"), 1):
        digits = max(map(len, re.findall(r"[0-9_]+", row)), default=0)
        if digits > longest:
            longest, line = digits, number
    return line


def _wrong(file: str, line: int, message: str, mend: str) -> SpecError:
    return SpecError([Problem(file, line, "syntax", message, f"{mend}.")])

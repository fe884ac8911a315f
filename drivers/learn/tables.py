"""An explanation as the tables of a profile."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import floor, log10
from typing import Any

from drivers.framing.check import Check
from drivers.learn.beside import Mark
from drivers.learn.binary import BinaryReading
from drivers.learn.bytes_seen import Seen
from drivers.learn.explanation import Explanation
from drivers.learn.pinned import Pin, pins
from drivers.learn.scale import Scaling, Worth
from drivers.learn.text import TextReading
from drivers.learn.wording import Piece

Tables = dict[str, Mapping[str, Any]]

_GAP = "0.05"
_PAIRS = {b"\xaa\x55", b"\x55\xaa", b"\xa5\x5a", b"\x5a\xa5", b"\xf0\x0f", b"\xfe\xef"}
_MARKS = {0x02, 0x7E, 0xA5, 0xAA, 0xF0, 0xF5, 0xFA, 0xFE, 0xFF}
"""Bytes that often begin a message, and that no battery or clock is likely to show."""


def tables(made: Explanation) -> Tables:
    """``frame``, ``check`` where there is one, and ``decode``."""
    if isinstance(made.reading, TextReading):
        return _text(made.seen, made.reading)
    return _binary(made.seen, made.reading)


def _text(seen: Seen, reading: TextReading) -> Tables:
    bodies = seen.texts()
    check = seen.way.check if seen.way else None
    last = check is not None and -check.at - check.size == len(seen.end)
    one_line = bool(seen.end) and not any(set("\r\n") & set(body) for body in bodies)
    raw_check = check is not None and check.written == "bytes"
    longest = max(map(len, seen.messages))
    made: Tables = {}
    before, after = "", ""
    if last and check is not None and seen.way and not seen.way.sure:
        after, check = f"{{skip:{check.size}}}", None
    if one_line and not raw_check and (check is None or last):
        frame: dict[str, Any] = {"kind": "terminator", "terminators": [seen.end]}
    else:
        frame = {"kind": "silence", "gap_seconds": _GAP}
        after += seen.end.decode("latin-1")
        if last and after and check is not None:
            after, check = f"{{skip:{check.size}}}{after}", None
    frame["max_length"] = min(1024, 2 * longest + 16)
    if seen.parity:
        frame["seven_bits"] = True
    made["frame"] = frame
    if check is not None and last and seen.way and seen.way.sure:
        made["check"] = _check(check)
    made["decode"] = _text_decode(reading, before, after)
    if seen.padded:
        made["decode"] = {**made["decode"], "padding": "\0"}
    return made


def _text_decode(reading: TextReading, before: str, after: str) -> dict[str, Any]:
    scaling, writing = reading.scaling, reading.writing
    pieces = reading.pieces
    strict = [_strict(pieces, at) for at in range(len(pieces))]
    body = "".join(
        piece.text if must else _layout(piece, after)
        for piece, after, must in zip(pieces, [*pieces[1:], None], strict, strict=True)
    )
    if after.startswith("{skip"):  # a check behind: figures before it take none of its own
        for last in ("{digits}", "{hex}", "{other}"):
            if body.endswith(last):
                body = body[: -len(last)] + "{skip}"
    made: dict[str, Any] = {"kind": "text", "layout": before + body + after}
    if writing.mark == ",":
        made["decimal_mark"] = ","
    if writing.form == "hex":
        made["number_base"] = "hex"
        if writing.signed:
            made["hex_negative"] = "twos" if writing.twos else "top-bit"
    if writing.backwards:
        made["last_first"] = True
    if reading.exponent:
        made["exponent"] = True
    if reading.minus - {"-"} or reading.plus - {"+"}:
        made["signs"] = dict.fromkeys(sorted(reading.minus), "minus") | dict.fromkeys(
            sorted(reading.plus), "plus"
        )
    if any(piece.kind == "unit" for piece in reading.pieces):
        switched = scaling.switched.unit if scaling.switched else scaling.base.unit
        made["units"] = {
            word: switched if turned else scaling.base.unit
            for word, turned in reading.units.items()
        }
    else:
        made["unit"] = scaling.base.unit
    return made | _worths(scaling)


def _strict(pieces: Sequence[Piece], at: int) -> bool:
    """Whether figures that never changed must stay: a unit, a status, digits behind a point, and
    not part of a date, a clock, or a counter's."""
    piece = pieces[at]
    if piece.kind != "digits" or not piece.text or len(piece.text) > 4:
        return False
    beside = [*pieces[max(0, at - 1) : at], *pieces[at + 1 : at + 2]]
    if any(one.kind == "text" and one.text[:1] in tuple(":/-.,%V") for one in beside):
        return False
    glued = any(one.kind in ("number", "sign", "unit") for one in beside)
    percent = len(piece.text) > 1 and 20 <= int(piece.text) <= 100
    return glued or len(piece.text) == 1 or (piece.text[0] == "0" and not percent)


def _layout(piece: Piece, following: Piece | None) -> str:
    if piece.kind == "text":
        return piece.text.replace("{", "{{").replace("}", "}}")
    if piece.kind == "blank":
        return " "
    if piece.kind == "sign":
        return "{sign?}" if piece.optional else "{sign}"
    if piece.kind == "number":
        return f"{{number:{piece.width}}}" if piece.width else "{number}"
    if piece.kind == "close":
        return "{close?}"
    if piece.kind == "unit":
        return "{unit}"
    if piece.kind == "other":
        return "{other}"
    if piece.kind == "digits":
        # a letter that follows is not to be taken for one more hexadecimal digit
        letters = following is not None and (
            following.kind in ("unit", "word", "sign") or following.text[:1].isalpha()
        )
        if piece.optional and piece.width:
            return f"{{hex:{piece.width}}}"
        return "{digits}" if letters else "{hex}"
    return f"{{skip:{piece.width}}}" if piece.width else "{skip}"


def _worths(scaling: Scaling) -> dict[str, Any]:
    base = _worth(scaling.base)
    if scaling.switched is None or not scaling.follows:
        return base
    switched = _worth(scaling.switched)
    if not base and not switched:
        return {}
    return {"by_unit": {scaling.base.unit: base, scaling.switched.unit: switched}}


def _worth(worth: Worth) -> dict[str, Any]:
    if worth.sent:
        return {}
    if worth.factor is None:
        return {"places": worth.places}
    factor = worth.factor
    if worth.places is not None:
        return {"scale": _decimal(factor, worth.places)}
    finer = max(0, 1 - floor(log10(factor)))
    return {
        "scale": f"{factor.numerator}/{factor.denominator}",
        "resolution": _decimal(Fraction(1, 10**finer), finer),
    }


def _decimal(value: Fraction, places: int) -> str:
    whole = value * 10**places
    digits = str(whole.numerator // whole.denominator).rjust(places + 1, "0")
    return f"{digits[:-places]}.{digits[-places:]}" if places else digits


def _check(check: Check) -> dict[str, Any]:
    made: dict[str, Any] = {"kind": check.kind, "width": check.width, "written": check.written}
    if check.size > 1 and check.written == "bytes":
        made["order"] = check.order
    if check.complement != "none":
        made["complement"] = check.complement
    if check.kind == "crc":
        made |= {
            "polynomial": check.polynomial,
            "initial": check.initial,
            "reflected": check.reflected,
            "final_xor": check.final_xor,
        }
    made |= {"cover": list(check.cover), "at": check.at}
    if 0 < check.mask < (1 << check.width) - 1:
        made["mask"] = check.mask
    return made


def _binary(seen: Seen, reading: BinaryReading) -> Tables:
    frame: dict[str, Any] = {"kind": "fixed", "length": len(seen.messages[0])}
    start = _start(seen, reading)
    if start:
        frame["start"] = start
    made: Tables = {"frame": frame}
    if seen.way is not None and seen.way.sure:
        made["check"] = _check(seen.way.check)
    made["decode"] = _binary_decode(seen, reading)
    return made


def _start(seen: Seen, reading: BinaryReading) -> bytes:
    """The bytes that every message surely begins with, two at most. A byte that was the same in a
    few messages may be a battery or the high byte of a clock."""
    first = seen.messages[0]
    used = {*reading.place.bytes_used, *seen.check_range}
    used |= {mark.at for mark in (reading.sign, reading.unit) if mark}
    same = [
        at not in used and len({message[at] for message in seen.messages}) == 1
        for at in range(min(2, len(first) - 1))
    ]
    if len(same) > 1 and all(same) and first[:2] in _PAIRS:
        return first[:2]
    return first[:1] if same and same[0] and first[0] in _MARKS else b""


def _binary_decode(seen: Seen, reading: BinaryReading) -> dict[str, Any]:
    place, scaling = reading.place, reading.scaling
    number: dict[str, Any] = {"at": place.at, "bytes": place.size, "order": place.order}
    made: dict[str, Any] = {"kind": "bcd", "number": number}
    if place.way == "float":
        made["kind"] = "float"
    elif place.way == "integer":
        made["kind"] = "integer"
        if place.sign == "twos":
            number["signed"] = True
        elif place.sign == "top":
            made["negative"] = {"at": place.top, "bit": 7}
    else:
        if place.way == "unpacked":
            number["digits_per_byte"] = 1
        if place.turned:
            number["low_half_first"] = True
        if place.skip[0]:
            number["skip_first"] = place.skip[0]
        if place.skip[1]:
            number["skip_last"] = place.skip[1]
        if place.sign in ("first", "last"):
            made["sign_nibble"] = place.sign
    if reading.sign is not None:
        made["sign"] = _choice(reading.sign, "plus", "minus")
    if reading.unit is not None and scaling.switched is not None:
        made["unit"] = _choice(reading.unit, scaling.base.unit, scaling.switched.unit)
    else:
        made["unit"] = scaling.base.unit
    pinned = pins_of(seen, reading)
    if pinned:
        made["always"] = {pin.at: _bits(pin) for pin in pinned}
    if place.way == "float":
        return made | _resolutions(seen, reading)
    return made | _worths(scaling)


def pins_of(seen: Seen, reading: BinaryReading) -> list[Pin]:
    """What the profile asks of every message."""
    used = {*reading.place.bytes_used, *seen.check_range}
    marks = [mark for mark in (reading.sign, reading.unit) if mark]
    ends = range(len(seen.messages[0]) - len(seen.end), len(seen.messages[0]))
    place = reading.place
    above = range(place.at - 1, -1, -1)
    if place.order == "little":
        above = range(place.at + place.size, ends.start)
    found = pins(seen.messages, used, place.spare, marks, above)
    return [pin for pin in found if pin.at not in ends]


def _bits(pin: Pin) -> str:
    if pin.mask == 0xFF:
        return f"{pin.value:02X}"
    return "".join(
        str(pin.value >> bit & 1) if pin.mask >> bit & 1 else "." for bit in range(7, -1, -1)
    )


def _choice(mark: Mark, off: str, on: str) -> dict[str, Any]:
    return {"at": mark.at, "mask": mark.mask, "values": {mark.off: off, mark.on: on}}


def _resolutions(seen: Seen, reading: BinaryReading) -> dict[str, Any]:
    """To what a float is rounded: as fine as its bits surely are."""
    top: dict[str, float] = {}
    read = Explanation(seen, reading).reader()
    for message in seen.messages:
        if said := read(message):
            top[said.unit] = max(top.get(said.unit, 1e-3), abs(float(said.size)))
    hair = 5e-7 if reading.place.size == 4 else 1e-12
    places = {unit: min(6, floor(-log10(size * hair))) for unit, size in top.items()}
    steps = {u: {"resolution": _decimal(Fraction(1, 10**p), p)} for u, p in places.items()}
    return next(iter(steps.values())) if len(steps) == 1 else {"by_unit": steps}

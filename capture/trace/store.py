"""How a trace is kept: a container of our own, with the digits as they were sent.

Uncompressed, byte by byte::

    header line     canonical JSON (keys sorted, no spaces, UTF-8), ended by one LF:
                    {"angle":E,"samples":N,"torque":E,"trace":1,"unit":"N·m"}
    times           N × int64, little-endian: nanoseconds, each more than the one before
    torque          N × int64, little-endian: digits without their point
    torque places   N × int8, only where its E is "each"
    angle, places   the same again, only where its E is not null

``E`` is the decimal exponent that all samples of a column share (``60.00`` is 6000 with -2), or
``"each"`` where they differ, in which case every sample has its own. The digits -2⁶³ stand for a
zero sent with a minus sign. Plus signs and leading zeros are not kept; times are kept to the
nanosecond.

The SHA-256 is taken of these uncompressed bytes, of which there is exactly one form for a trace.
What is stored is their zlib compression (RFC 1950), whose bytes may differ between versions of
zlib. A float is written as its shortest decimal text that reads back as the same float.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from capture.trace.samples import FEWEST_SAMPLES, MOST_SAMPLES, Sample, Trace, Written
from capture.trace.samples import check_lengths as _check_lengths

if TYPE_CHECKING:
    from capture.trace.samples import Whole

VERSION: Final = 1
EACH: Final = "each"
MINUS_ZERO: Final = -(2**63)
_MOST_DIGITS: Final = 2**63 - 1
_NANO: Final = Decimal("1e9")
_LONGEST_HEADER: Final = 512
_LONGEST_UNIT: Final = 40
_NOT_ONE: Final = "These bytes are not a kept trace"


class _Column(NamedTuple):
    digits: Whole
    places: Sequence[int]
    """Decimal exponents, one for each sample."""


def canonical(trace: Trace | Written) -> bytes:
    """The uncompressed bytes of a trace: what its SHA-256 is taken of.

    Raises ValueError where there are too few or too many samples, lengths differ, a sample is not
    a number of at most 18 digits, or is not later than the one before it.
    """
    import numpy as np

    _check_lengths(trace)
    if not 0 < len(trace.unit) <= _LONGEST_UNIT:
        raise ValueError(f"The unit of a trace has 1 to {_LONGEST_UNIT} characters.")
    times = np.array([_nanoseconds(at, n) for n, at in enumerate(trace.seconds, 1)], dtype="<i8")
    _check_order(times)
    header: dict[str, object] = {
        "angle": None,
        "samples": len(times),
        "trace": VERSION,
        "unit": trace.unit,
    }
    body = [times.tobytes()]
    for name, samples in (("torque", trace.torque), ("angle", trace.angle)):
        if samples is None:
            continue
        column = _column(name, samples)
        body.append(column.digits.astype("<i8").tobytes())
        if len(set(column.places)) == 1:
            header[name] = column.places[0]
        else:
            header[name] = EACH
            body.append(np.array(column.places, dtype="i1").tobytes())
    return _header_line(header) + b"".join(body)


def compress(trace: Trace | Written) -> bytes:
    """The trace as it is stored. Raises ValueError as ``canonical`` does."""
    return zlib.compress(canonical(trace), 6)


def digest(trace: Trace | Written) -> str:
    """SHA-256 (hex) of the trace's uncompressed bytes."""
    return hashlib.sha256(canonical(trace)).hexdigest()


def digest_of(blob: bytes) -> str:
    """SHA-256 (hex) of the uncompressed bytes of a stored trace. Raises ValueError where it is not
    one in every particular."""
    header, body = _read(blob)
    _columns(header, body)
    return hashlib.sha256(_header_line(header) + body).hexdigest()


def expand(blob: bytes) -> Trace:
    """The stored trace as floats, for analysis. Raises ValueError where ``blob`` is not one."""
    header, body = _read(blob)
    times, torque, angle = _columns(header, body)
    return Trace(
        [at / 10**9 for at in times.tolist()],
        _as_floats(torque),
        None if angle is None else _as_floats(angle),
        str(header["unit"]),
    )


def digits(blob: bytes) -> Written:
    """The stored trace as decimal text, with the digits as sent; times in seconds with nine
    decimals. Raises ValueError where ``blob`` is not one."""
    header, body = _read(blob)
    times, torque, angle = _columns(header, body)
    return Written(
        [format(Decimal(at).scaleb(-9), "f") for at in times.tolist()],
        _as_text(torque),
        None if angle is None else _as_text(angle),
        str(header["unit"]),
    )


def _header_line(header: dict[str, Any]) -> bytes:
    text = json.dumps(header, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return text.encode() + b"\n"


def _nanoseconds(at: Sample, number: int) -> int:
    try:
        value = int((_decimal(at) * _NANO).to_integral_value())
    except (InvalidOperation, ValueError, OverflowError):
        raise ValueError(f"Sample {number} of the trace has no number for its time.") from None
    if abs(value) > _MOST_DIGITS:
        raise ValueError(f"Sample {number} of the trace has a time of more than 292 years.")
    return value


def _decimal(sample: Sample) -> Decimal:
    # float() turns numpy's floats into plain ones, whose repr is the digits alone.
    return Decimal(repr(float(sample)) if isinstance(sample, float) else sample)


def _column(name: str, samples: Sequence[Sample]) -> _Column:
    import numpy as np

    digits = np.empty(len(samples), dtype=np.int64)
    places = []
    for number, sample in enumerate(samples):
        try:
            sign, figures, exponent = _decimal(sample).as_tuple()
        except InvalidOperation:
            raise ValueError(
                f"Sample {number + 1} of the trace has no number for its {name}."
            ) from None
        if not isinstance(exponent, int):
            raise ValueError(
                f"Sample {number + 1} of the trace has no finite {name}: leave it out."
            )
        value = int("".join(map(str, figures)))
        if value > _MOST_DIGITS or not -128 <= exponent <= 127:
            raise ValueError(
                f"Sample {number + 1} of the trace has a {name} of more digits than can be kept "
                "(18, with an exponent from -128 to 127)."
            )
        digits[number] = (-value if value else MINUS_ZERO) if sign else value
        places.append(exponent)
    return _Column(digits, places)


def _check_order(times: Whole) -> None:
    import numpy as np

    stopped = np.flatnonzero(times[1:] <= times[:-1])
    if len(stopped):
        raise ValueError(
            f"Sample {stopped[0] + 2} of the trace is not later than the one before it by a "
            "nanosecond: send the samples in order, each with its own time."
        )


def _read(blob: bytes) -> tuple[dict[str, Any], bytes]:
    """Header and body of a stored trace. Never expands more than the header asks for."""
    stream = zlib.decompressobj()
    try:
        start = stream.decompress(blob, _LONGEST_HEADER)
        line, found, rest = start.partition(b"\n")
        if not found:
            raise ValueError(f"{_NOT_ONE}: they have no header.")
        header = _checked_header(line)
        wanted = _body_length(header)
        more = wanted + 1 - len(rest)
        body = rest + (stream.decompress(stream.unconsumed_tail, more) if more > 0 else b"")
        if len(body) == wanted and not stream.eof:
            body += stream.decompress(stream.unconsumed_tail, 1)
    except zlib.error as error:
        raise ValueError(f"{_NOT_ONE}: they do not expand ({error}).") from None
    if len(body) != wanted or not stream.eof or stream.unused_data:
        raise ValueError(f"{_NOT_ONE}: they hold more or less than the header says.")
    return header, body


def _checked_header(line: bytes) -> dict[str, Any]:
    try:
        header = json.loads(line)
    except ValueError:
        header = None
    if not isinstance(header, dict) or set(header) != {
        "angle",
        "samples",
        "torque",
        "trace",
        "unit",
    }:
        raise ValueError(f"{_NOT_ONE}: the header is not one of a trace.")
    if header["trace"] != VERSION:
        raise ValueError(f"This trace is of version {header['trace']!r}; {VERSION} can be read.")
    count, unit = header["samples"], header["unit"]
    sound = (
        type(count) is int
        and FEWEST_SAMPLES <= count <= MOST_SAMPLES
        and type(header["trace"]) is int
        and isinstance(unit, str)
        and 0 < len(unit) <= _LONGEST_UNIT
        and _is_exponent(header["torque"])
        and (header["angle"] is None or _is_exponent(header["angle"]))
    )
    if not sound or _header_line(header) != line + b"\n":
        raise ValueError(f"{_NOT_ONE}: the header is not in its one form.")
    return header


def _is_exponent(value: object) -> bool:
    return value == EACH or (type(value) is int and -128 <= value <= 127)


def _body_length(header: dict[str, Any]) -> int:
    each = 8
    for name in ("torque", "angle"):
        if header[name] is not None:
            each += 9 if header[name] == EACH else 8
    return each * int(header["samples"])


def _columns(header: dict[str, Any], body: bytes) -> tuple[Whole, _Column, _Column | None]:
    import numpy as np

    count = int(header["samples"])
    times = np.frombuffer(body, dtype="<i8", count=count).astype(np.int64)
    _check_order(times)
    at = 8 * count
    made: list[_Column | None] = []
    for name in ("torque", "angle"):
        shared = header[name]
        if shared is None:
            made.append(None)
            continue
        column = np.frombuffer(body, dtype="<i8", count=count, offset=at).astype(np.int64)
        at += 8 * count
        places = [shared] * count
        if shared == EACH:
            places = np.frombuffer(body, dtype="i1", count=count, offset=at).tolist()
            at += count
            if len(set(places)) == 1:
                raise ValueError(f"{_NOT_ONE}: the places of its {name} are not in their one form.")
        made.append(_Column(column, places))
    torque, angle = made
    assert torque is not None  # a header without its exponent was refused
    return times, torque, angle


def _decimals(column: _Column) -> list[Decimal]:
    made = []
    for digits, places in zip(column.digits.tolist(), column.places, strict=True):
        value = Decimal("-0") if digits == MINUS_ZERO else Decimal(digits)
        made.append(value.scaleb(places))
    return made


def _as_floats(column: _Column) -> list[float]:
    """The floats nearest to the digits. One division of exact floats rounds once, so it gives the
    nearest: up to 2⁵³ and 10²² both are exact."""
    import numpy as np

    digits, places = column.digits, np.asarray(column.places)
    zero = digits == MINUS_ZERO
    size = np.abs(np.where(zero, 0, digits))
    if int(size.max()) > 2**53 or int(places.max()) > 0 or int(places.min()) < -22:
        return [float(value) for value in _decimals(column)]
    powers = np.array([float(10**power) for power in range(23)])
    made = np.where(zero, -0.0, digits / powers[-places])
    floats: list[float] = made.tolist()
    return floats


def _as_text(column: _Column) -> list[str]:
    """Plain text where that keeps the digits; with an exponent where it would add zeros."""
    return [
        str(value) if places > 0 else format(value, "f")
        for value, places in zip(_decimals(column), column.places, strict=True)
    ]

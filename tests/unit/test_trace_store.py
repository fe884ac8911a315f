"""Kept traces: digits survive, the hash is of one form only, and damage is refused."""

from __future__ import annotations

import hashlib
import json
import struct
import zlib
from decimal import Decimal

import pytest

from capture.trace import Trace, Written, canonical, compress, digest, digest_of, digits, expand
from capture.trace import samples as samples_module

TEXTS = ["0.00", "-0.00", "1.50", "-12.25"]
KEPT = Written(["0", "0.001", "0.002", "0.0035"], TEXTS, None, "N·m")


def test_the_bytes_are_those_described() -> None:
    """Written out by hand, so that no later version can change what a hash was taken of."""
    body = struct.pack("<4q", 0, 1_000_000, 2_000_000, 3_500_000)
    body += struct.pack("<4q", 0, -(2**63), 150, -1225)
    header = '{"angle":null,"samples":4,"torque":-2,"trace":1,"unit":"N·m"}\n'.encode()
    assert canonical(KEPT) == header + body
    assert digest(KEPT) == hashlib.sha256(header + body).hexdigest()


def test_mixed_places_have_a_place_each() -> None:
    mixed = Written(["0", "1", "2"], ["1.5", "2", "2.25"], ["0", "10", "1E+2"], "N·m")
    raw = canonical(mixed)
    line, _, body = raw.partition(b"\n")
    assert json.loads(line)["torque"] == "each"
    assert body[48:51] == struct.pack("3b", -1, 0, -2)
    assert body[-3:] == struct.pack("3b", 0, 0, 2)
    assert digits(compress(mixed)).torque == ["1.5", "2", "2.25"]
    assert digits(compress(mixed)).angle == ["0", "10", "1E+2"]


def test_digits_survive() -> None:
    blob = compress(KEPT)
    back = digits(blob)
    assert back.torque == TEXTS
    assert back.seconds == ["0.000000000", "0.001000000", "0.002000000", "0.003500000"]
    assert compress(back) == blob
    assert digest_of(blob) == digest(KEPT) == digest(back)


def test_text_decimals_and_floats_of_the_same_digits_are_the_same_trace() -> None:
    floats = Trace([0.0, 0.1, 0.2], [0.5, 1.25, 100.125], [0.0, 0.5, 1.0], "lbf·ft")
    text = Written(["0", "0.1", "0.2"], ["0.5", "1.25", "100.125"], ["0.0", "0.5", "1.0"], "lbf·ft")
    decimal = text._replace(torque=[Decimal("0.5"), Decimal("1.25"), Decimal("100.125")])
    assert digest(floats) == digest(text) == digest(decimal)
    assert expand(compress(floats)) == floats


def test_negative_times_and_whole_numbers() -> None:
    kept = Written([-1, 0, 1], [1, 2, 3], None, "N·m")
    assert expand(compress(kept)) == Trace([-1.0, 0.0, 1.0], [1.0, 2.0, 3.0], None, "N·m")


@pytest.mark.parametrize(
    ("kept", "says"),
    [
        (
            KEPT._replace(torque=["1", "x", "2", "3"]),
            "Sample 2 of the trace has no number for its t",
        ),
        (
            KEPT._replace(torque=["1", "NaN", "2", "3"]),
            "Sample 2 of the trace has no finite torque",
        ),
        (KEPT._replace(torque=["1", "2" * 20, "2", "3"]), "more digits than can be kept"),
        (KEPT._replace(torque=["1", "1e-200", "2", "3"]), "more digits than can be kept"),
        (KEPT._replace(torque=["1"]), "1 torques|has 1"),
        (KEPT._replace(seconds=["0", "1", "1.0000000001", "2"]), "Sample 3 .* by a nanosecond"),
        (KEPT._replace(seconds=["0", "inf", "2", "3"]), "no number for its time"),
        (KEPT._replace(seconds=["0", "1e12", "1e13", "1e14"]), "more than 292 years"),
        (KEPT._replace(unit=""), "1 to 40 characters"),
    ],
)
def test_what_cannot_be_kept(kept: Written, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        compress(kept)


def test_too_many_samples(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(samples_module, "MOST_SAMPLES", 3)
    with pytest.raises(ValueError, match="3 to 3 samples; this one has 4"):
        compress(KEPT)


def changed(line: bytes = b"", body: bytes | None = None, **keys: object) -> bytes:
    """The kept trace with another header or body."""
    old, _, rest = canonical(KEPT).partition(b"\n")
    header = json.loads(old) | keys
    text = json.dumps(header, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return zlib.compress((line or text.encode()) + b"\n" + (rest if body is None else body))


@pytest.mark.parametrize(
    "blob",
    [
        b"",
        b"no zlib",
        compress(KEPT)[:-1],
        compress(KEPT) + b"x",
        zlib.compress(b"no header"),
        zlib.compress(b"x" * 1000),
        changed(line=b"{}"),
        changed(line=b"nothing"),
        changed(samples=5),
        changed(samples=3),
        changed(samples=2),
        changed(samples=True),
        changed(samples=10**9),
        changed(trace=2),
        changed(trace=True),
        changed(torque=-200),
        changed(torque="all"),
        changed(torque="each"),
        changed(unit=""),
        changed(unit=3),
        changed(more=1),
        changed(line=canonical(KEPT).partition(b"\n")[0].replace(b",", b", ")),
        changed(body=b""),
        changed(body=struct.pack("<8q", 0, 2, 1, 3, 0, 0, 0, 0)),
        changed(torque="each", body=struct.pack("<8q4b", 0, 1, 2, 3, 0, 0, 0, 0, 1, 1, 1, 1)),
    ],
)
def test_what_is_not_a_kept_trace(blob: bytes) -> None:
    for reads in (expand, digits, digest_of):
        with pytest.raises(ValueError, match="trace"):
            reads(blob)


def test_a_flood_of_zeros_is_not_expanded() -> None:
    bomb = zlib.compress(canonical(KEPT) + bytes(50_000_000), 9)
    with pytest.raises(ValueError, match="more or less than the header says"):
        expand(bomb)

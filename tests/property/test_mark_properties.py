"""The marks of any message cover it once, and the bytes marked as its number spell its value."""

from __future__ import annotations

import re
from decimal import Decimal
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from capture.errors import DecodingError
from drivers.profiles.load import load_shipped, shipped_names
from drivers.profiles.marks import ORDER, marked
from simulators.wire import NotOnThisWire, wire_for

PROFILES = {name: load_shipped(name) for name in shipped_names()}
TEXTS = sorted(name for name in PROFILES if "line" in name)


def bytes_of(name: str, raw: bytes, field: str) -> bytes:
    found = [mark for mark in marked(PROFILES[name], raw) if field in mark.names]
    return b"".join(raw[mark.first : mark.end] for mark in found)


def message(name: str, value: Decimal, unit: str) -> bytes | None:
    """A gauge's message as it is cut; None for what it does not write."""
    try:
        sent = wire_for(name, "3").message(value, unit)
    except NotOnThisWire:
        return None
    (cut,) = PROFILES[name].framing.framer().feed(sent, 0)
    assert isinstance(cut, bytes)
    return cut


@given(name=st.sampled_from(sorted(PROFILES)), raw=st.binary(max_size=80))
def test_marks_lie_inside_and_never_overlap(name: str, raw: bytes) -> None:
    marks = marked(PROFILES[name], raw)
    assert [at for mark in marks for at in range(mark.first, mark.end)] == list(range(len(raw)))
    assert all(set(mark.names) <= set(ORDER) for mark in marks)
    assert all(one.names != two.names for one, two in pairwise(marks))


@given(
    name=st.sampled_from(TEXTS),
    value=st.decimals(-90, 90, places=3),
    unit=st.sampled_from(["mm", "in", "N·m", "lbf·ft"]),
)
def test_the_number_of_a_text_spells_the_value(name: str, value: Decimal, unit: str) -> None:
    raw = message(name, value, unit)
    if raw is None:
        return
    digits = bytes_of(name, raw, "number").decode()
    assert re.fullmatch(r"[0-9]+\.[0-9]{3}", digits)
    assert Decimal(digits) == abs(value)
    if name != "torque-peak-line":
        assert (bytes_of(name, raw, "sign") == b"-") == value.is_signed()


@given(value=st.decimals(-90, 90, places=3))
def test_the_number_of_binary_digits_spells_the_value(value: Decimal) -> None:
    count = int(value.scaleb(3))
    bcd = wire_for("packed-bcd", "3").message(value, "mm")
    assert bytes_of("packed-bcd", bcd, "number").hex() == f"{abs(count):06d}"
    assert bytes_of("packed-bcd", bcd, "point") == b"\x03"
    binary = wire_for("integer-le", "3").message(value, "mm")
    number = bytes_of("integer-le", binary, "number")
    power = int.from_bytes(bytes_of("integer-le", binary, "point"), "little", signed=True)
    assert Decimal(int.from_bytes(number, "little", signed=True)).scaleb(power) == value


@given(
    name=st.sampled_from(TEXTS),
    raw=st.from_regex(r"[ +\-0-9.CNmd#PEAK]{0,24}\r", fullmatch=True),
)
def test_whatever_is_read_has_its_number_marked(name: str, raw: str) -> None:
    profile, data = PROFILES[name], raw.encode()
    try:
        digits = profile.decoding.decoder(*profile.framing.edges)(data)[0]
    except DecodingError:
        assert bytes_of(name, data, "number") == b""
        return
    assert Decimal(bytes_of(name, data, "number").decode()) == abs(Decimal(digits))

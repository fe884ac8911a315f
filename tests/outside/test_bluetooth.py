"""Bluetooth values against the rules of those who publish them.

Rows marked "numbers ours" take the rule from the source and the numbers from us.
"""

from __future__ import annotations

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from capture.errors import DecodingError
from capture.quantity import convert
from drivers.ble.numbers import MEASUREMENTS, full
from drivers.decoding.gatt import UNITS, GattDecoding

DATA = Path(__file__).parent / "data"


def read(decoding: GattDecoding, value: str) -> tuple[str, str | None]:
    digits, unit, flags, channel = decoding.decoder(0, 0)(bytes.fromhex(value))
    assert (flags, channel) == ((), None)
    return digits, unit


def described(descriptor: str) -> GattDecoding:
    return GattDecoding.described(bytes.fromhex(descriptor))


def rows(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_bt_01_an_integer_with_exponent_minus_three() -> None:
    """3892 → 3.892: mbed OS API documentation, PresentationFormat; actual value = value ×
    10^exponent: Zephyr API documentation, bt_gatt_cpf. 0x2701 is the metre."""
    decoding = described("06 FD 01 27 01 00 00")
    assert decoding.unit == 0x2701
    assert read(decoding, "34 0F") == ("3.892", "m")


def test_bt_02_torque_in_hundredths_of_a_newton_metre() -> None:
    """sint32, 10^-2, N·m, 0x7FFFFFFF unknown: Bluetooth SIG, GSS org.bluetooth.characteristic
    .torque (in the package bluetooth-sig 0.6.0); numbers ours."""
    decoding = described("10 FE 41 27 01 00 00")
    assert read(decoding, "D2 04 00 00") == ("12.34", "N·m")
    assert read(decoding, "2E FB FF FF") == ("-12.34", "N·m")
    torque = MEASUREMENTS[full(0x2C0B)]
    assert read(torque, "2E FB FF FF") == ("-12.34", "N·m")
    with pytest.raises(DecodingError) as refused:
        read(torque, "FF FF FF 7F")
    assert refused.value.code == "not-known"


def test_bt_03_floats_ignore_the_exponent() -> None:
    """Bluetooth SIG, formattypes.yaml: 0x14 has "exponent: False"; Zephyr API documentation:
    "only used on integer format types"; numbers ours."""
    digits, unit = read(described("14 05 41 27 01 00 00"), "00 00 48 42")
    assert (Decimal(digits), unit) == (Decimal(50), "N·m")


@pytest.mark.parametrize("row", rows("mder_floats.csv"), ids=lambda row: row["hex"])
def test_bt_04_medical_floats_keep_their_trailing_zeros(row: dict[str, str]) -> None:
    """IEEE 11073-20601 FLOAT; examples of HL7, phd, MderFLOATsandSFLOATs.md (github HL7/phd)."""
    raw = bytes.fromhex(row["hex"])[::-1]  # written there with the exponent first
    digits, _ = read(described("17 00 01 27 01 00 00"), raw.hex())
    assert digits == row["value"]


def test_bt_04_there_are_eight_of_them() -> None:
    assert len(rows("mder_floats.csv")) == 8


def test_bt_05_length_in_steps_of_a_tenth_of_a_micrometre() -> None:
    """uint32, 10^-7 m, 0xFFFFFFFF unknown: Bluetooth SIG, GSS org.bluetooth.characteristic.length
    (in the package bluetooth-sig 0.6.0); numbers ours."""
    length = MEASUREMENTS[full(0x2C0A)]
    digits, unit = read(length, "08 4F 0D 00")
    assert (digits, unit) == ("0.0872200", "m")
    assert convert(Decimal(digits), "m", "mm") == Decimal("87.2200")
    with pytest.raises(DecodingError) as refused:
        read(length, "FF FF FF FF")
    assert refused.value.code == "not-known"


@pytest.mark.parametrize("row", rows("gatt_formats.csv"), ids=lambda row: row["code"])
def test_numbers_of_formats_and_units_are_the_published_ones(row: dict[str, str]) -> None:
    """Bluetooth SIG, Assigned Numbers 2.4.1, formattypes.yaml and units.yaml (in the package
    bluetooth-sig 0.6.0)."""
    code = int(row["code"], 16)
    if row["kind"] == "unit":
        words = {
            "m": "length (metre)", "N": "force (newton)", "°C": "Celsius temperature",
            "N·m": "moment of force (newton metre)", "°": "plane angle (degree)",
            "in": "length (inch)", "ft": "length (foot)", "°F": "degree Fahrenheit",
        }  # fmt: skip
        ours = UNITS.get(code)
        assert (
            row["name"] in ("unitless", "percentage")
            if ours is None
            else (words[ours] == row["name"])
        )
        return
    decoding = GattDecoding(code, -1, 0x2701)
    if row["name"] in ("boolean", "utf8s"):
        assert decoding.size is None
        return
    assert decoding.size == int(row["bytes"])
    one = "01" + "00" * (int(row["bytes"]) - 1)
    if row["uses_exponent"] == "1":
        assert read(decoding, one) == ("0.1", "m")

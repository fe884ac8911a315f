"""What is worked out of Bluetooth without a radio: addresses, choices, trouble, values, bench."""

from __future__ import annotations

import json
import struct
from pathlib import Path

import pytest

from capture import view
from capture.errors import BenchError, DecodingError, PortGone, TransportError
from capture.reading import Undecodable
from drivers.bench import parse_bench
from drivers.ble.address import target
from drivers.ble.battery import battery_words
from drivers.ble.choose import Offered, measuring, sending
from drivers.ble.described import DESCRIBED
from drivers.ble.numbers import full
from drivers.ble.permission import ask_first
from drivers.ble.trouble import trouble
from drivers.decoding.gatt import GattDecoding
from tests.ble import row
from tests.pipeline_bench import CLOCK, done, pipeline

MILLI = struct.pack("<BbHBH", 0x10, -6, 0x2701, 1, 0)
TORQUE = struct.pack("<BbHBH", 0x10, -2, 0x2741, 1, 0)
OWN = "3a1f0002-7c52-4be8-8a10-52d8f1a90c11"
OTHER = "3a1f0003-7c52-4be8-8a10-52d8f1a90c11"


def offered(handle: int, uuid: str, description: bytes | None = None) -> Offered:
    return Offered(handle, uuid, True, False, description)


@pytest.mark.parametrize(
    ("device", "text", "is_address"),
    [
        ("ble://c2:00:00:00:00:0a", "C2:00:00:00:00:0A", True),
        ("ble://Invented gauge", "Invented gauge", False),
        ("ble://Invented%20gauge", "Invented gauge", False),
        (
            "ble://3a1f0002-7c52-4be8-8a10-52d8f1a90c11",
            "3A1F0002-7C52-4BE8-8A10-52D8F1A90C11",
            True,
        ),
    ],
)
def test_a_port_names_an_address_or_a_name(device: str, text: str, is_address: bool) -> None:
    assert target(device) == (text, is_address)


@pytest.mark.parametrize("device", ["ble://", "ble://%20", "COM3"])
def test_a_port_that_names_nothing_is_refused(device: str) -> None:
    with pytest.raises(ValueError, match="names no Bluetooth device"):
        target(device)


def test_the_characteristic_in_the_instruments_kind_of_unit_is_chosen() -> None:
    both = [offered(1, OWN, MILLI), offered(2, OTHER, TORQUE), offered(3, full(0x2A19))]
    assert measuring("g", both, "in", None)[0].handle == 1
    assert measuring("g", both, "lbf·ft", None) == (both[1], GattDecoding(0x10, -2, 0x2741))
    with pytest.raises(TransportError, match="in a unit like °C"):
        measuring("g", both, "°C", None)


def test_among_several_the_port_names_one() -> None:
    length, position = offered(1, full(0x2C0A)), offered(2, full(0x2C08))
    with pytest.raises(TransportError, match="several characteristics") as refused:
        measuring("g", [length, position], "mm", None)
    assert "notify" in refused.value.mend
    assert measuring("g", [length, position], "mm", position.uuid)[0] is position


def test_a_description_that_is_no_number_is_passed_over() -> None:
    for description in (b"", MILLI[:6], b"\x19" + MILLI[1:], MILLI[:1] + b"\x7f" + MILLI[2:]):
        with pytest.raises(TransportError, match="nothing that describes itself"):
            measuring("g", [offered(1, OWN, description)], "mm", None)


def test_what_a_profile_reads_must_be_one_characteristic() -> None:
    out, other = offered(1, OWN), offered(2, OTHER)
    writes = Offered(3, full(0x2A00), False, True, None)
    assert sending("g", [out, writes], None, None) == (out, None)
    assert sending("g", [out, other, writes], OTHER, writes.uuid) == (other, writes)
    with pytest.raises(TransportError, match="which characteristic sends"):
        sending("g", [out, other], None, None)
    with pytest.raises(TransportError, match="has no characteristic"):
        sending("g", [out, writes], None, OTHER)


@pytest.mark.parametrize(
    ("format_", "raw", "digits"),
    [
        (0x0F, "FF FF FF", "-0.1"),
        (0x07, "FF FF FF", "1677721.5"),
        (0x05, "FF FF", "409.5"),
        (0x0D, "FF 0F", "-0.1"),
        (0x13, "FE" + "FF" * 15, "-0.2"),
        (0x14, "CD CC CC 3D", "0.1"),
        (0x15, "9A 99 99 99 99 99 B9 BF", "-0.1"),
        (0x16, "D2 F4", "123.4"),
    ],
)
def test_values_of_every_width(format_: int, raw: str, digits: str) -> None:
    decode = GattDecoding(format_, -1, 0x2701).decoder(0, 0)
    assert decode(bytes.fromhex(raw))[0] == digits


@pytest.mark.parametrize(
    ("format_", "raw", "code"),
    [
        (0x14, "00 00 C0 7F", "not-known"),
        (0x14, "00 00 80 7F", "not-known"),
        (0x16, "FF 07", "not-known"),
        (0x16, "00 08", "not-known"),
        (0x17, "FF FF 7F 00", "not-known"),
        (0x17, "01 00 00 7F", "exponent"),
        (0x15, "FF FF FF FF FF FF EF 7F", "exponent"),
        (0x10, "01 02 03", "layout"),
        (0x10, "", "layout"),
    ],
)
def test_what_is_no_value_is_none(format_: int, raw: str, code: str) -> None:
    with pytest.raises(DecodingError) as refused:
        GattDecoding(format_, -1, 0x2701).decoder(0, 0)(bytes.fromhex(raw))
    assert refused.value.code == code


@pytest.mark.parametrize(
    ("error", "platform", "says", "mend"),
    [
        (FileNotFoundError(2, "No such file"), "linux", "service is not running", "systemctl"),
        (PermissionError(1, "not permitted"), "linux", "no permission", "group bluetooth"),
        (PermissionError(1, "not permitted"), "darwin", "no permission", "Privacy"),
        (OSError("No Bluetooth adapters found."), "linux", "no Bluetooth LE adapter", "cable"),
        (OSError("org.bluez.Error.NotReady"), "win32", "switched off", "settings"),
        (TimeoutError(), "linux", "did not answer while connecting", "nearer"),
        (EOFError(), "win32", "service is not running", "services.msc"),
    ],
)
def test_trouble_says_why_and_the_mend(
    error: Exception, platform: str, says: str, mend: str
) -> None:
    told = trouble("ble://g", "connecting", error, platform)
    assert says in str(told)
    assert mend in told.mend
    assert told.port == "ble://g"


def test_trouble_already_told_stays() -> None:
    gone = PortGone("gone")
    assert trouble("g", "connecting", gone) is gone


def test_a_battery_is_told_and_a_low_one_with_the_mend() -> None:
    assert battery_words(None) == ""
    assert battery_words(21) == ", battery 21 %"
    assert "change or charge it" in battery_words(20)


async def test_a_child_that_is_ended_for_asking_tells_that_there_is_no_permission() -> None:
    killed = ("-c", "import os, signal; os.kill(os.getpid(), signal.SIGABRT)")
    with pytest.raises(TransportError, match="no permission") as refused:
        await ask_first("ble://g", "darwin", killed)
    assert "Privacy & Security" in refused.value.mend
    await ask_first("ble://g", "darwin", ("-c", ""))
    await ask_first("ble://g", "linux", killed)


def bench(text: str) -> list[str]:
    with pytest.raises(BenchError) as refused:
        parse_bench(text, "b.toml", Path())
    problems = refused.value.problems
    return [f"{problem.key.rsplit('.')[-1]}: {problem.message}" for problem in problems]


def test_a_radio_needs_no_profile_on_the_instrument_or_on_a_port() -> None:
    url = '[[port]]\nid = "radio"\nurl = "ble://Invented gauge"\n'
    for text in (row(), row(port="radio") + url):
        read = parse_bench(text, "b.toml", Path())
        assert read.ports[0].profile is DESCRIBED
        assert read.instruments[0].profile == "self-describing"
        assert read.ports[0].settings.silence_seconds == 10


def test_what_is_wrong_with_a_radio_in_the_bench_is_said() -> None:
    port = '[[port]]\nid = "radio"\nurl = "{url}"\n{more}\n'
    assert "names no Bluetooth device" in bench(row(port="ble://"))[0]
    wrong = port.format(url="ble://g", more='notify = "12"')
    assert bench(row(port="radio") + wrong) == ["notify: '12' is no UUID."]
    cable = port.format(url="socket://h:1", more=f'notify = "{OWN}"')
    assert bench(row(port="radio", more='profile = "decimal-line"') + cable) == [
        "notify: only a ble:// port has characteristics."
    ]
    assert bench(row(port="COM3", more='profile = "self-describing"')) == [
        "profile: only what is connected by Bluetooth describes itself."
    ]


async def test_a_gap_without_bytes_is_kept_in_the_record(tmp_path: Path) -> None:
    async with pipeline(tmp_path) as made:
        made.take([Undecodable("ble://g", "bore", b"", "gap", "out of reach", CLOCK.now())])
        await done(made.view(view.builds))
        data = made.archive.entry(made.size)
        assert data is not None
        body = json.loads(data)["body"]
    assert (body["code"], body["instrument"], body["raw"]) == ("gap", "bore", "")

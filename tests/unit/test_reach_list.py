"""What is found, what it seems to be, and lines of bench.toml that the bench accepts."""

from __future__ import annotations

import os
import struct
from decimal import Decimal
from pathlib import Path

import pytest

from capture.errors import BenchError, TransportError
from drivers.bench import Bench, parse_bench
from drivers.ble.choose import Offered
from drivers.ble.numbers import full
from drivers.keys.attached import Attached
from drivers.reach import kinds, paste
from drivers.reach.cables import cables
from drivers.reach.ears import Part
from drivers.reach.known import Known
from drivers.reach.listing import of_cables, of_keyboards, of_radio
from drivers.reach.survey import Heard, Inside
from drivers.transports.ports import PortInfo

OWN, OUT, IN = (f"3a1f00{n:02d}-7c52-4be8-8a10-52d8f1a90c11" for n in (1, 2, 3))
BATTERY, LENGTH, TORQUE = full(0x2A19), full(0x2C0A), full(0x2C0B)
MICRO = struct.pack("<BbHBH", 0x10, -6, 0x2701, 1, 0)
FLOAT = struct.pack("<BbHBH", 0x14, 0, 0x27A2, 1, 0)
ADDRESS = "C2:00:00:00:00:01"
FILLED = {
    'kind = "?"': 'kind = "gauge"',
    'profile = "?"': 'profile = "decimal-line"',
    'unit = "?"': 'unit = "mm"',
    'resolution = "?"': 'resolution = "0.01"',
}


def part(service: str, uuid: str, *, notifies: bool = True, writes: bool = False,
         description: bytes | None = None, handle: int = 1) -> Part:  # fmt: skip
    return Part(service, Offered(handle, uuid, notifies, writes, description))


def filled(lines: str) -> Bench:
    """The bench, once a person has written what only a person knows."""
    with pytest.raises(BenchError):
        parse_bench(lines, "b.toml", Path())  # nothing of it can be forgotten
    for asked, answer in FILLED.items():
        lines = lines.replace(asked, answer)
    return parse_bench(lines, "b.toml", Path())


# cables -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("device", "vendor", "says"),
    [
        ("/dev/ttyUSB0", 0x1A2B, "a USB serial cable, or a receiver"),
        ("/dev/ttyACM0", 0x1A2B, "a device with a USB plug of its own that is a serial port"),
        ("/dev/cu.usbmodem14", 0x1A2B, "a device with a USB plug of its own that is a serial port"),
        ("/dev/ttyS0", None, "a serial socket of this computer"),
        ("COM1", None, "a serial socket of this computer"),
        ("/dev/rfcomm0", None, "a serial port over Bluetooth of the older kind"),
        ("/dev/cu.Bluetooth-Incoming-Port", None, "a serial port over Bluetooth of the older"),
        ("/dev/ttyAMA0", None, "a serial port"),
    ],
)
def test_what_a_port_seems_to_be(device: str, vendor: int | None, says: str) -> None:
    assert kinds.of_cable(PortInfo(device, vendor_id=vendor)).startswith(says)


def test_a_cable_with_its_numbers_and_the_name_that_stays(tmp_path: Path) -> None:
    (tmp_path / "usb-Invented_Cable_A1-if00-port0").symlink_to("/dev/ttyUSB9")
    ports = [PortInfo("/dev/ttyUSB10", None), PortInfo("/dev/ttyUSB9", "A1", "Invented Cable",
             0x1A2B, 0x3C4D)]  # fmt: skip
    rows = of_cables(cables(ports, str(tmp_path)), Known(None))

    assert [row.port for row in rows] == ["/dev/ttyUSB9", "/dev/ttyUSB10"]
    assert rows[0].title == "Invented Cable"
    stable = f"{tmp_path}/usb-Invented_Cable_A1-if00-port0"
    assert rows[0].said == ("USB 1a2b:3c4d, serial number A1", f"also called {stable}")
    body = rows[0].to_body()
    assert (body["usb_vendor"], body["usb_product"]) == ("1a2b", "3c4d")
    bench = filled(rows[0].lines)
    assert bench.ports[0].settings.device == stable
    assert bench.ports[0].settings.usb_serial == "A1"
    second = filled(rows[1].lines)
    assert second.ports[0].settings.device == "/dev/ttyUSB10"
    both = filled(f"{rows[0].lines}\n{rows[1].lines}")  # pasted one after another
    assert [one.id for one in both.instruments] == ["gauge-1", "gauge-2"]


def test_a_port_that_is_open_elsewhere_says_so_without_being_opened() -> None:
    ours, theirs = os.openpty()
    try:
        name = os.ttyname(theirs)
        row = of_cables(cables([PortInfo(name)], "/nonexistent"), Known(None))[0]
    finally:
        os.close(ours)
        os.close(theirs)
    assert str(row.trouble).startswith(f"cannot open {name}: ")
    assert f"process {os.getpid()}" in str(row.trouble)


def test_a_port_that_is_not_ours_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    port = tmp_path / "ttyUSB0"
    port.touch(0o600)
    monkeypatch.setattr(os, "access", lambda *_: False)
    row = of_cables(cables([PortInfo(str(port))], "/nonexistent"), Known(None))[0]
    assert str(row.trouble) == f"cannot open {port}: no permission"
    assert row.lines  # it may be the one that is wanted, once it is mended


def test_two_cables_of_one_number_are_not_told_apart_by_it() -> None:
    twins = [PortInfo("/dev/ttyUSB8", "A1"), PortInfo("/dev/ttyUSB9", "A1")]
    for row in of_cables(cables(twins, "/nonexistent"), Known(None)):
        assert "usb_serial" not in row.lines


def test_what_is_on_the_bench_already_is_marked() -> None:
    row = '[[instrument]]\nid = "{id}"\nkind = "gauge"\nport = "{port}"\nunit = "mm"\n'
    row += 'resolution = "0.01"\nprofile = "{profile}"\n'
    text = "".join(
        row.format(id=name, port=port, profile=profile)
        for name, port, profile in (
            ("by-name", "/dev/ttyUSB7", "decimal-line"),
            ("by-number", "cable", "decimal-line"),
            ("net", "socket://h:1", "decimal-line"),
            ("radio", f"ble://{ADDRESS.lower()}", "self-describing"),
            ("named", "ble://Invented wrench", "self-describing"),
            ("gone", "/dev/ttyUSB5", "decimal-line"),
        )
    )
    text += '[[port]]\nid = "cable"\ndevice = "/dev/ttyUSB8"\nusb_serial = "A1"\n'
    known = Known(parse_bench(text, "b.toml", Path()))
    ports = [PortInfo("/dev/ttyUSB7"), PortInfo("/dev/ttyUSB8", "B2"), PortInfo("COM9", "A1")]

    rows = {row.port: row for row in of_cables(cables(ports, "/nonexistent"), known)}

    assert rows["/dev/ttyUSB7"].instruments == ("by-name",)
    assert rows["COM9"].instruments == ("by-number",)
    assert rows["/dev/ttyUSB8"].instruments == ()  # another cable has taken its name
    assert of_radio(heard(), None, known).instruments == ("radio",)
    assert of_radio(heard("C2:00:00:00:00:02", "Invented wrench"), None, known).instruments == (
        "named",
    )
    assert [port.settings.device for port in known.missing()] == ["/dev/ttyUSB5"]


def test_proposed_ids_are_free() -> None:
    taken = {"gauge-1", "gauge-2", "cable-1", "invented-gauge"}
    lines = paste.for_cable("/dev/ttyUSB0", "A1", taken)
    assert 'id = "gauge-3"' in lines
    assert 'id = "cable-2"' in lines
    named = paste.for_radio(f"ble://{ADDRESS}", "Invented Gauge", None, taken)
    assert 'id = "invented-gauge-2"' in named
    assert paste.slug("Große  Uhr №7!") == "gro-e-uhr-7"


# radios -----------------------------------------------------------------------------------------


def heard(address: str = ADDRESS, name: str | None = "Invented gauge", signal: int = -60,
          services: tuple[str, ...] = ()) -> Heard:  # fmt: skip
    return Heard(None, address, name, signal, services)  # type: ignore[arg-type]  # not connected


def listed(*parts: Part, battery: int | None = None) -> tuple[tuple[str, ...], str]:
    row = of_radio(heard(), Inside(parts, battery), Known(None))
    return row.seems, row.lines


def test_a_value_that_describes_itself_needs_kind_alone() -> None:
    seems, lines = listed(part(OWN, OUT, description=MICRO), part(full(0x180F), BATTERY))
    assert seems == ("describes its values itself (a length in m)",)
    bench = filled(lines)
    assert bench.instruments[0].unit == "mm"
    assert bench.instruments[0].resolution == Decimal("0.001")
    assert bench.instruments[0].profile == "self-describing"
    assert bench.ports[0].settings.device == f"ble://{ADDRESS}"


def test_the_standard_service_is_named_and_one_value_of_several_is_chosen() -> None:
    service = full(0x185A)
    seems, lines = listed(part(service, LENGTH), part(service, TORQUE, handle=2))
    assert seems == (
        "industrial measurement service: describes its values itself (a length in m and a torque "
        "in N·m)",
    )
    bench = filled(lines)
    assert bench.ports[0].settings.notify == LENGTH
    assert bench.instruments[0].resolution == Decimal("0.0001")
    assert f'# notify = "{TORQUE}"  # instead, with a unit like N·m' in lines


def test_a_float_says_no_step() -> None:
    _, lines = listed(part(OWN, OUT, description=FLOAT))
    assert 'unit = "in"' in lines
    assert filled(lines).instruments[0].resolution == Decimal("0.01")


def test_text_over_a_uart_like_service_needs_a_profile() -> None:
    seems, lines = listed(part(OWN, OUT), part(OWN, IN, notifies=False, writes=True, handle=2))
    assert seems == ("text or bytes over a UART-like service: needs a profile",)
    settings = filled(lines).ports[0].settings
    assert (settings.notify, settings.write) == (OUT, IN)
    seems, lines = listed(part(OWN, OUT))
    assert seems == ("sends messages of its own: needs a profile",)
    assert filled(lines).ports[0].settings.write is None


def test_what_sends_no_readings_has_no_lines() -> None:
    name = part(full(0x1800), full(0x2A00), notifies=False)
    changed = part(full(0x1801), full(0x2A05))
    seems, lines = listed(name, changed, part(full(0x180F), BATTERY), battery=12)
    assert seems == ("offers nothing that sends readings",)
    assert lines == ""
    row = of_radio(heard(), Inside((), 12), Known(None))
    assert row.said == (
        "signal -60 dBm",
        "battery low (12 %): change or charge it before it fails",
    )


def test_what_was_not_asked_says_what_it_tells_of_itself() -> None:
    services = (full(0x185A), full(0x180F), full(0x1812), OWN, full(0x180A))
    row = of_radio(heard(services=services), None, Known(None))
    assert row.seems == (
        "industrial measurement service: describes its values itself",
        "types like a keyboard: pair it with this computer, and it is listed as a keyboard",
        "a service of its own, not looked into",
    )
    assert filled(row.lines).ports[0].settings.device == f"ble://{ADDRESS}"
    assert row.to_body()["looked_into"] is False
    silent = of_radio(heard(services=()), None, Known(None))
    assert silent.seems == ("has not said what it offers",)


def test_what_could_not_be_asked_says_why_and_is_listed_all_the_same() -> None:
    refused = TransportError("it did not answer", mend="bring it nearer")
    row = of_radio(heard(services=(OWN,)), refused, Known(None))
    assert row.trouble is refused
    assert row.to_body()["trouble"] == {"what": "it did not answer", "mend": "bring it nearer"}


@pytest.mark.parametrize(
    ("name", "signal", "hidden"),
    [("Invented gauge", -60, False), (None, -60, True), ("Invented gauge", -95, True)],
)
def test_what_is_nameless_or_far_is_not_in_the_way(
    name: str | None, signal: int, hidden: bool
) -> None:
    assert of_radio(heard(name=name, signal=signal), None, Known(None)).hidden is hidden


# keyboards --------------------------------------------------------------------------------------


def test_keyboards_and_pedals() -> None:
    usb = ("1a2b", "3c4d")
    digits = frozenset(range(2, 12))
    found = [
        Attached("/dev/input/event1", "/dev/input/event1", "Power Button", frozenset({116}),
                 ("0000", "0001")[:1] * 2),
        Attached("/dev/input/event5", "/dev/input/by-id/usb-Invented-event-kbd", "Invented gauge",
                 digits, usb),
        Attached("/dev/input/event6", "/dev/input/by-id/usb-Pedal-event-kbd", "Invented pedal",
                 frozenset({183}), usb),
    ]  # fmt: skip
    text = '[[instrument]]\nid = "types"\nkind = "caliper"\nport = "keys:Invented gauge"\n'
    text += 'profile = "decimal-line"\nunit = "mm"\nresolution = "0.01"\n'
    bench = parse_bench(text, "b.toml", Path())

    gauge, pedal = of_keyboards(found, Known(bench))

    assert gauge.instruments == ("types",)
    assert gauge.seems == (
        "types digits: a keyboard, a gauge that types its readings, or a badge scanner",
    )
    assert filled(gauge.lines).ports[0].settings.device == "/dev/input/by-id/usb-Invented-event-kbd"
    assert pedal.seems == ("has keys and types no digits: a foot pedal, or buttons",)
    lines = pedal.lines.replace('does = "?"', 'does = "confirm"')
    assert parse_bench(text + lines, "b.toml", Path()).pedals[0].device == pedal.port


def test_a_keyboard_of_the_bench_that_may_not_be_read_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    node = tmp_path / "event5"
    node.touch()
    one = Attached(str(node), str(node), "Invented gauge", frozenset(range(2, 12)), ("1a2b", "3c"))
    text = '[[instrument]]\nid = "types"\nkind = "caliper"\nport = "keys:Invented gauge"\n'
    text += 'profile = "decimal-line"\nunit = "mm"\nresolution = "0.01"\n'
    monkeypatch.setattr(os, "access", lambda *_: False)
    known = Known(parse_bench(text, "b.toml", Path()))
    assert "no permission" in str(of_keyboards([one], known)[0].trouble)
    assert of_keyboards([one], Known(None))[0].trouble is None

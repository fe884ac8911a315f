"""Which port is the one looked for, why one cannot be opened, and how long to wait."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest
import serial

from capture.errors import BenchError, PortGone, TransportError
from drivers.adapters.backoff import Backoff
from drivers.bench import parse_bench
from drivers.transports.opening import open_serial
from drivers.transports.ports import PortInfo, find, system_ports
from drivers.transports.reason import cannot_open, lost
from drivers.transports.settings import PortSettings, is_com, plain_com
from tests.fake_ports import INSTRUMENT, bench, running

USB0, USB1 = "/dev/ttyUSB0", "/dev/ttyUSB1"
PLAIN = PortSettings("p", USB0)
NUMBERED = PortSettings("p", USB0, usb_serial="A1")


def test_the_usb_serial_number_finds_it_under_any_name() -> None:
    ports = [PortInfo(USB0, "B2"), PortInfo(USB1, "A1")]

    assert find(NUMBERED, ports).device == USB1
    assert find(PLAIN, ports, remembered="A1").device == USB1


def test_without_a_number_the_name_counts_and_the_number_is_learnt() -> None:
    assert find(PLAIN, [PortInfo(USB0, "B2")]) == (USB0, "B2")
    assert find(PLAIN, []) == (USB0, None)


def test_a_name_taken_over_by_another_cable_is_not_opened() -> None:
    for ports in ([PortInfo(USB0, "B2")], [PortInfo(USB0)]):
        with pytest.raises(PortGone, match="is now another cable") as caught:
            find(NUMBERED, ports)
        assert "plug this instrument's own cable in" in caught.value.mend


def test_a_cable_known_as_another_ports_own_is_not_opened() -> None:
    with pytest.raises(PortGone, match=r"another cable \(USB serial number B2\)"):
        find(PLAIN, [PortInfo(USB0, "B2")], remembered="A1", others={"B2"})


def test_a_cable_swapped_for_a_new_one_is_opened() -> None:
    assert find(PLAIN, [PortInfo(USB0, "C3")], remembered="A1", others={"B2"}) == (USB0, "C3")


def test_two_cables_with_one_number_are_told_apart_by_name_or_not_at_all() -> None:
    twins = [PortInfo(USB0, "A1"), PortInfo(USB1, "A1")]

    assert find(NUMBERED, twins).device == USB0
    with pytest.raises(PortGone, match="have the same USB serial number A1"):
        find(PortSettings("p", "/dev/ttyUSB7", usb_serial="A1"), twins)


def test_a_port_the_system_does_not_list_is_tried_by_name() -> None:
    assert find(NUMBERED, [PortInfo(USB1, "B2")]) == (USB0, None)


def test_urls_and_both_spellings_of_a_com_port() -> None:
    url = PortSettings("p", "socket://h:1", usb_serial="A1")
    assert find(url, [PortInfo(USB0, "A1")]).device == "socket://h:1"
    com = PortSettings("p", "\\\\.\\COM12")
    assert find(com, [PortInfo("COM12", "D4")]) == ("\\\\.\\COM12", "D4")
    assert is_com("COM3")
    assert is_com("\\\\.\\COM12")
    assert not is_com("/dev/COM3")
    assert not is_com("COMA")


@pytest.mark.parametrize("name", ["COM12", "com12", "\\\\.\\COM12", "\\\\.\\com12", "\\\\?\\COM12"])
def test_every_spelling_of_a_com_port_is_one_port(name: str) -> None:
    assert is_com(name)
    assert plain_com(name) == "COM12"
    assert find(PortSettings("p", name), [PortInfo("COM12", "D4")]).usb_serial == "D4"
    assert find(PortSettings("p", name), [PortInfo("com12", "D4")]).usb_serial == "D4"
    (port,) = bench(device=name.replace("\\", "\\\\")).ports
    assert port.settings.device == "COM12"


def test_pyserial_is_given_the_plain_name(monkeypatch: pytest.MonkeyPatch) -> None:
    """It adds the prefix itself where Windows needs one."""
    asked: list[str] = []

    def refuse(name: str, **_: object) -> None:
        asked.append(name)
        raise serial.SerialException("could not open port 'COM12': PermissionError(13,'',None,5)")

    monkeypatch.setattr(serial, "serial_for_url", refuse)
    for name in ("COM12", "\\\\.\\com12"):
        with pytest.raises(TransportError):
            open_serial(PortSettings("p", name), name)
    assert asked == ["COM12", "COM12"]


def test_one_com_port_spelled_in_two_ways_is_noticed() -> None:
    port = "[[port]]\nid = \"{id}\"\ndevice = '{device}'\n"
    two = port.format(id="a", device="COM12") + port.format(id="b", device="\\\\.\\com12")
    with pytest.raises(BenchError, match="COM12 is already the device of a"):
        parse_bench(two + INSTRUMENT.format(id="m", profile="decimal-line", more=""), "b", Path())
    row = (
        '[[instrument]]\nid = "{id}"\nkind = "gauge"\nport = \'{port}\'\nprofile = "decimal-line"\n'
    )
    row += 'unit = "mm"\nresolution = "0.001"\n'
    two = row.format(id="a", port="COM12") + row.format(id="b", port="\\\\.\\COM12")
    with pytest.raises(BenchError, match="is on the same port as a"):
        parse_bench(two, "b", Path())
    named = row.format(id="a", port="com12") + port.format(id="cable", device="\\\\.\\COM12")
    assert parse_bench(named, "b", Path()).ports[0].settings.id == "cable"


async def test_a_com_port_is_opened_by_its_own_name_and_found_by_its_number() -> None:
    """On any system: with a list of ports and an opener in the test's hands."""
    cable = bench(device="\\\\\\\\.\\\\COM12", port='usb_serial = "D4"')
    async with running(cable, [PortInfo("COM12", "D4")]) as workbench:
        await workbench.ready()
        assert [device for _, device in workbench.opened] == ["COM12"]
        workbench.ports[:] = [PortInfo("COM7", "D4"), PortInfo("COM12", "E5")]
        workbench.transports[-1].lost(PortGone("unplugged"))
        await workbench.waiting()
        workbench.wake.set()
        await workbench.ready(2)
        assert [device for _, device in workbench.opened] == ["COM12", "COM7"]


def test_this_machines_ports_can_be_listed() -> None:
    assert all(port.device for port in system_ports())


@pytest.mark.parametrize(
    ("code", "said", "mend"),
    [
        (errno.EACCES, "no permission", "usermod -aG dialout"),
        (errno.EPERM, "no permission", "udev rule"),
        (errno.EBUSY, "another program is using it", "close the other program"),
        (errno.EAGAIN, "another program is using it", "close the other program"),
        (errno.ENOENT, "there is no such port", "plug the cable in"),
        (errno.ENODEV, "there is no such port", "plug the cable in"),
        (errno.EINVAL, "does not take these settings", "check baud"),
        (errno.ENOTTY, "is no serial port", "a serial device like /dev/ttyUSB0 or COM3"),
        (errno.EISDIR, "is no serial port", "a serial device like /dev/ttyUSB0 or COM3"),
        (errno.EMFILE, "Too many open files", "replug"),
    ],
)
def test_why_a_port_cannot_be_opened_and_the_mend(code: int, said: str, mend: str) -> None:
    wrapped = serial.SerialException(
        code, f"could not open port {USB0}: [Errno {code}] {os.strerror(code)}: '{USB0}'"
    )

    error = cannot_open(USB0, wrapped, "linux")

    assert said in str(error)
    assert mend in error.mend
    assert error.port == USB0
    assert isinstance(error, PortGone) == (said == "there is no such port")


@pytest.mark.parametrize("kind", ["file", "folder", "null"])
def test_what_is_no_serial_port_is_said_to_be_none(tmp_path: Path, kind: str) -> None:
    (tmp_path / "readings.txt").write_text("1.000\n", "utf-8")
    devices = {"file": str(tmp_path / "readings.txt"), "folder": str(tmp_path), "null": os.devnull}
    device = devices[kind]

    with pytest.raises(TransportError) as caught:
        open_serial(PortSettings("p", device), device)

    assert str(caught.value) == f"cannot open {device}: it is no serial port"
    assert "bench.toml" in caught.value.mend
    assert "replug" not in caught.value.mend


def test_the_number_pyserial_keeps_in_its_text_is_read() -> None:
    dead = serial.SerialException("Could not configure port: (5, 'Input/output error')")

    assert "there is no such port" in str(cannot_open(USB0, dead, "linux"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("could not open port 'COM3': FileNotFoundError(2, 'x', None, 2)", "no such port"),
        ("could not open port 'COM3': PermissionError(13, 'x', None, 5)", "another program"),
    ],
)
def test_reasons_on_windows_are_read_from_the_text(text: str, said: str) -> None:
    assert said in str(cannot_open("COM3", serial.SerialException(text), "win32"))


def test_a_permission_elsewhere_names_no_linux_group() -> None:
    error = cannot_open(USB0, PermissionError(errno.EACCES, "x"), "darwin")

    assert "dialout" not in error.mend
    assert "ls -l" in error.mend


def test_a_server_that_speaks_no_rfc_2217() -> None:
    device = "rfc2217://h:1"
    told = serial.SerialException("Remote does not seem to support RFC2217 or BINARY mode")

    assert "socket://" in cannot_open(device, told).mend


def test_losses_of_cables_and_of_connections() -> None:
    assert str(lost(USB0, OSError(errno.EIO, "x"))) == f"{USB0} vanished"
    assert "closed the connection" in str(lost("socket://h:1", None))
    assert "network" in lost("socket://h:1", None).mend


def test_waits_grow_to_a_cap_and_begin_again() -> None:
    backoff = Backoff(lambda: 0.0, first=0.25, factor=2, cap=5, jitter=0.25)

    assert [backoff.wait() for _ in range(7)] == [0.25, 0.5, 1.0, 2.0, 4.0, 5.0, 5.0]
    backoff.reset()
    assert backoff.wait() == 0.25


def test_jitter_lengthens_a_wait_by_its_share_and_never_over_the_cap() -> None:
    numbers: Iterator[float] = (number / 10 for number in count())
    backoff = Backoff(lambda: next(numbers) % 1.01, first=1, factor=2, cap=5, jitter=0.5)

    assert [backoff.wait() for _ in range(4)] == pytest.approx([1.0, 2.1, 4.4, 5.0])


def test_errors_are_worth_trying_again() -> None:
    assert issubclass(PortGone, TransportError)

"""What gives the right to a port, who has it open, and the words for it."""

from __future__ import annotations

import errno
import grp
import os
import pwd
import subprocess
import sys
import tty
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from capture.errors import TransportError
from drivers.transports import rights
from drivers.transports.holders import Holder, holders
from drivers.transports.opening import open_serial
from drivers.transports.reason import busy, cannot_open, no_permission
from drivers.transports.rights import Node, mend, node, rule, usb_of
from drivers.transports.settings import PortSettings

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="Linux's own ways")


@pytest.fixture
def terminal() -> Iterator[str]:
    """The name of a pseudo-terminal, whose other side stays open."""
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    name = os.ttyname(theirs)
    os.close(theirs)
    yield name
    os.close(ours)


@pytest.mark.parametrize(
    ("found", "says"),
    [
        (
            Node("dialout", True, False, False),
            "belongs to the group dialout: sudo usermod -aG dial",
        ),
        (
            Node("uucp", True, False, False),
            "sudo usermod -aG uucp $USER, then log out and in again",
        ),
        (Node("dialout", True, True, False), "in the group dialout since you logged in: log out"),
        (Node("dialout", True, True, True), "a container, a sandbox or a security policy keeps it"),
        (Node("root", False, False, False), "no group of users may open it (it belongs to root)"),
        (Node("tty", False, True, True), "/etc/udev/rules.d/"),
    ],
)
def test_the_mend_is_the_one_that_works_for_this_user(found: Node, says: str) -> None:
    assert says in mend(found, ("1a2b", "3c4d"))


def test_a_rule_names_this_very_cable() -> None:
    told = mend(Node("root", True, False, False), ("1a2b", "3c4d"))
    assert 'SUBSYSTEM=="tty", ATTRS{idVendor}=="1a2b", ATTRS{idProduct}=="3c4d", GROUP="' in told
    assert 'MODE="0660"' in told
    assert "ATTRS" not in rule(None)


def test_the_group_that_really_owns_the_device_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    device = tmp_path / "port"
    device.touch()
    group = grp.getgrgid(device.stat().st_gid).gr_name
    device.chmod(0o660)
    assert node(str(device)) == Node(group, True, True, True)  # a user's own group
    device.chmod(0o600)
    assert node(str(device)) == Node(group, False, True, True)
    assert node(str(tmp_path / "none")) is None
    monkeypatch.setattr(rights, "in_force", lambda _: False)
    device.chmod(0o660)
    assert f"in the group {group} since you logged in" in no_permission(str(device), "linux").mend


def test_who_is_in_a_group_is_asked_of_the_system(monkeypatch: pytest.MonkeyPatch) -> None:
    user = SimpleNamespace(pw_name="somebody", pw_gid=1000)
    members = SimpleNamespace(gr_name="dialout", gr_gid=20, gr_mem=["somebody"])
    monkeypatch.setattr(pwd, "getpwuid", lambda _: user)
    monkeypatch.setattr(grp, "getgrnam", lambda _: members)
    assert rights.is_member("dialout")
    members.gr_mem = []
    assert not rights.is_member("dialout")
    user.pw_gid = 20
    assert rights.is_member("dialout")


def test_the_usb_plug_of_a_port_is_read_from_the_system(tmp_path: Path) -> None:
    plug = tmp_path / "devices/usb1/1-2"
    port = plug / "1-2:1.0/ttyUSB7"
    port.mkdir(parents=True)
    (plug / "idVendor").write_text("1a2b\n")
    (plug / "idProduct").write_text("3c4d\n")
    (tmp_path / "class/tty/ttyUSB7").mkdir(parents=True)
    (tmp_path / "class/tty/ttyUSB7/device").symlink_to(port)
    assert usb_of("/dev/ttyUSB7", str(tmp_path)) == ("1a2b", "3c4d")
    assert usb_of("/dev/ttyS3", str(tmp_path)) is None


def test_no_permission_elsewhere_names_no_group_of_linux() -> None:
    told = cannot_open("/dev/cu.x", PermissionError(errno.EACCES, "x"), "darwin")
    assert "dialout" not in told.mend
    assert "udev" not in told.mend


# who has it open -----------------------------------------------------------------------------


def test_a_port_open_here_is_refused_a_second_time_and_says_so(terminal: str) -> None:
    first = open_serial(PortSettings("p", terminal), terminal)
    try:
        with pytest.raises(TransportError) as refused:
            open_serial(PortSettings("p", terminal), terminal)
    finally:
        first.close()
    assert str(refused.value) == (
        f"cannot open {terminal}: this very program has it open already (process {os.getpid()})"
    )
    open_serial(PortSettings("p", terminal), terminal).close()


def test_another_program_that_asks_for_the_lock_is_refused(terminal: str) -> None:
    """Root too, whom the exclusive mode does not keep out."""
    code = (
        "import fcntl, os, sys, serial\n"
        "try:\n"
        "    fd = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)\n"
        "    fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)\n"
        "except OSError: print('refused')\n"
        "try: serial.Serial(sys.argv[1], exclusive=True)\n"
        "except serial.SerialException: print('refused')\n"
    )
    port = open_serial(PortSettings("p", terminal), terminal)
    try:
        said = subprocess.run(
            [sys.executable, "-c", code, terminal], capture_output=True, text=True, timeout=30
        )
    finally:
        port.close()
    assert said.stdout.split() == ["refused", "refused"], said.stderr


def test_another_user_cannot_even_open_it(terminal: str) -> None:
    """By the exclusive mode (tty_ioctl(4)), which asks nobody for a lock."""
    root = os.geteuid() == 0
    more: dict[str, Any] = {"user": 65534, "group": 65534, "extra_groups": []} if root else {}
    os.chmod(terminal, 0o666)
    words = ["/bin/sh", "-c", 'exec 3<>"$0"', terminal]

    def opened() -> bool:
        env = {"LC_ALL": "C"}
        said = subprocess.run(words, capture_output=True, text=True, timeout=30, env=env, **more)
        assert said.returncode == 0 or "busy" in said.stderr, said.stderr
        return said.returncode == 0

    port = open_serial(PortSettings("p", terminal), terminal)
    try:
        assert not opened()
    finally:
        port.close()


def test_the_program_that_has_a_port_is_named(terminal: str) -> None:
    code = (
        "import fcntl, os, sys\n"
        "fd = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY)\n"
        "fcntl.flock(fd, fcntl.LOCK_EX)\n"
        "print('open', flush=True)\n"
        "sys.stdin.read()\n"
    )
    other = subprocess.Popen(
        [sys.executable, "-c", code, terminal],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert other.stdout is not None
    assert other.stdin is not None
    try:
        assert other.stdout.readline() == "open\n"
        with pytest.raises(TransportError) as refused:
            open_serial(PortSettings("p", terminal), terminal)
        name = Path(f"/proc/{other.pid}/comm").read_text().strip()
    finally:
        other.stdin.close()
        other.wait(20)
        other.stdout.close()
    assert str(refused.value) == (
        f"cannot open {terminal}: another program is using it ({name}, process {other.pid})"
    )
    assert "close the other program" in refused.value.mend
    assert "modem service" in refused.value.mend


def test_what_is_not_ours_to_see_is_said_to_be_unknown(tmp_path: Path) -> None:
    (tmp_path / "17/fd").mkdir(parents=True)
    (tmp_path / "17/comm").write_text("reader\n")
    (tmp_path / "17/fd/3").symlink_to("/dev/ttyUSB7")
    (tmp_path / "17/fd/4").symlink_to("socket:[12]")
    (tmp_path / "18/fd").mkdir(parents=True)
    (tmp_path / "18/fd/3").symlink_to("/dev/ttyUSB7")
    (tmp_path / "19").mkdir()  # another user's: its files are not shown
    (tmp_path / "self/fd").mkdir(parents=True)

    found = holders("/dev/ttyUSB7", str(tmp_path))

    assert found == [Holder(17, "reader"), Holder(18, "")]
    assert [str(one) for one in found] == ["reader, process 17", "process 18"]
    assert holders("/dev/ttyUSB8", str(tmp_path)) == []


def test_a_busy_port_of_an_unknown_holder_says_how_to_find_it() -> None:
    linux = busy("/dev/ttyUSB-none", "linux")
    assert str(linux).endswith("(which one could not be known)")
    assert "'sudo fuser -v /dev/ttyUSB-none'" in linux.mend
    assert "'lsof /dev/cu.x' names it" in busy("/dev/cu.x", "darwin").mend
    windows = busy("COM12", "win32")
    assert "fuser" not in windows.mend
    assert "lsof" not in windows.mend

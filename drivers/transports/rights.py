"""What gives a person the right to a device on Linux: a group, a new login, or a udev rule."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import NamedTuple

SYS = "/sys"
RULES = "/etc/udev/rules.d/70-gauges.rules"
LOGIN = "log out and in again (a service: restart it)"


class Node(NamedTuple):
    """A device's owner and mode, and where the person stands."""

    group: str
    opens: bool
    """Whether the group may read and write it."""
    joined: bool
    """Whether the user is in the group, by the system's list of groups."""
    in_force: bool
    """Whether this process already has the group: a login keeps the groups it began with."""


def node(device: str) -> Node | None:
    """What is known of ``device``; None where it cannot be looked at."""
    try:
        import grp

        status = os.stat(device)
        group = grp.getgrgid(status.st_gid)
    except (ImportError, OSError, KeyError):
        return None
    opens = status.st_mode & stat.S_IRGRP != 0 and status.st_mode & stat.S_IWGRP != 0
    return Node(group.gr_name, opens, is_member(group.gr_name), in_force(group.gr_gid))


def in_force(gid: int) -> bool:
    """Whether this process has the group."""
    return gid in {os.getegid(), *os.getgroups()}


def is_member(group: str) -> bool:
    """Whether the user of this process is in ``group`` by the system's list."""
    try:
        import grp
        import pwd

        entry, user = grp.getgrnam(group), pwd.getpwuid(os.geteuid())
    except (ImportError, KeyError):
        return False
    return user.pw_name in entry.gr_mem or user.pw_gid == entry.gr_gid


def mend(found: Node | None, usb: tuple[str, str] | None) -> str:
    """What gives the right to open a device: the shortest way that works."""
    if found is None:
        return (
            "let your user into the group that owns the port (often dialout or uucp: "
            f"sudo usermod -aG dialout $USER, then {LOGIN}), or add a udev rule for the cable"
        )
    if found.opens and found.in_force:
        return (
            f"your user is in the group {found.group}, which may open it, and is refused all the "
            "same: a container, a sandbox or a security policy keeps it out; let the port in there"
        )
    if found.opens and found.joined:
        return f"your user is in the group {found.group} since you logged in: {LOGIN}"
    if found.opens and found.group != "root":
        return (
            f"it belongs to the group {found.group}: sudo usermod -aG {found.group} $USER, then "
            f"{LOGIN}"
        )
    return (
        f"no group of users may open it (it belongs to {found.group}): put this line into {RULES}, "
        f"then sudo udevadm control --reload, and replug the cable: {rule(usb)}"
    )


def rule(usb: tuple[str, str] | None) -> str:
    """The line of a udev rule that gives a cable to the group that has serial ports here."""
    cable = f'ATTRS{{idVendor}}=="{usb[0]}", ATTRS{{idProduct}}=="{usb[1]}", ' if usb else ""
    return f'SUBSYSTEM=="tty", {cable}GROUP="{_serial_group()}", MODE="0660"'


def _serial_group() -> str:
    """The group that serial ports belong to on this system, by the names in use."""
    try:
        import grp

        there = {entry.gr_name for entry in grp.getgrall()}
    except ImportError:
        there = set()
    return next((name for name in ("dialout", "uucp") if name in there), "dialout")


def usb_of(device: str, sys: str = SYS) -> tuple[str, str] | None:
    """Vendor and product of the USB plug a terminal device is on, four hexadecimal digits each."""
    name = os.path.basename(os.path.realpath(device))
    at = Path(os.path.realpath(f"{sys}/class/tty/{name}/device"))
    for folder in (at, *at.parents):
        try:
            vendor = (folder / "idVendor").read_text("ascii").strip()
            return vendor, (folder / "idProduct").read_text("ascii").strip()
        except (OSError, ValueError):
            continue
    return None

"""Why an input device cannot be read, and the mend, in words for a person."""

from __future__ import annotations

import errno
import os
from collections.abc import Sequence

from capture.errors import PortGone, TransportError
from drivers.keys.attached import Attached, attached
from drivers.transports import rights
from drivers.transports.holders import holders

_GONE = {errno.ENOENT, errno.ENODEV, errno.ENXIO}
RULES = "/etc/udev/rules.d/70-gauges.rules"


def cannot_open(device: str, error: OSError) -> TransportError:
    """The error to raise when an input device could not be opened, asked or grabbed."""
    if error.errno in (errno.EACCES, errno.EPERM):
        return _error(device, "no permission", _permit(device))
    if error.errno == errno.EBUSY:
        return _error(device, "another program has it for itself" + _who(device), _LET_GO)
    if error.errno in _GONE:
        mend = "plug it in, or correct its path; ls -l /dev/input/by-id shows those that are there"
        return PortGone(f"cannot open {device}: there is no such device", port=device, mend=mend)
    if error.errno in (errno.ENOTTY, errno.EINVAL, errno.EISDIR):
        mend = "name the path in /dev/input/by-id that ends in -event-kbd"
        return _error(device, "it is no input device that gives key events", mend)
    return _error(device, error.strerror or str(error), "unplug it and plug it in again")


_LET_GO = (
    "close that program (another service like this one, or one that remaps keys), and unplug and "
    "replug the device"
)


def not_linux(device: str) -> TransportError:
    """Only Linux hands keys of one device to one program."""
    return _error(
        device,
        "instruments that type, foot pedals and badge scanners are read directly on Linux alone",
        'set port = "typed" and open the bench page on this computer: choose the instrument there, '
        "and what it types is taken as its reading; pedals and badge scans work there too",
    )


def no_digits(device: str, name: str) -> TransportError:
    """It is an input device, and can type no number."""
    others = [one.stable for one in attached() if one.types_digits]
    there = f"those that type digits are {', '.join(others)}" if others else "none here types any"
    message = f"{name!r} has no digit keys: it is no keyboard"
    return _error(device, message, f"name the instrument's own device; {there}")


def no_key(device: str, name: str, key: str, known: Sequence[str]) -> TransportError:
    """A pedal is to listen to a key that its device does not have."""
    has = ", ".join(known[:12]) or "none"
    message = f"{name!r} has no key {key}"
    return _error(device, message, f"name one of its keys in bench.toml: {has}")


def not_found(device: str, name: str, found: Sequence[Attached]) -> TransportError:
    """``keys:NAME`` fits none, or more than one."""
    if not found:
        names = ", ".join(sorted({repr(one.name) for one in attached()})) or "none"
        mend = f"plug it in, or correct the name; input devices here are {names}"
        return PortGone(f"no input device is called {name!r}", port=device, mend=mend)
    paths = " or ".join(one.stable for one in found)
    message = f"{len(found)} input devices are called {name!r}"
    return TransportError(message, port=device, mend=f"name the one that is meant by path: {paths}")


def _error(device: str, why: str, mend: str) -> TransportError:
    return TransportError(f"cannot read {device}: {why}", port=device, mend=mend)


def _permit(device: str) -> str:
    """A rule for this one device first: the group that owns all of them may read every key typed
    on this computer."""
    node = os.path.realpath(device)
    here = next((one for one in attached() if one.device == node), None)
    match = 'SUBSYSTEM=="input"'
    if here is not None and all(here.usb):
        match += f', ATTRS{{id/vendor}}=="{here.usb[0]}", ATTRS{{id/product}}=="{here.usb[1]}"'
    owner = rights.node(device)
    group = owner.group if owner is not None else "input"
    return (
        f'put this line into {RULES}: {match}, TAG+="uaccess"; then sudo udevadm control '
        "--reload, and replug the device: so the person logged in may read it. (For a service that "
        f'runs without a login write GROUP="…", MODE="0640" in place of the tag. The group '
        f"{group} may read it too, and every other keyboard: sudo usermod -aG {group} $USER, then "
        "log in again.)"
    )


def _who(device: str) -> str:
    found = [one for one in holders(device) if one.pid != os.getpid()]
    return f" (it is open in {' and '.join(map(str, found))})" if found else ""

"""Why a port cannot be opened or was lost, and the mend, in words for a person."""

from __future__ import annotations

import errno
import os
import re
import sys

from capture.errors import PortGone, TransportError
from drivers.transports import rights
from drivers.transports.holders import holders

_DENIED = {errno.EACCES, errno.EPERM}
_BUSY = {errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK}
_GONE = {errno.ENOENT, errno.ENXIO, errno.ENODEV, errno.EIO}
_NO_PORT = {errno.ENOTTY, errno.EISDIR}
# Windows error numbers, the last in pyserial's text, "PermissionError(13, '…', None, 5)": file not
# found, access denied (there a port that is open elsewhere gives this), sharing violation; from
# memory of the system's error codes
_WINDOWS = {2: errno.ENOENT, 5: errno.EBUSY, 32: errno.EBUSY}


def cannot_open(device: str, error: Exception, platform: str = sys.platform) -> TransportError:
    """The error to raise when opening ``device`` failed with ``error``."""
    code = _code(error, platform)
    if "://" in device:
        return _no_network(device, error)
    if code in _DENIED:
        return no_permission(device, platform)
    if code in _BUSY:
        return busy(device, platform)
    if code in _GONE:
        mend = (
            "plug the cable in, or correct the port's name ('witnessmark instruments' lists the "
            "ports that are there)"
        )
        return PortGone(f"cannot open {device}: there is no such port", port=device, mend=mend)
    if code in _NO_PORT:
        mend = (
            "name the instrument's own port in bench.toml, a serial device like /dev/ttyUSB0 or "
            "COM3; this is a file or another kind of device"
        )
        return TransportError(f"cannot open {device}: it is no serial port", port=device, mend=mend)
    if code == errno.EINVAL or isinstance(error, ValueError):
        mend = "check baud, data_bits, parity and stop_bits in bench.toml, and that it is a port"
        return TransportError(
            f"cannot open {device}: it does not take these settings ({_said(error)})",
            port=device,
            mend=mend,
        )
    mend = "unplug and replug the cable"
    return TransportError(f"cannot open {device}: {_said(error)}", port=device, mend=mend)


def no_permission(device: str, platform: str = sys.platform) -> TransportError:
    """The error of a device that this user may not open."""
    if platform.startswith("linux"):
        mend = rights.mend(rights.node(device), rights.usb_of(device))
    else:
        mend = "let your user read and write the port (ls -l shows its owner and group)"
    return TransportError(f"cannot open {device}: no permission", port=device, mend=mend)


def busy(device: str, platform: str = sys.platform) -> TransportError:
    """The error of a device that is open already, and by whom."""
    found = holders(device)
    if found and all(one.pid == os.getpid() for one in found):
        return TransportError(
            f"cannot open {device}: this very program has it open already (process {os.getpid()})",
            port=device,
            mend="name the port once, and put all that hangs on it there",
        )
    mend = "close the other program that has this port open, or unplug and replug the cable"
    who = " and ".join(str(one) for one in found) or "which one could not be known"
    if platform.startswith("linux"):
        mend += "; a modem service that tries every new port lets it go within a minute"
        if not found:
            mend += f"; 'sudo fuser -v {device}' names programs of other users too"
    elif platform != "win32":
        mend += f"; 'lsof {device}' names it"
    return TransportError(
        f"cannot open {device}: another program is using it ({who})", port=device, mend=mend
    )


def lost(device: str, error: Exception | None) -> PortGone:
    """The error to hand on when an open port gives no more bytes."""
    if "://" in device:
        mend = "check the network and the serial server's power"
        why = f" ({_said(error)})" if error else ""
        return PortGone(f"{device} closed the connection{why}", port=device, mend=mend)
    code = getattr(error, "errno", None)
    why = "" if error is None or code in _GONE else f" ({_said(error)})"
    mend = "plug the cable back in; it is found again by itself"
    return PortGone(f"{device} vanished{why}", port=device, mend=mend)


def _no_network(device: str, error: Exception) -> TransportError:
    text = _said(error)
    mend = "check the address and port number, the network, and the serial server's power"
    if "RFC2217" in text.upper().replace(" ", ""):
        mend = "use socket:// if the server passes plain bytes on, or switch RFC 2217 on there"
    return TransportError(f"cannot open {device}: {text}", port=device, mend=mend)


def _code(error: Exception, platform: str) -> int | None:
    code: int | None = getattr(error, "errno", None)
    if code is None and platform == "win32":
        found = re.search(r"None, (\d+)\)", str(error))
        return _WINDOWS.get(int(found[1])) if found else None
    if code is None:
        # pyserial keeps the number in its text alone, where the port opens and takes no settings
        found = re.search(r"Could not configure port: \((\d+),", str(error))
        return int(found[1]) if found else None
    return code


def _said(error: Exception | None) -> str:
    """The system's own words, without pyserial's wrapping."""
    text = str(error)
    inner = re.search(r"\[Errno -?\d+\] (.+?)(?:: '[^']*')?$", text.removesuffix(")"))
    return inner[1] if inner else text

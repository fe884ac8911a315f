"""Why Bluetooth does not work, and the mend, in words for a person."""

from __future__ import annotations

import sys
from typing import NamedTuple

from capture.errors import PortGone, TransportError
from drivers.ble.blocked import blocked
from drivers.transports.rights import LOGIN, is_member

_REFUSED = ("AccessDenied", "AuthFailed")
_NO_SERVICE = ("ServiceUnknown", "NameHasNoOwner", "Error.Disconnected", "Error.NoReply",
               "Error.Spawn")  # fmt: skip
_UNPAIRED = ("Not paired", "NotAuthorized", "Error.Authentication", "Insufficient")
"""What is said of a device that gives nothing before it is paired; from memory, no source."""
SCANNING = "scanning"
ALL = "Bluetooth"
"""The device to name where no one device is meant."""


class Why(NamedTuple):
    """What keeps all of Bluetooth from being used here."""

    what: str
    mend: str


def why(error: BaseException, platform: str = sys.platform) -> Why | None:
    """What keeps Bluetooth as a whole from working, by the error that using it met; None where
    the error is of one device alone."""
    reason = getattr(getattr(error, "reason", None), "name", "")
    said = _said(error)
    if reason == "POWERED_OFF" or any(word in said for word in ("NotReady", "rfkill")) or (
        "powered" in said.lower()
    ):  # fmt: skip
        return Why("the Bluetooth radio is switched off", _switch_on(platform))
    denied = reason.startswith("DENIED") or isinstance(error, PermissionError)
    if denied or any(word in said for word in _REFUSED):
        return Why("there is no permission to use Bluetooth", _permit(platform))
    if isinstance(error, FileNotFoundError) and platform.startswith("linux"):
        return Why("the Bluetooth service is not running (there is no system bus)", _BUS)
    lost_bus = isinstance(error, FileNotFoundError | ConnectionError | EOFError)
    if lost_bus or any(word in said for word in _NO_SERVICE):
        return Why("the Bluetooth service is not running", _start(platform))
    if reason in ("NO_BLUETOOTH", "NO_BLE_CENTRAL_ROLE") or "adapter" in said.lower():
        mend = "plug a Bluetooth LE adapter in, or use this instrument's cable"
        return Why("this computer has no Bluetooth LE adapter", mend)
    return None


def trouble(device: str, doing: str, error: BaseException, platform: str = sys.platform) -> (
    TransportError
):  # fmt: skip
    """The error to raise when ``doing`` something with ``device`` failed with ``error``."""
    if isinstance(error, TransportError):
        return error
    if isinstance(error, TimeoutError):
        return _no_answer(device, doing, platform)
    found = why(error, platform)
    if found is not None:
        begin = f"{ALL} cannot be used" if device == ALL else f"cannot reach {device}"
        return TransportError(f"{begin}: {found.what}", port=device, mend=found.mend)
    if any(word in _said(error) for word in _UNPAIRED):
        return TransportError(
            f"{device}: {doing} was refused: it wants to be paired first",
            port=device,
            mend=_pair(platform),
        )
    mend = "bring it nearer, switch it off and on; it is tried again by itself"
    words = str(error) or type(error).__name__
    return PortGone(f"{device}: {doing} failed ({words})", port=device, mend=mend)


def _said(error: BaseException) -> str:
    reason = getattr(getattr(error, "reason", None), "name", "")
    return f"{getattr(error, 'dbus_error', '')} {reason} {error}"


def _no_answer(device: str, doing: str, platform: str) -> TransportError:
    if doing == SCANNING:  # no device is asked anything then
        begin = f"{ALL} cannot be used" if device == ALL else f"cannot reach {device}"
        what = f"{begin}: the Bluetooth service does not answer"
        return TransportError(what, port=device, mend=_restart(platform))
    return PortGone(
        f"{device} did not answer while {doing}",
        port=device,
        mend="bring it nearer, switch it off and on, and see that no phone is connected to it",
    )


_BUS = (
    "start both: sudo systemctl enable --now dbus bluetooth (Debian packages dbus and bluez); in a "
    "container, let the computer's /run/dbus in"
)


def _switch_on(platform: str) -> str:
    if not platform.startswith("linux"):
        return "switch Bluetooth on in the system's settings"
    by = blocked()
    if by == "switch":
        return "switch it on with the computer's own switch or key for radios (flight mode)"
    if by == "nothing":
        return "switch it on: bluetoothctl power on"
    return "switch it on: rfkill unblock bluetooth, then bluetoothctl power on"


def _start(platform: str) -> str:
    if platform.startswith("linux"):
        return "start it: sudo systemctl enable --now bluetooth (Debian package bluez)"
    if platform == "win32":
        return "start the Bluetooth Support Service (services.msc)"
    return "switch Bluetooth off and on in the system's settings"


def _restart(platform: str) -> str:
    if platform.startswith("linux"):
        return "restart it: sudo systemctl restart bluetooth; unplug and replug a plugged adapter"
    return _start(platform)


def _pair(platform: str) -> str:
    if platform.startswith("linux"):
        return "pair it with this computer (bluetoothctl, then pair and its address)"
    return "pair it with this computer in the system's Bluetooth settings"


def _permit(platform: str) -> str:
    if platform == "darwin":
        return "allow it in System Settings, Privacy & Security, Bluetooth"
    if not platform.startswith("linux"):
        return "allow it in Settings, Privacy, Radios"
    if is_member("bluetooth"):
        return (
            f"your user is in the group bluetooth, perhaps since you logged in: {LOGIN}; else a "
            "container or a security policy keeps it out"
        )
    return f"let your user into the group bluetooth: sudo usermod -aG bluetooth $USER, then {LOGIN}"

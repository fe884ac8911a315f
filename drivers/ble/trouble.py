"""Why Bluetooth does not work, and the mend, in words for a person."""

from __future__ import annotations

import sys

from capture.errors import PortGone, TransportError

_DENIED = ("AccessDenied", "NotAuthorized", "NotPermitted", "AuthFailed", "DENIED")
_NO_SERVICE = ("ServiceUnknown", "NameHasNoOwner", "Disconnected", "NoReply")


def trouble(device: str, doing: str, error: BaseException, platform: str = sys.platform) -> (
    TransportError
):  # fmt: skip
    """The error to raise when ``doing`` something with ``device`` failed with ``error``."""
    if isinstance(error, TransportError):
        return error
    reason = getattr(getattr(error, "reason", None), "name", "")
    said = f"{getattr(error, 'dbus_error', '')} {reason} {error}"
    if isinstance(error, TimeoutError):
        return PortGone(
            f"{device} did not answer while {doing}",
            port=device,
            mend="bring it nearer, switch it off and on, and see that no phone is connected to it",
        )
    if reason == "POWERED_OFF" or "NotReady" in said or "powered" in said.lower():
        return _error(device, "the Bluetooth radio is switched off", _switch_on(platform))
    if any(word in said for word in _DENIED) or isinstance(error, PermissionError):
        return _error(device, "there is no permission to use Bluetooth", _permit(platform))
    if _no_service(error, said):
        return _error(device, "the Bluetooth service is not running", _start(platform))
    if reason in ("NO_BLUETOOTH", "NO_BLE_CENTRAL_ROLE") or "adapter" in said.lower():
        mend = "plug a Bluetooth LE adapter in, or use this instrument's cable"
        return _error(device, "this computer has no Bluetooth LE adapter", mend)
    mend = "bring it nearer, switch it off and on; it is tried again by itself"
    words = str(error) or type(error).__name__
    return PortGone(f"{device}: {doing} failed ({words})", port=device, mend=mend)


def _no_service(error: BaseException, said: str) -> bool:
    lost_bus = isinstance(error, FileNotFoundError | ConnectionError | EOFError)
    return lost_bus or any(word in said for word in _NO_SERVICE)


def _error(device: str, what: str, mend: str) -> TransportError:
    return TransportError(f"cannot reach {device}: {what}", port=device, mend=mend)


def _switch_on(platform: str) -> str:
    if platform.startswith("linux"):
        return "switch it on: rfkill unblock bluetooth, then bluetoothctl power on"
    return "switch Bluetooth on in the system's settings"


def _start(platform: str) -> str:
    if platform.startswith("linux"):
        return "start it: sudo systemctl enable --now bluetooth (Debian package bluez)"
    if platform == "win32":
        return "start the Bluetooth Support Service (services.msc)"
    return "switch Bluetooth off and on in the system's settings"


def _permit(platform: str) -> str:
    if platform.startswith("linux"):
        return (
            "let your user into the group bluetooth (sudo usermod -aG bluetooth $USER, then log "
            "in again)"
        )
    if platform == "darwin":
        return "allow it in System Settings, Privacy & Security, Bluetooth"
    return "allow it in Settings, Privacy, Radios"

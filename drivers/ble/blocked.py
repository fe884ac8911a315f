"""Whether the computer's radios are blocked, as Linux tells it in /sys/class/rfkill."""

from __future__ import annotations

from pathlib import Path

SYS = "/sys"


def blocked(sys: str | None = None) -> str:
    """What blocks Bluetooth: ``switch`` (a switch or key of the computer), ``software``,
    ``nothing``, or ``unknown`` where the system does not tell."""
    found = "unknown"
    for folder in sorted(Path(sys or SYS, "class/rfkill").glob("*")):
        if _read(folder / "type") != "bluetooth":
            continue
        if _read(folder / "hard") == "1":
            return "switch"
        found = "software" if _read(folder / "soft") == "1" or found == "software" else "nothing"
    return found


def _read(file: Path) -> str:
    try:
        return file.read_text("ascii").strip()
    except (OSError, ValueError):
        return ""

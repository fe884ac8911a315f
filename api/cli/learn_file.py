"""Presses from a file: what ``witnessmark capture`` writes, once the sizes are added."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from capture.errors import CaptureError, UnitError

if TYPE_CHECKING:
    from drivers.learn.hear_which import Judged, Pressed
    from drivers.learn.line.setting import Setting
    from drivers.learn.press import Press

EXAMPLE = '{"at": "10 mm", "hex": "32 35 0D"}'
_TOLD = {"remark", "capture"}
"""Lines with one of these are no presses: how the port was opened, and that it was lost."""


class Captured(NamedTuple):
    """What the file says."""

    presses: list[tuple[Press, str | None]]
    """Each press with the characteristic that sent it."""
    head: dict[str, Any]
    """How the port was opened, where the file says it."""
    settings: list[Setting | None]
    """Of the line at each press, where the file says it."""


def captured(file: Path) -> Captured:
    """The presses in ``file``; raises ``CaptureError`` that names the line and the mend."""
    try:
        lines = file.read_text(encoding="utf-8").splitlines()
    except UnicodeDecodeError:
        raise CaptureError(f"{file} is not UTF-8 text. Mend: save it as UTF-8.") from None
    presses: list[tuple[Press, str | None]] = []
    settings: list[Setting | None] = []
    head: dict[str, Any] = {}
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        row = _row(line, f"{file}:{number}")
        if isinstance(row, dict) and "hex" not in row and _TOLD & set(row):
            head = row if "capture" in row else head
        else:
            presses.append(_press(row, f"{file}:{number}"))
            settings.append(_setting(head))
    return Captured(presses, head, settings)


def _setting(head: dict[str, Any]) -> Setting | None:
    """The line's settings as a capture's first line has them; None where it has none, or such as
    are not looked for."""
    from drivers.learn.line.setting import FORMS, Form, Setting

    try:
        form = Form(head["data_bits"], head["parity"], head["stop_bits"])
        baud = head["baud"]
    except KeyError:
        return None
    return Setting(baud, form) if form in FORMS and isinstance(baud, int) and baud > 0 else None


def learned_from(presses: list[tuple[Press, str | None]]) -> Judged:
    """What they teach; each characteristic is learned by itself."""
    from drivers.learn.hear_which import Judged, judged
    from drivers.learn.learn import learn

    if not any(name for _, name in presses):
        return Judged(learn([press for press, _ in presses]), None)
    return judged(_together(presses))


def _together(presses: list[tuple[Press, str | None]]) -> list[Pressed]:
    """Neighbouring lines of one size from different characteristics are one press."""
    from drivers.learn.hear_which import Pressed

    found: list[Pressed] = []
    last: Press | None = None
    for press, name in presses:
        key = name or ""
        same = last is not None and (last.size, last.unit, last.switched) == (
            press.size, press.unit, press.switched
        )  # fmt: skip
        if same and found and key not in found[-1].parts:
            found[-1].parts[key] = press.raw
        else:
            at = f"{press.size} {press.unit}" if press.unit else None
            found.append(Pressed(at, {key: press.raw}, press.switched))
        last = press
    return found


def _row(line: str, where: str) -> Any:
    try:
        return json.loads(line)
    except json.JSONDecodeError as error:
        raise CaptureError(
            f"{where}: is no JSON: {error.msg}. Mend: one press a line, like {EXAMPLE}."
        ) from None


def _press(row: Any, where: str) -> tuple[Press, str | None]:
    from drivers.learn.press import press_from

    if isinstance(row, dict) and "hex" in row and "at" not in row:
        raise CaptureError(
            f"{where}: does not say the size that was pressed. Mend: add it, like "
            '"at": "10 mm" (and "unit": "in" where the gauge was switched to another unit); '
            'write "at": null where nobody knows it, or take the line out.'
        )
    name = row.get("characteristic") if isinstance(row, dict) else None
    if name is not None and not isinstance(name, str):
        raise CaptureError(f'{where}: "characteristic" is no text. Mend: write its UUID there.')
    try:
        return press_from(row), name
    except (ValueError, UnitError) as error:
        raise CaptureError(f"{where}: {error}") from None

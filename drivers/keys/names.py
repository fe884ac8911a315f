"""What keys are called, and what they type.

The numbers are the kernel's (include/uapi/linux/input-event-codes.h). They say where a key is, not
what is printed on it: what it types is read as on a keyboard of the United States, which is how
most instruments that type are set; ``keys`` of bench.toml says where one differs.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

_ROWS = (
    (2, "1234567890-=", "!@#$%^&*()_+"),
    (16, "qwertyuiop[]", "QWERTYUIOP{}"),
    (30, "asdfghjkl;'`", 'ASDFGHJKL:"~'),
    (43, "\\zxcvbnm,./", "|ZXCVBNM<>?"),
)
_KEYPAD = {55: "*", 98: "/", 117: "=", 121: ","} | dict(enumerate("789-456+1230.", 71))
# digits whether or not "num lock" is lit: an instrument means them
_ALWAYS = {15: "\t", 28: "\n", 57: " ", 96: "\n"} | _KEYPAD

TYPES: Final[dict[tuple[int, bool], str]] = {
    (code, shifted): letter
    for first, plain, upper in _ROWS
    for shifted, letters in ((False, plain), (True, upper))
    for code, letter in enumerate(letters, first)
} | {(code, shifted): letter for code, letter in _ALWAYS.items() for shifted in (False, True)}
"""(Key, whether a shift is held) → the character it types."""

SHIFTS: Final = frozenset({42, 54})
HELD: Final = {29: "ctrl", 97: "ctrl", 56: "alt", 100: "alt", 125: "meta", 126: "meta"}
"""Keys that change what another one does: with one of them held, no key types a character."""
SILENT: Final = SHIFTS | set(HELD) | {69, 70}
"""Keys that type nothing and need no mention: those held, num lock and scroll lock."""

_WORDS = {
    "esc": 1,
    "backspace": 14,
    "tab": 15,
    "enter": 28,
    "left-ctrl": 29,
    "left-shift": 42,
    "right-shift": 54,
    "left-alt": 56,
    "space": 57,
    "caps-lock": 58,
    "num-lock": 69,
    "scroll-lock": 70,
    "f11": 87,
    "f12": 88,
    "keypad-enter": 96,
    "right-ctrl": 97,
    "right-alt": 100,
    "home": 102,
    "up": 103,
    "page-up": 104,
    "left": 105,
    "right": 106,
    "end": 107,
    "down": 108,
    "page-down": 109,
    "insert": 110,
    "delete": 111,
    "mute": 113,
    "volume-down": 114,
    "volume-up": 115,
    "pause": 119,
    "left-meta": 125,
    "right-meta": 126,
    "menu": 127,
    "next": 163,
    "play": 164,
    "previous": 165,
    "mouse-left": 0x110,
    "mouse-right": 0x111,
    "mouse-middle": 0x112,
}

CODES: Final[dict[str, int]] = (
    _WORDS
    | {letter: code for first, plain, _ in _ROWS for code, letter in enumerate(plain, first)}
    | {f"keypad-{letter}": code for code, letter in _KEYPAD.items()}
    | {f"f{number}": 58 + number for number in range(1, 11)}
    | {f"f{number}": 170 + number for number in range(13, 25)}
)
"""Name → key."""
_NAMES = {code: name for name, code in CODES.items()}
MOST: Final = 0x2FF
"""The highest key number there is (KEY_MAX)."""
DIGITS: Final = frozenset(range(2, 12)), frozenset({71, 72, 73, 75, 76, 77, 79, 80, 81, 82})
"""The digit keys of the number row, and of the keypad."""


def name_of(code: int) -> str:
    """What a key is called here: its number where it has no name."""
    return _NAMES.get(code, f"key-{code}")


def code_of(name: str) -> int | None:
    """The key of this name, ``key-NUMBER`` for any; None where there is none."""
    known = CODES.get(name.strip().lower().replace(" ", "-") if len(name) > 1 else name.lower())
    if known is None and name.startswith("key-") and name[4:].isdecimal():
        return int(name[4:]) if int(name[4:]) <= MOST else None
    return known


def changes_of(keys: Sequence[tuple[str, str]]) -> dict[tuple[int, bool], str]:
    """What ``keys`` of bench.toml says, as ``TYPES`` has it; raises ValueError naming what is no
    key or no character."""
    changes = {}
    for written, letter in keys:
        shifted = written.startswith("shift+") and written != "shift+"
        code = code_of(written.removeprefix("shift+") if shifted else written)
        if code is None:
            raise ValueError(f"{written!r} is no key known here")
        if len(letter) != 1 or not (letter in _ENDS or " " <= letter <= "~"):
            raise ValueError(f"{letter!r} is not one character of plain text")
        changes[code, shifted] = letter
    return changes


_ENDS = "\t\n\r"

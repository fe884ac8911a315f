"""Numbers of the kernel's input interface, against the header of this system.

Source: include/uapi/linux/input.h and input-event-codes.h of the Linux kernel, as installed in
/usr/include/linux (package linux-libc-dev), compiled here.
"""

from __future__ import annotations

import shutil
import struct
import subprocess
from pathlib import Path

import pytest

from drivers.keys import event, keyboard, names
from tests import key_events

_SINGLE = {
    "enter": "KEY_ENTER",
    "tab": "KEY_TAB",
    "space": "KEY_SPACE",
    "esc": "KEY_ESC",
    "backspace": "KEY_BACKSPACE",
    "keypad-enter": "KEY_KPENTER",
    "left-shift": "KEY_LEFTSHIFT",
    "right-shift": "KEY_RIGHTSHIFT",
    "left-ctrl": "KEY_LEFTCTRL",
    "right-ctrl": "KEY_RIGHTCTRL",
    "left-alt": "KEY_LEFTALT",
    "right-alt": "KEY_RIGHTALT",
    "left-meta": "KEY_LEFTMETA",
    "right-meta": "KEY_RIGHTMETA",
    "menu": "KEY_COMPOSE",
    "caps-lock": "KEY_CAPSLOCK",
    "num-lock": "KEY_NUMLOCK",
    "scroll-lock": "KEY_SCROLLLOCK",
    "page-up": "KEY_PAGEUP",
    "page-down": "KEY_PAGEDOWN",
    "volume-up": "KEY_VOLUMEUP",
    "volume-down": "KEY_VOLUMEDOWN",
    "mute": "KEY_MUTE",
    "pause": "KEY_PAUSE",
    "home": "KEY_HOME",
    "end": "KEY_END",
    "insert": "KEY_INSERT",
    "delete": "KEY_DELETE",
    "up": "KEY_UP",
    "down": "KEY_DOWN",
    "left": "KEY_LEFT",
    "right": "KEY_RIGHT",
    "next": "KEY_NEXTSONG",
    "play": "KEY_PLAYPAUSE",
    "previous": "KEY_PREVIOUSSONG",
    "mouse-left": "BTN_LEFT",
    "mouse-right": "BTN_RIGHT",
    "mouse-middle": "BTN_MIDDLE",
}
_SIGNS = {
    "-": "MINUS",
    "=": "EQUAL",
    "[": "LEFTBRACE",
    "]": "RIGHTBRACE",
    ";": "SEMICOLON",
    "'": "APOSTROPHE",
    "`": "GRAVE",
    "\\": "BACKSLASH",
    ",": "COMMA",
    ".": "DOT",
    "/": "SLASH",
}
_PAD = {"*": "ASTERISK", "/": "SLASH", "-": "MINUS", "+": "PLUS", ".": "DOT", ",": "COMMA"}
_PAD["="] = "EQUAL"


def header_name(name: str) -> str:
    """What the header calls a key of ours."""
    if name in _SINGLE:
        return _SINGLE[name]
    if name.startswith("keypad-"):
        sign = name.removeprefix("keypad-")
        return f"KEY_KP{_PAD.get(sign, sign)}"
    return f"KEY_{_SIGNS.get(name, name.upper())}"


@pytest.fixture(scope="module")
def compiled(tmp_path_factory: pytest.TempPathFactory) -> dict[str, int]:
    """What a C compiler makes of the header."""
    compiler = shutil.which("gcc") or shutil.which("cc")
    if compiler is None or not Path("/usr/include/linux/input.h").exists():
        pytest.skip("no C compiler, or no <linux/input.h>, on this system")
    wanted = {
        "size": "sizeof(struct input_event)",
        "grab": "EVIOCGRAB",
        "name": "EVIOCGNAME(256)",
        "bits": "EVIOCGBIT(EV_KEY, 96)",
        **{name: name for name in ("EV_SYN", "EV_KEY", "EV_MSC", "MSC_SCAN", "KEY_MAX")},
        **{name: name for name in ("SYN_REPORT", "SYN_DROPPED")},
        **{name: header_name(name) for name in names.CODES},
    }
    lines = [f'printf("%lld\\n", (long long)({what}));' for what in wanted.values()]
    folder = tmp_path_factory.mktemp("header")
    source, program = folder / "numbers.c", folder / "numbers"
    body = "\n".join(lines)
    source.write_text(
        f"#include <stdio.h>\n#include <linux/input.h>\nint main(void) {{\n{body}\nreturn 0; }}\n"
    )
    subprocess.run([compiler, "-o", program, source], check=True, timeout=60)
    said = subprocess.run([program], check=True, capture_output=True, text=True, timeout=10)
    return dict(zip(wanted, map(int, said.stdout.split()), strict=True))


def test_the_event(compiled: dict[str, int]) -> None:
    assert event.EVENT.size == compiled["size"]
    assert compiled["EV_SYN"] == event.EV_SYN
    assert compiled["EV_KEY"] == event.EV_KEY
    assert compiled["SYN_REPORT"] == event.SYN_REPORT
    assert compiled["SYN_DROPPED"] == event.SYN_DROPPED
    if struct.calcsize("P") == 8:
        assert len(key_events.REPORT) == compiled["size"] == 24
        scan = event.EVENT.unpack(key_events.change(30, 1)[:24])
        assert scan[2:4] == (compiled["EV_MSC"], compiled["MSC_SCAN"])


def test_the_requests(compiled: dict[str, int]) -> None:
    assert compiled["grab"] == keyboard.EVIOCGRAB
    assert compiled["name"] == keyboard.EVIOCGNAME
    assert compiled["bits"] == keyboard.EVIOCGBIT_KEY


def test_every_key_with_a_name(compiled: dict[str, int]) -> None:
    assert {name: compiled[name] for name in names.CODES} == names.CODES
    assert compiled["KEY_MAX"] == names.MOST


def test_what_types_a_character_is_a_key_of_that_name(compiled: dict[str, int]) -> None:
    for (code, shifted), letter in names.TYPES.items():
        if shifted or letter in "\t\n ":
            continue
        assert code in {compiled.get(letter), compiled.get(f"keypad-{letter}")}, letter
    assert {compiled["left-shift"], compiled["right-shift"]} == names.SHIFTS
    assert {names.name_of(code).split("-")[1]: word for code, word in names.HELD.items()} == {
        word: word for word in ("ctrl", "alt", "meta")
    }


def test_the_recording_writes_the_same_keys(compiled: dict[str, int]) -> None:
    for letter in "1234567890-=,./qwertyuiopasdfghjklzxcvbnm":
        assert key_events.keys_of(letter) == [(compiled[letter], False)]
    assert key_events.keys_of("\n")[0][0] == compiled["enter"] == key_events.ENTER
    assert key_events.keys_of("\t")[0][0] == compiled["tab"]
    assert key_events.keys_of(" ")[0][0] == compiled["space"]
    assert compiled["left-shift"] == key_events.SHIFT
    assert compiled["f13"] == key_events.F13
    assert compiled["keypad-7"] == key_events.KEYPAD_7

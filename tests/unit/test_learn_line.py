"""Speed and form of a serial line from what was heard at other settings."""

from __future__ import annotations

import json
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner

from api.cli import root
from api.cli.learning import asked_bytes
from capture.errors import CaptureError
from drivers.learn.line.form import form_of
from drivers.learn.line.judge import line_of
from drivers.learn.line.rank import message_of, next_setting, ranked
from drivers.learn.line.seen import as_seen_at
from drivers.learn.line.setting import FORMS, PLAIN, SPEEDS, Form, Setting, named
from drivers.learn.line.stretch import explained
from drivers.learn.line.trial import Trial, marked
from drivers.learn.press import press_of
from simulators.uart import LineSettings, receive, transmit

MESSAGE = b"+0063.17 mm\r\n"
SIZES = ("0", "100", "63.17", "-20.05", "25.4")
EVEN, ODD = Form(8, "even", 1), Form(8, "odd", 1)


def on_line(setting: Setting) -> LineSettings:
    return LineSettings(setting.baud, *setting.form)


def heard(
    message: bytes, sender: Setting, receiver: Setting, *, marks: bool = False, faults: bool = False
) -> Trial:
    """By the simulators' line, which shares no code with the learner."""
    found = receive(transmit(message, on_line(sender)), on_line(receiver))
    wrong = frozenset(n for n, c in enumerate(found) if c.framing_error or c.parity_error)
    return Trial(
        receiver,
        bytes(c.value for c in found),
        wrong if marks else None,
        bool(wrong) if faults else None,
    )


def written(size: str) -> bytes:
    return f"{Decimal(size):+08.2f} mm\r\n".encode()


@pytest.mark.parametrize("ratio", [1 / 5, 1 / 3, 1, 2, 4, 8])
@pytest.mark.parametrize("sender", FORMS, ids=lambda form: form.name)
def test_what_is_seen_is_what_a_line_of_bits_gives(sender: Form, ratio: float) -> None:
    data = bytes(range(0, 256, 5)) + MESSAGE
    for form in FORMS:
        receiver = Setting(round(9600 * ratio), form)
        ours = as_seen_at(data, Setting(9600, sender), receiver)
        theirs = receive(transmit(data, on_line(Setting(9600, sender))), on_line(receiver))
        assert [one.value for one in ours] == [one.value for one in theirs]
        assert [one.wrong for one in ours] == [
            one.parity_error or one.framing_error for one in theirs
        ]


def test_marks_of_errors_are_taken_off() -> None:
    # termios(3): with PARMRK, 377 000 c is c with an error; 377 377 is 377
    assert marked(b"A\xff\x00B\xff\xffC") == (b"AB\xffC", frozenset({1}))
    assert marked(b"\xff\x00\x00\xff\x00\xff") == (b"\x00\xff", frozenset({0, 1}))
    assert marked(b"\xff") == (b"\xff", frozenset())


@pytest.mark.parametrize("ratio", [2, 3, 4])
def test_stretched_copies_are_read_back(ratio: int) -> None:
    sender, receiver = Setting(9600), Setting(9600 * ratio)
    trial = Trial(receiver, bytes(one.value for one in as_seen_at(MESSAGE, sender, receiver)))
    sent = explained(trial, sender)
    assert sent is not None
    assert sent.message[:3] == MESSAGE[:3]
    for other in (Setting(4800), receiver):
        wrong = explained(trial, other)
        assert wrong is None or wrong.cost > sent.cost


FROM_9600 = [
    (baud, form) for baud in (1200, 2400, 4800) for form in (PLAIN, Form(7, "even", 1), EVEN)
]


@pytest.mark.parametrize(("baud", "form"), FROM_9600)
def test_a_slower_sender_is_known_from_its_garbage_alone(baud: int, form: Form) -> None:
    trials = [heard(MESSAGE, Setting(baud, form), Setting(9600))]
    order = ranked(trials)
    assert order[0].setting.baud == baud
    assert message_of(trials, order) is None  # not certain: it was not listened with
    assert next_setting(trials, order) == Setting(baud)


@pytest.mark.parametrize("baud", SPEEDS)
@pytest.mark.parametrize("form", [PLAIN, Form(7, "odd", 1), ODD], ids=lambda form: form.name)
def test_every_speed_is_found_in_a_few_presses(baud: int, form: Form) -> None:
    sender, setting = Setting(baud, form), Setting()
    trials: list[Trial] = []
    for count in range(1, 7):
        trials.append(heard(written(f"{10 + count}.37"), sender, setting))
        order = ranked(trials)
        if message_of(trials, order):
            break
        following = next_setting(trials, order)
        assert following is not None
        setting = following
    assert setting.baud == baud
    assert count <= 5
    assert next_setting([], ranked([])) == Setting()


def trials_of(sender: Setting, receiver: Setting, sizes: Sequence[str] = SIZES) -> list[Trial]:
    return [heard(written(size), sender, receiver, marks=True) for size in sizes]


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
def test_the_form_is_known_from_what_eight_bits_show(form: Form) -> None:
    found = form_of(trials_of(Setting(9600, form), Setting()))
    # a second stop bit is no other than a pause
    assert found.form == (PLAIN if form == Form(8, "none", 2) else form)
    assert found.strip == (form.data_bits == 7)


def test_a_port_that_only_tells_that_there_were_errors_is_asked_once_more() -> None:
    sender = Setting(9600, ODD)
    plain = [heard(written(size), sender, Setting(), faults=True) for size in SIZES]
    found = form_of(plain)
    assert found.ask == EVEN
    more = heard(MESSAGE, sender, Setting(9600, EVEN), faults=True)
    assert form_of([*plain, more]).ask == ODD
    last = heard(MESSAGE, sender, Setting(9600, ODD), faults=True)
    assert form_of([*plain, more, last]).form == ODD


def test_errors_without_a_pattern_are_no_parity() -> None:
    trial = Trial(Setting(), MESSAGE, frozenset({1, 2, 3, 9}))
    found = form_of([trial])
    assert found.form == PLAIN
    assert "disturbed" in found.why


def test_presses_at_the_right_setting_are_certain_and_others_never() -> None:
    sender = Setting(4800, Form(7, "even", 1))
    presses = [press_of(f"{size} mm", written(size)) for size in SIZES]
    for receiver, sure in ((Setting(4800), True), (Setting(9600), False), (Setting(1200), False)):
        trials = [heard(written(size), sender, receiver) for size in SIZES]
        taken = [
            press_of(f"{press.size} mm", trial.raw)
            for trial, press in zip(trials, presses, strict=True)
        ]
        line = line_of(trials, taken)
        assert (line.sure == sender) == sure, line
        assert line.learned.sure == sure
    assert line_of([], []).sure is None


def test_forms_have_names() -> None:
    assert named("7e1") == Form(7, "even", 1)
    assert Setting(4800, Form(7, "none", 2)).lines() == [
        "baud = 4800", "data_bits = 7", "stop_bits = 2"
    ]  # fmt: skip
    with pytest.raises(ValueError, match="8N1"):
        named("9X1")


def test_what_is_asked_is_text_or_hexadecimal() -> None:
    assert asked_bytes("V\\r") == b"V\r"
    assert asked_bytes("\\x02R\\\\\\n") == b"\x02R\\\n"
    assert asked_bytes("56 0D") == asked_bytes("0x560D") == b"V\r"
    with pytest.raises(CaptureError, match="--ask"):
        asked_bytes("\N{EURO SIGN}")


# ── captures ─────────────────────────────────────────────────────────────────────────────────────


def run(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(root, ["learn", *words])
    return result.exit_code, result.output


def head(setting: Setting) -> dict[str, object]:
    """As ``witnessmark capture`` begins a file."""
    bits, parity, stop = setting.form
    return {"capture": 1, "witnessmark": "1", "time": "2031-01-01T00:00:00Z", "port": "/dev/ttyX",
            "baud": setting.baud, "data_bits": bits, "parity": parity, "stop_bits": float(stop),
            "gap_ms": 50}  # fmt: skip


def press(size: str, raw: bytes, **more: str) -> dict[str, object]:
    return {"time": "2031-01-01T00:00:01Z", "hex": raw.hex(" "), "at": f"{size} mm", **more}


def file_of(folder: Path, *rows: object) -> Path:
    file = folder / "capture.jsonl"
    file.write_text("".join(json.dumps(row) + "\n" for row in rows))
    return file


def test_a_capture_is_learned_from_once_its_sizes_are_added(tmp_path: Path) -> None:
    rows = [press(size, written(size)) for size in SIZES]
    remark = {"time": "2031-01-01T00:00:02Z", "remark": "it is back"}
    file = file_of(tmp_path, head(Setting(4800)), *rows[:2], remark, *rows[2:])
    code, out = run("--capture", str(file), "--json")
    said = json.loads(out)
    assert code == 0, out
    assert said["line"]["baud"] == 4800
    assert "baud = 4800" in said["bench"]
    assert 'device = "/dev/ttyX"' in said["bench"]


def test_a_line_without_its_size_is_named_with_the_mend(tmp_path: Path) -> None:
    row = press("0", written("0"))
    del row["at"]
    file = file_of(tmp_path, head(Setting()), press("10", written("10")), row)
    code, out = run("--capture", str(file))
    assert code == 2
    assert f"{file}:3: does not say the size" in out
    assert 'Mend: add it, like "at": "10 mm"' in out


def test_a_capture_at_the_wrong_speed_says_which_to_record_at(tmp_path: Path) -> None:
    garbage = [heard(written(size), Setting(4800), Setting()).raw for size in SIZES]
    rows = [press(size, raw) for size, raw in zip(SIZES, garbage, strict=True)]
    code, out = run("--capture", str(file_of(tmp_path, head(Setting()), *rows)))
    assert code == 3
    assert "they may have been sent at 4800 baud" in out
    assert "record presses at 4800 baud, 8N1" in out
    right = [press(size, written(size)) for size in SIZES]
    both = file_of(tmp_path, head(Setting()), *rows, head(Setting(4800)), *right)
    code, out = run("--capture", str(both))
    assert code == 0, out
    assert "The line is 4800 baud, 8N1." in out


def test_bytes_of_several_characteristics_are_learned_each_by_itself(tmp_path: Path) -> None:
    rows = []
    for count, size in enumerate(SIZES):
        rows.append(press(size, bytes([1, count, 7]), characteristic="counter"))
        rows.append(press(size, written(size), characteristic="value"))
    file = file_of(tmp_path, {"capture": 1, "port": "ble://X", "gap_ms": 50}, *rows)
    code, out = run("--capture", str(file), "--json")
    said = json.loads(out)
    assert code == 0, out
    assert said["characteristic"] == "value"
    assert 'notify = "value"' in said["bench"]
    two = [press(size, written(size), characteristic=name) for size in SIZES for name in ("a", "b")]
    code, out = run("--capture", str(file_of(tmp_path, *two)))
    assert code == 3
    assert "more than one characteristic fits every press: a, b" in out
    assert "smaller than the one before" in out

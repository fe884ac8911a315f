"""``witnessmark decode --hex-lines``: one message a line in, one JSON object a line out."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner, Result

from api.cli.decode import command


def run(*words: str, given: str = "") -> Result:
    return CliRunner().invoke(command, list(words), input=given)


def said(result: Result) -> list[dict[str, str]]:
    return [json.loads(line) for line in result.stdout.splitlines()]


def line(text: bytes) -> str:
    return text.hex() + "\n"


def test_each_line_gives_its_value_and_unit() -> None:
    given = line(b"+25.400 mm\r\n") + "\n" + line(b" -0.012\r").upper() + "32 2E 35 0D\r\n"

    result = run("--profile", "decimal-line", "--hex-lines", given=given)

    assert result.exit_code == 0
    assert said(result) == [
        {"value": "25.400", "unit": "mm"},
        {"value": "-0.012", "unit": None},
        {"value": "2.5", "unit": None},
    ]


def test_a_line_that_makes_no_reading_says_why_and_the_others_are_read() -> None:
    given = line(b"ERR\r") + "zz\n" + line(b"25.4") + line(b"1\r2\r") + "0d\n" + line(b"1.5\r")

    result = run("--profile", "decimal-line", "--hex-lines", given=given)

    assert result.exit_code == 1
    *wrong, sound = said(result)
    assert sound == {"value": "1.5", "unit": None}
    assert [list(one) for one in wrong] == [["error"]] * 5
    assert "layout" in wrong[0]["error"]
    assert "not hexadecimal" in wrong[1]["error"]
    assert "half a message" in wrong[2]["error"]
    assert wrong[3]["error"] == "the line holds 2 readings, not one"
    assert wrong[4]["error"] == "the line holds no message"


def test_an_echo_before_the_message_is_passed_over() -> None:
    result = run("--profile", "decimal-line", "--hex-lines", given=line(b"?\r+1.50 mm\r\n"))

    assert said(result) == [{"value": "1.50", "unit": "mm"}]


def test_a_profile_and_lines_from_files(tmp_path: Path) -> None:
    profile, lines = tmp_path / "mine.toml", tmp_path / "lines.txt"
    profile.write_text(
        '[frame]\nkind = "fixed"\nlength = 3\n[check]\nkind = "sum"\ncover = [0, -1]\n'
        '[decode]\nkind = "integer"\nnumber = { at = 0, bytes = 2, signed = true }\n'
        'places = 2\nunit = "mm"\n',
        "utf-8",
    )
    lines.write_text("fffffe\n0064 64\n006465\n", "utf-8")

    for words in (["--profile", str(profile), str(lines)], [str(profile), str(lines)]):
        result = run("--hex-lines", *words)

        first, second, third = said(result)
        assert first == {"value": "-0.01", "unit": "mm"}
        assert second == {"value": "1.00", "unit": "mm"}
        assert "the check says 65, its bytes make 64" in third["error"]
        assert result.exit_code == 1


def test_words_that_cannot_be_meant_are_told() -> None:
    assert run().exit_code == 2
    assert "no profile is named" in run("--hex-lines").output
    assert "one word too many" in run("decimal-line", "a", "b").output
    assert "two ways of reading" in run("decimal-line", "--hex", "--hex-lines").output
    missing = run("--profile", "decimal-line", "--hex-lines", "no-such-file")
    assert missing.exit_code == 2
    assert "no-such-file cannot be read" in missing.output


def test_the_profile_may_be_named_for_bytes_too() -> None:
    result = run("--profile", "decimal-line", "--json", given="25.40 mm\r")

    assert said(result)[0]["digits"] == "25.40"

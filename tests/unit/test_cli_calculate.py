"""``witnessmark calculate``, as a person or a program meets it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from api.calculations import CALCULATIONS
from api.calculations.run import calculate, form_of
from api.cli.table import readable
from tests.served import ROOT, command, run

GAP = b'{"unit": "in", "bore": ["4.00"], "lower_factor": "0.004", "upper_factor": "0.005"}'


def spoken(*words: str, given: bytes = b"") -> subprocess.CompletedProcess[str]:
    """The command with an input, all of it UTF-8."""
    return subprocess.run(
        command("calculate", *words),
        input=given.decode(),
        capture_output=True,
        encoding="utf-8",
        timeout=30,
        cwd=ROOT,
    )


def test_without_a_name_it_lists_them_all() -> None:
    said = run("calculate")
    assert said.returncode == 0
    names = [line.split()[0] for line in said.stdout.splitlines() if line][: len(CALCULATIONS)]
    assert names == list(CALCULATIONS)
    assert "--example" in said.stdout
    found = json.loads(run("calculate", "--json").stdout)["calculations"]
    assert [one["name"] for one in found] == list(CALCULATIONS)


def test_the_list_loads_nothing_heavy() -> None:
    code = (
        "import sys, api.cli; sys.argv = ['witnessmark', 'calculate']\n"
        "try: api.cli.main()\n"
        "except SystemExit: pass\n"
        "print(sorted({'pydantic', 'numpy', 'scipy', 'fastapi'} & set(sys.modules)),"
        " file=sys.stderr)"
    )
    said = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, encoding="utf-8", cwd=ROOT, timeout=30
    )
    assert said.stderr.strip() == "[]"


def test_an_input_from_a_file_or_standard_input(tmp_path: Path) -> None:
    """Bore × factor: a ring-gap table quoted in a forum post."""
    (tmp_path / "gap.json").write_bytes(GAP)
    for said in (
        run("calculate", "ring-gap", str(tmp_path / "gap.json"), "--json"),
        spoken("ring-gap", "-", "--json", given=GAP),
        spoken("ring-gap", "--json", given=GAP),
    ):
        assert said.returncode == 0, said.stderr
        result = json.loads(said.stdout)["result"]
        assert float(result["lower_limit"]) == pytest.approx(0.016)
        assert float(result["upper_limit"]) == pytest.approx(0.02)


def test_a_person_reads_a_table_with_its_cautions() -> None:
    said = spoken("ring-gap", given=GAP)
    assert "unit         in" in said.stdout
    assert "lower limit  0.016" in said.stdout
    assert "! Factors and rates come from the engine or ring maker" in said.stdout


def test_the_example_of_each_works_and_is_readable() -> None:
    for name in CALCULATIONS:
        answer = calculate(name, json.dumps(form_of(name).example).encode())
        text = readable(answer)
        assert text.startswith(f"calculation  {name}")
        assert all(caution in text for caution in answer["cautions"])
        assert "{" not in text, name
        assert "None" not in text, name


def test_the_example_is_printed_to_be_changed() -> None:
    said = run("calculate", "select-fit", "--example")
    again = spoken("select-fit", given=said.stdout.encode())
    assert again.returncode == 0, again.stderr
    assert "1      D      0.037      0.002  yes" in again.stdout
    schema = json.loads(run("calculate", "select-fit", "--form").stdout)
    assert "outers" in schema["properties"]


@pytest.mark.parametrize(
    ("words", "given", "says"),
    [
        (("ring-gaps",), b"", "did you mean 'ring-gap'?"),
        (("ring-gap",), b"", "no input on standard input"),
        (("ring-gap",), b"{", "Send one JSON object"),
        (("ring-gap",), b'{"unit": "mm", "bore": [86]}', "bore.0: This is not text. Mend: Send"),
        (("ring-gap",), GAP.replace(b"0.005", b"0.003"), "exchange them"),
        (("ring-gap", "no-such-file"), b"", "no-such-file cannot be read"),
        (("convert",), b'{"value": "1", "unit": "mm", "to": "g"}', "to: g measures mass"),
        (("convert",), b'{"unit": "furlong"}', "unit: Unit 'furlong' is not known."),
        (("ring-gap",), b'{"unit": "mm", "bore": []}', "bore: Too few are given: 0. Mend: Give at"),
        (("ring-gap",), b'{"bores": []}', "bores: There is no such key here. Mend: Leave it out"),
    ],
)
def test_errors_are_one_message_with_the_mend(
    words: tuple[str, ...], given: bytes, says: str
) -> None:
    said = spoken(*words, given=given)
    assert said.returncode == 2
    assert said.stdout == ""
    assert says in said.stderr
    assert "Traceback" not in said.stderr
    assert ". Mend:" in said.stderr
    assert not [word for word in MACHINE if word in said.stderr]


MACHINE = ("Input should", "Field required", "Extra inputs", "List should", "validation")


def test_what_is_missing_hides_no_wrong_unit_nor_the_rest() -> None:
    said = spoken("preload", given=b'{"torque_unit": "mm", "force_unit": "lb"}')
    lines = said.stderr.removeprefix("error: ").splitlines()
    assert [line.partition(":")[0] for line in lines] == [
        "series", "unit", "diameter", "torque_unit", "force_unit",
    ]  # fmt: skip
    assert "torque_unit: mm measures length, not torque. Mend: Write a unit such as N·m" in lines[3]


# tables ------------------------------------------------------------------------------------------


def _shown(result: Any) -> list[str]:
    answer = {"calculation": "x", "unit": None, "method": "m", "result": result, "cautions": []}
    return readable(answer).splitlines()[3:]


def test_alike_objects_stand_in_a_table() -> None:
    assert _shown({"a": {"low": "1", "high": "2"}, "b_c": {"low": "10", "high": None}}) == [
        "     low  high",
        "a    1    2",
        "b c  10   –",
    ]
    assert _shown({"rows": [{"size": "1.0", "inside": True}, {"size": "2", "inside": False}]}) == [
        "rows:",
        "  size  inside",
        "  1.0   yes",
        "  2     no",
    ]


def test_a_long_table_says_what_it_leaves_out() -> None:
    lines = _shown({"rows": [{"at": at} for at in range(250)]})
    assert len(lines) == 203
    assert lines[-1].strip() == "… and 50 more (--json gives them all)"


def test_long_sentences_stand_in_lines_of_their_own() -> None:
    one, two = "A sentence that is long enough.", "And another one, as long as it."
    assert _shown({"says": [one, two], "words": ["a", "b"]}) == [
        "words  a, b",
        "says:",
        f"  {one}",
        f"  {two}",
    ]

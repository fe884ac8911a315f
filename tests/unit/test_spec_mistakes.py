"""Every kind of mistake in a spec, one at a time and all at once: file, line, key and mend.

The mistakes are made as a user makes them: one edit of the worked example in FORMAT.md.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from capture.errors import Problem, SpecError
from capture.spec.load import load, warnings

FORMAT = Path(__file__).parents[2] / "capture/spec/FORMAT.md"


def example() -> str:
    found = re.search(
        r"^```toml\n(.*?)^```", FORMAT.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE
    )
    assert found is not None
    return found.group(1)


def edited(old: str, new: str) -> str:
    text = example()
    assert text.count(old) == 1, f"{text.count(old)} places to edit"
    return text.replace(old, new)


def problems(text: str | bytes) -> tuple[Problem, ...]:
    data = text.encode() if isinstance(text, str) else text
    with pytest.raises(SpecError) as caught:
        load(data, "pump.toml")
    return caught.value.problems


def line_of(text: str, mark: str) -> int:
    assert text.count(mark) == 1, f"{text.count(mark)} places called {mark!r}"
    return text[: text.index(mark)].count("\n") + 1


NO_LIMITS = 'lower_limit_of_size = "19.967"\nupper_limit_of_size = "19.980"\n'
LAST = 'turn = "lever-moves"\nafter = ["tighten-cover-screws"]\n'

OPERATION_6 = '[[operation]]\nturn = "lever-moves"  # again'

MISTAKES = [
    # the file as a whole
    ("format = 1\n", "", 'id = "small-pump"', "format", "is missing", "format = "),
    ("format = 1\n", "format = 2\n", "format = 2", "format", "format 2", "format = 1"),
    ("format = 1\n", "format = true\n", "format", "format", "not a whole number", "digits"),
    ('"small-pump"', '"Small pump!"', "Small pump!", "id", "not one word", '"small-pump"'),
    ('"small-pump"', "7", "id = 7", "id", "not a word", "in quotes"),
    ('title = "Invented hand pump"', 'titel = "x"', "titel", "titel", "not known", "write title"),
    ('"Invented hand pump"', '"a\\nb"', "a\\nb", "title", "more than one line", "one line"),
    ('"Invented hand pump"', '"a\\u0007"', "a\\u0007", "title", "control character", "without"),
    ('"Invented hand pump"', '" "', 'title = " "', "title", "empty", "a few words"),
    ('revision = "1"', "revision = 1", "revision = 1", "revision", "not text", "in quotes"),
    ("invented = true", 'invented = "yes"', "invented = ", "invented", "neither", "unquoted"),
    ("cautions = [", 'cautions = "x" #', "cautions = ", "cautions", "not an array", "brackets"),
    ('cautions = ["', 'cautions = [1, "', "cautions", "cautions[1]", "not text", "in quotes"),
    (
        "invented = true", '"\\n b" = 1', '"\\n b" = 1',
        '"\\n b"', "not known here", "known here are",
    ),
    # parts
    ("count = 4", "count = 0", "count = 0", "part[cover-screw].count", "range", "from 1 to"),
    ("count = 4", "count = 4.0", "count = 4", "part[cover-screw].count", "whole", "without"),
    (
        LAST, LAST + '[[part]]\nid = "barrel"\ntitle = "x"\n', 'id = "barrel"\ntitle = "x"',
        "part[barrel].id", "taken by another part (first on line 9)", "of its own",
    ),
    # characteristics
    (
        'part = "barrel"', 'part = "barel"', 'part = "barel"',
        "characteristic[bore].part", 'no part called "barel"', 'write "barrel"',
    ),
    (
        'unit = "mm"\nnominal', 'unit = "furlong"\nnominal', '"furlong"',
        "characteristic[bore].unit", "not a known unit", '"mm"',
    ),
    (
        'unit = "mm"\nnominal', 'unit = "N·m"\nnominal', 'unit = "N·m"\nnominal',
        "characteristic[bore].unit", "a unit of torque", '"mm"',
    ),
    (
        '"+0.021"', '"0,021"', '"0,021"',
        "characteristic[bore].upper_limit_deviation", "comma", '"0.021"',
    ),
    (
        '"+0.021"', '"1e-3"', '"1e-3"',
        "characteristic[bore].upper_limit_deviation", "not a number", "digits",
    ),
    (
        '"+0.021"', "inf", "= inf",
        "characteristic[bore].upper_limit_deviation", "finite", "digits",
    ),
    (
        '"+0.021"', "1e99999999999999999999", "1e9999",
        "characteristic[bore].upper_limit_deviation", "finite", "digits",
    ),
    (
        '"+0.021"', '"12345678901"', '"12345678901"',
        "characteristic[bore].upper_limit_deviation", "too large", "below",
    ),
    (
        '"+0.021"', '"0.0000000000001"', '"0.0000000000001"',
        "characteristic[bore].upper_limit_deviation", "too many decimals", "12",
    ),
    (
        '"+0.021"', '"-0.021"', 'lower_limit_deviation = "0"',
        "characteristic[bore].lower_limit_deviation", "above the upper limit 19.979", "exchange",
    ),
    (
        'upper_limit_of_size = "19.980"', 'upper_limit_deviation = "-0.020"', '"-0.020"',
        "characteristic[plunger-diameter].upper_limit_deviation", "needs a nominal size",
        "nominal_size",
    ),
    (
        'lower_limit_deviation = "0"', 'lower_limit_deviation = "0"\nlower_limit_of_size = "20"',
        'lower_limit_deviation = "0"',
        "characteristic[bore].lower_limit_deviation", "both state the lower limit", "keep one",
    ),
    (
        NO_LIMITS, "", '[[characteristic]]\nid = "plunger-diameter"',
        "characteristic[plunger-diameter]", "no limits", "lower_limit_of_size",
    ),
    (
        'upper_limit_of_size = "19.980"\n', "", '[[characteristic]]\nid = "plunger-diameter"',
        "characteristic[plunger-diameter]", "plausible band cannot be worked out", "plausible = ",
    ),
    (
        '"19.980"\n', '"19.980"\nplausible = { lower = 19, upper = 19.97 }\n', "= { lower = 19",
        "characteristic[plunger-diameter].plausible", "does not contain the limits", "widen",
    ),
    (
        '"19.980"\n', '"19.980"\nplausible = { lower = 19, uper = 21 }\n', "uper",
        "characteristic[plunger-diameter].plausible.uper", "not known", "write upper",
    ),
    (
        '"19.980"\n', '"19.980"\nplausible = 3\n', "plausible = 3",
        "characteristic[plunger-diameter].plausible", "not a table", "[plausible]",
    ),
    (
        "repeats = 2", "repeats = 0", "repeats = 0",
        "characteristic[plunger-diameter].repeats", "out of range", "from 1",
    ),
    (
        'instruments = ["micrometer"]', "instruments = []", "instruments = []",
        "characteristic[plunger-diameter].instruments", "no kind of instrument", "bore-gauge",
    ),
    (
        'axes = ["along", "across"]', 'axes = ["along", "along"]', "axes",
        "characteristic[bore].axes", '"along" stands twice', "once",
    ),
    (
        'depths = ["top", "bottom"]        # two depths, two directions each: four readings\n'
        'axes = ["along", "across"]',
        'depths = ["a", "a-b"]\naxes = ["b-c", "c"]', "axes = ",
        "characteristic[bore].axes", 'both be called "a-b-c"', "without hyphens",
    ),
    # derived quantities
    (
        '"clearance"', '"clearence"', '"clearence"',
        "derived[plunger-clearance].quantity", "not known here", 'write "clearance"',
    ),
    (
        '["bore", "plunger-diameter"]', '["bore"]', 'of = ["bore"]',
        "derived[plunger-clearance].of", "two characteristics", "outer first",
    ),
    (
        '["bore", "plunger-diameter"]', '["bore", "plunger"]', 'of = ["bore", "plunger"]',
        "derived[plunger-clearance].of", 'no characteristic called "plunger"', "plunger-diameter",
    ),
    (
        '["bore", "plunger-diameter"]', '["bore", "plunger-clearance"]', "of = [",
        "derived[plunger-clearance].of", "itself derived", "measured",
    ),
    (
        'quantity = "clearance"\nof = ["bore", "plunger-diameter"]',
        'quantity = "taper"\nof = ["plunger-diameter"]', "of = [",
        "derived[plunger-clearance].of", "two depths or more", "add depths",
    ),
    (
        'quantity = "clearance"\nof = ["bore", "plunger-diameter"]',
        'quantity = "out-of-round"\nof = ["plunger-diameter"]', "of = [",
        "derived[plunger-clearance].of", "two axes or more", "add axes",
    ),
    (
        'quantity = "clearance"\nof = ["bore", "plunger-diameter"]',
        'quantity = "mean"\nbasis = "least"\nof = ["bore"]', "basis",
        "derived[plunger-clearance].basis", "only a clearance", "remove",
    ),
    (
        'unit = "mm"\nlower_limit = "0.020"', 'unit = "g"\nlower_limit = "0.020"', 'unit = "g"',
        "derived[plunger-clearance].unit", "a unit of mass", '"mm"',
    ),
    (
        'title = "Plunger"\nposition = "side"', 'title = "Plunger"\nposition = "left"', "of = [",
        "derived[plunger-clearance].of", "counted by side", "same position",
    ),
    (
        'title = "Plunger"\n', 'title = "Plunger"\ncount = 2\n', "of = [",
        "derived[plunger-clearance].of", '1 of "barrel" but 2 of "plunger"', "count",
    ),
    (
        'id = "plunger-clearance"', 'id = "bore"', 'id = "bore"\ntitle = "Plunger cl',
        "derived[bore].id", "taken by another characteristic", "of its own",
    ),
    (
        'lower_limit = "0.020"\nupper_limit = "0.054"\n', "", '[[derived]]\nid = "plunger-cl',
        "derived[plunger-clearance]", "no limits", "lower_limit =",
    ),
    # fasteners
    (
        "order = [1, 3, 2, 4]", "order = [1, 3, 3, 5]", "order = ",
        "fastener[cover-screws].order",
        "2 is missing; 4 is missing; there is no number 5; 3 stands", "every number from 1 to 4",
    ),
    (
        "order = [1, 3, 2, 4]", "#", '[[fastener]]\nid = "cover-screws"',
        "fastener[cover-screws].order", "order is missing", "maker's order",
    ),
    (
        'lubricant = "dry"\n', "", '[[fastener]]\nid = "cover-screws"',
        "fastener[cover-screws].lubricant", "missing", "lubricant = ",
    ),
    (
        'target = "9.0"', 'target = "90"', 'target = "90"',
        "fastener[cover-screws].stage[final].target", "outside its limits 8.5 to 9.5", "correct",
    ),
    (
        'target = "4"', 'target = "-4"', 'target = "-4"',
        "fastener[cover-screws].stage[snug].target", "tightens nothing", "more than 0",
    ),
    (
        'permissible_deviation_percent = "10"', 'permissible_deviation_percent = "0"',
        'permissible_deviation_percent = "0"',
        "fastener[cover-screws].stage[snug].permissible_deviation_percent", "range", "more than 0",
    ),
    (
        'permissible_deviation_percent = "10"',
        'permissible_deviation_percent = "10"\nupper_limit = "5"', "permissible_deviation",
        "fastener[cover-screws].stage[snug].permissible_deviation_percent", "both state", "keep",
    ),
    (
        'upper_limit = "9.5"\n', "", '[[fastener.stage]]\nid = "final"',
        "fastener[cover-screws].stage[final].upper_limit", "over-pulled", "upper_limit =",
    ),
    (
        'id = "final"', 'id = "snug"', 'id = "snug"\ntitle = "Final',
        "fastener[cover-screws].stage[snug].id", "taken by another stage", "of its own",
    ),
    # confirmations and turning tests
    (
        'title = "Faces clean"\n', 'title = "Faces clean"\npart = "face"\n', 'part = "face"',
        "confirmation[faces-clean].part", "no part called", "barrel, plunger or cover-screw",
    ),
    (
        'unit = "N·m"\nlower_limit = "0.2"', 'unit = "mm"\nlower_limit = "0.2"',
        'unit = "mm"\nlower_limit = "0.2"',
        "turning_test[lever-moves].unit", "a unit of length", "N·m",
    ),
    # the order of work
    (
        'measure = "bore"', 'measure = "boar"', '"boar"',
        "operation[1].measure", "no characteristic called", 'write "bore"',
    ),
    (
        'turn = "lever-moves"', 'turn = "lever-moves"\nconfirm = "faces-clean"',
        '"lever-moves"\nconfirm', "operation[5].turn", "says confirm and turn", "write one of",
    ),
    (
        'after = ["tighten-cover-screws"]', 'after = ["tighten-screws"]', '["tighten-screws"]',
        "operation[5].after", 'no operation called "tighten-screws"', "tighten-cover-screws",
    ),
    (
        'after = ["tighten-cover-screws"]', 'after = ["turn-lever-moves"]', '["turn-lever-moves"]',
        "operation[5].after", "waits for itself", "take its own id",
    ),
    (
        LAST, LAST + '[[operation]]\nmeasure = "bore"\nid = "again"\n', 'bore"\nid = "again"',
        "operation[again].measure", "measured by two operations", "rework",
    ),
    (
        LAST, LAST + OPERATION_6, OPERATION_6,
        "operation[6]", "need ids", 'id = "turn-lever-moves-again"',
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "mark", "key", "message", "mend"),
    MISTAKES,
    ids=[f"{key}: {message}"[:80] for _, _, _, key, message, _ in MISTAKES],
)
def test_a_mistake_is_named_with_its_line_key_and_mend(
    old: str, new: str, mark: str, key: str, message: str, mend: str
) -> None:
    text = edited(old, new)
    found = problems(text)

    assert [
        problem
        for problem in found
        if problem.key == key and message in problem.message and mend in problem.mend
    ], found
    assert {(problem.file, problem.line) for problem in found if problem.key == key} == {
        ("pump.toml", line_of(text, mark))
    }
    # One mistake gives one problem: what merely follows from it is not piled on top.
    assert len(found) <= 1, found


def test_every_mistake_is_named_at_once_in_the_order_of_the_file() -> None:
    text = example()
    for old, new in (
        ('"Invented hand pump"', "3"),
        ("count = 4", "count = 0"),
        ('part = "barrel"', 'part = "barel"'),
        ('"+0.021"', '"-0.021"'),
        ('unit = "mm"\nlower_limit = "0.020"', 'unit = "N·m"\nlower_limit = "0.020"'),
        ('target = "9.0"', 'target = "90"'),
        ('text = "Both', 'txet = "Both'),
        ('after = ["tighten-cover-screws"]', 'after = ["turn-lever-moves"]'),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    found = problems(text)

    assert [problem.key for problem in found] == [
        "title",
        "part[cover-screw].count",
        "characteristic[bore].part",
        "characteristic[bore].lower_limit_deviation",
        "derived[plunger-clearance].unit",
        "fastener[cover-screws].stage[final].target",
        "confirmation[faces-clean].txet",
        "operation[5].after",
    ]
    assert [problem.line for problem in found] == sorted({problem.line for problem in found})
    assert all(problem.message.endswith(".") and problem.mend.endswith(".") for problem in found)


def test_circles_and_what_waits_behind_them() -> None:
    text = example().replace('after = ["measure-bore", ', 'after = ["turn-lever-moves", ')
    text += '\n[[operation]]\nid = "late"\nconfirm = "faces-clean"\nafter = ["turn-lever-moves"]\n'
    text += '[[operation]]\nid = "later"\nconfirm = "faces-clean"\nafter = ["late"]\n'
    circle, late, later = problems(text)

    assert "confirm-faces-clean, tighten-cover-screws and turn-lever-moves" in circle.message
    assert circle.line == line_of(text, 'after = ["turn-lever-moves", ')
    assert (late.key, later.key) == ("operation[late].after", "operation[later].after")
    assert 'never be reached: it waits for "turn-lever-moves"' in late.message
    assert 'never be reached: it waits for "late"' in later.message


def test_a_torque_to_yield_fastener_is_tightened_once() -> None:
    text = example().replace('lubricant = "dry"', 'lubricant = "dry"\ntorque_to_yield = true')
    text += '\n[[operation]]\nid = "again"\ntighten = "cover-screws"\nafter = []\n'
    (found,) = problems(text)
    assert found.key == "operation[again].tighten"
    assert "torque-to-yield and would be tightened twice" in found.message


@pytest.mark.parametrize("name", ["part", "characteristic", "operation"])
def test_single_brackets_are_mended_to_double(name: str) -> None:
    start = 'format = 1\nid = "x"\ntitle = "X"\nrevision = "1"\n'
    found = problems(f'{start}[{name}]\nid = "a"\n')
    assert [problem.mend for problem in found if problem.key == name] == [
        f"write [[{name}]] in double brackets."
    ]


def test_a_spec_without_an_order_of_work_is_refused() -> None:
    found = problems('format = 1\nid = "x"\ntitle = "X"\nrevision = "1"\n')
    assert [problem.key for problem in found] == ["operation"]
    assert "no order of work" in found[0].message


def test_more_steps_than_a_build_holds_are_refused() -> None:
    text = example().replace("repeats = 2", "repeats = 1_000_000")
    text = text.replace('title = "Plunger"\n', 'title = "Plunger"\ncount = 3\n')
    text = text.replace('title = "Barrel"\n', 'title = "Barrel"\ncount = 3\n')
    (found,) = problems(text)
    assert "3000022 steps" in found.message


# --- syntax: the first error, alone -----------------------------------------------------------

SYNTAX = [
    (b'id = "a"\nunit = mm\n', 2, "Invalid value", "quotes"),
    (b'id = "a\n', 1, "Illegal character", "quote"),
    (b'id = "a"\nid = "b"\n', 2, "Cannot overwrite a value", "twice"),
    (b"# fine\n[part\n", 2, "Expected ']'", "close"),
    (b"[part]\n[part]\n", 2, "Cannot declare", "[[name]]"),
    (b'id "a"\n', 1, "Expected '='", "key = value"),
    (b"a = [1,\n2\n\n", 2, "Unclosed array", "]"),
    (b'id = "a"\ntitle = "\xe9"\n', 2, "not UTF-8", "UTF-8"),
    (b'\xef\xbb\xbfid = "a"\n', 1, "byte order mark", "without"),
    (b"a = 1\nb = " + b"9" * 5000 + b"\n", 2, "too many digits", "nine digits"),
    (b"#" * 8_000_001, 1, "8000001 bytes", "split"),
    (b"a = " + b"[" * 100_000, 1, "nested too deeply", "levels"),
]


@pytest.mark.parametrize(
    ("data", "line", "message", "mend"), SYNTAX, ids=[message for _, _, message, _ in SYNTAX]
)
def test_the_first_syntax_error_is_named_with_its_line(
    data: bytes, line: int, message: str, mend: str
) -> None:
    (found,) = problems(data)
    assert (found.file, found.line, found.key) == ("pump.toml", line, "syntax")
    assert message in found.message
    assert mend in found.mend


# --- warnings ---------------------------------------------------------------------------------

WARNINGS = [
    ('id = "cover-screw"\n', 'id = "lid"\n[[part]]\nid = "cover-screw"\n', "part[lid]", "nothing"),
    ('measure = "bore"', 'confirm = "faces-clean"\nid = "measure-bore"', "characteristic[bore]",
     "never measured"),
    ('measure = "bore"', 'confirm = "faces-clean"\nid = "measure-bore"',
     "derived[plunger-clearance].of", "never becomes complete"),
    ('nominal_size = "20.000"\nlower_limit_deviation = "0"\nupper_limit_deviation = "+0.021"',
     'nominal_size = "200"\nlower_limit_of_size = "20"\nupper_limit_of_size = "20.021"',
     "characteristic[bore].nominal_size", "not even plausible"),
    ('"19.980"\n', '"19.980"\nplausible = { lower = 0, upper = 1000 }\n',
     "characteristic[plunger-diameter].plausible", "mistaken unit would pass"),
    ('"+0.021"', '"0"', "characteristic[bore]", "nothing measured can conform"),
    ('lower_limit = "0.020"\nupper_limit = "0.054"', 'lower_limit = "0.2"',
     "derived[plunger-clearance]", "at most 0.054, but 0.2"),
    ('lower_limit = "0.020"\nupper_limit = "0.054"', 'upper_limit = "0.010"',
     "derived[plunger-clearance]", "at least 0.02, but 0.010"),
    ('target = "4"', 'target = "9.0"', "fastener[cover-screws].stage[final].target",
     "no more than the stage before"),
    ('after = ["confirm-faces-clean"]', 'after = ["turn-lever-moves"]', "operation[4].after",
     "stands below it"),
    ('after = ["confirm-faces-clean"]', "", "operation[4]", "waits for nothing"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "key", "message"), WARNINGS)
def test_a_warning_names_what_is_hardly_meant(old: str, new: str, key: str, message: str) -> None:
    text = edited(old, new)
    if "stands below" in message:
        text = text.replace('after = ["tighten-cover-screws"]', "after = []")
    if 'id = "lid"' in new:
        text = text.replace('id = "lid"', 'id = "lid"\ntitle = "Lid"')
    spec = load(text.encode(), "pump.toml")
    found = warnings(spec, "pump.toml")

    assert any(one.key == key and message in one.message for one in found), found
    assert all(one.file == "pump.toml" and 1 <= one.line <= text.count("\n") + 1 for one in found)


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ('[[confirmation]]\nid = "c"\ntitle = "C"\ntext = "c"\n', "never asked for"),
        (
            '[[fastener]]\nid = "f"\ntitle = "F"\npart = "barrel"\nlubricant = "dry"\n'
            'instruments = ["w"]\n[[fastener.stage]]\nid = "s"\ntitle = "S"\nunit = "N·m"\n'
            "target = 10\npermissible_deviation_percent = 5\n",
            "never tightened",
        ),
        (
            '[[turning_test]]\nid = "t"\ntitle = "T"\nunit = "N·m"\nupper_limit = 3\n'
            'instruments = ["w"]\n',
            "never done",
        ),
    ],
)
def test_what_no_operation_names_is_a_warning(table: str, message: str) -> None:
    text = f"{example()}\n{table}"
    (found,) = warnings(load(text.encode(), "pump.toml"))
    assert message in found.message
    assert found.line == line_of(text, table)
    assert found.file == "small-pump"

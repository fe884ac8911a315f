"""Mistakes in given values, formulas, limits by factor, joints, rounds and gauge checks: each is
named with its line, key and mend."""

from __future__ import annotations

import pytest

from tests.unit.spec_page import RATIO, VOLUME, edited, line_of, loaded, page, problems

# --- mistakes ---------------------------------------------------------------------------------

GIVEN = 'value = "30.00"\nunit = "mm"'
FORMULA = "derived[slenderness].formula"
JOINT = "fastener[gland-screws].joint"

MISTAKES = [
    # parts and given values
    ("per = 2", "per = 3", "per = 3", "part[gland-screw].per",
     "2 of it cannot stand 3 at each side", "multiple of 3"),
    (GIVEN, f'{GIVEN}\n[[given]]\nid = "bore"\ntitle = "B"\nvalue = 1\nunit = "mm"',
     'id = "bore"\ntitle = "B"', "given[bore].id",
     "taken by another characteristic", "of its own"),
    (GIVEN, f'{GIVEN}\n[[given]]\nid = "pi"\ntitle = "B"\nvalue = 3\nunit = "1"',
     'id = "pi"', "given[pi].id", "number π", "another id"),
    ('unit = "mm"\n\n[[characteristic]]\nid = "ring-gap"',
     'unit = "ell"\n\n[[characteristic]]\nid = "ring-gap"', 'unit = "ell"', "given[stroke].unit",
     "not a known unit", '"1" (a ratio)'),
    ('id = "slenderness"', 'id = "stroke"', 'id = "stroke"\ntitle = "Stroke over',
     "derived[stroke].id", "taken by another given value", "of its own"),
    # formulas
    (RATIO, '"stroke / max(boar)"', "max(boar)", FORMULA,
     'at character 14 of the formula: there is no quantity called "boar"', 'write "bore"'),
    (RATIO, '"stroke-bore"', "stroke-bore", FORMULA,
     'no quantity called "stroke-bore"', 'put spaces round the minus: "stroke - bore"'),
    (RATIO, '"stroke / bore[top]"', "bore[top]", FORMULA,
     '"bore" has no point "top"', "bore[top-along]"),
    (RATIO, '"stroke / plunger-diameter[top]"', "diameter[top]", FORMULA,
     'has no point "top"', "write plunger-diameter alone, or add depths or axes"),
    (RATIO, '"stroke[top] / bore"', "stroke[top]", FORMULA,
     '"stroke" is not measured at points', "write stroke alone"),
    (RATIO, '"stroke - max(bore)"', "stroke - max", FORMULA,
     "the formula gives a length, but the unit 1 is of a bare number", "correct the unit"),
    (RATIO, '"(stroke - 2) / bore"', "stroke - 2", FORMULA,
     "at character 9 of the formula: - subtracts a length and a bare number", "[[given]]"),
    (RATIO, '"stroke / (bore + swept-volume)"', "+ swept", FORMULA,
     "+ adds a length and a volume", "like with like"),
    (RATIO, '"stroke / largest(bore)"', "largest(", FORMULA,
     '"largest" is no function; functions are mean', "parenthesis"),
    (RATIO, '"stroke / max(bore"', "max(bore", FORMULA, '"(" is never closed', "write )"),
    (RATIO, '"stroke : bore"', "stroke : bore", FORMULA, '":" is no sign here', "write /"),
    (RATIO, '"(((' + "(" * 100 + '"', '"(((((', FORMULA, "operations stand within", "split"),
    (RATIO, '"stroke / stroke"', '"stroke / stroke"', FORMULA, "nothing that is measured", "name"),
    (RATIO, '"slenderness * 2"', '"slenderness * 2"', FORMULA,
     "this quantity is made of itself", "take one"),
    (RATIO, '"barrel-temperature * stroke"', "temperature * stroke", FORMULA,
     "a temperature is multiplied", "average"),
    (f"formula = {RATIO}", f'quantity = "mean"\nof = ["bore"]\nformula = {RATIO}',
     f"formula = {RATIO}", FORMULA, "a mean has no formula", "remove"),
    (f"formula = {RATIO}", f'of = ["bore"]\nformula = {RATIO}', 'of = ["bore"]\nf',
     "derived[slenderness].of", "by itself", "remove of"),
    (f"formula = {RATIO}", 'quantity = "formula"', '[[derived]]\nid = "slenderness"',
     FORMULA, "missing", "formula ="),
    ('upper_limit = "1.6"', 'upper_limit = "1.6"\ntarget = "2"', 'target = "2"',
     "derived[slenderness].target", "outside its limits 1.4 to 1.6", "correct"),
    ('unit = "1"', 'unit = "2"', 'unit = "2"', "derived[slenderness].unit", "not a known", '"1"'),
    # limits by factor
    ('factor_of = "bore"', 'factor_of = "boar"', "boar", "characteristic[ring-gap].factor_of",
     'no characteristic or derived quantity called "boar"', 'write "bore"'),
    ('factor_of = "bore"', 'factor_of = "slenderness"', '= "slenderness"\ninst',
     "characteristic[ring-gap].factor_of", "is in 1, which gives no limit in mm", "in mm"),
    ('factor_of = "bore"', "", '[[characteristic]]\nid = "ring-gap"',
     "characteristic[ring-gap].factor_of", "missing", "factor_of ="),
    ('factor_of = "bore"', 'factor_of = "ring-gap"', 'factor_of = "ring-gap"',
     "characteristic[ring-gap].factor_of", "follow from the size itself", "does not depend"),
    ('factor_of = "bore"', 'factor_of = "bore"\nupper_limit_of_size = "1"',
     'upper_limit_of_size = "1"', "characteristic[ring-gap].upper_limit_of_size",
     "so do the factors", "keep factors"),
    ('factor_of = "bore"', 'factor_of = "bore"\nplausible = { lower = "0.09", upper = "1" }',
     'plausible = { lower = "0.09"', "characteristic[ring-gap].plausible",
     "does not contain the limits 0.08 to 0.100105", "widen"),
    ('lower_limit_factor = "0.004"', 'lower_limit_factor = "0.4"', 'lower_limit_factor = "0.4"',
     "characteristic[ring-gap].lower_limit_factor", "above the upper factor 0.005", "exchange"),
    ('lower_limit_factor = "0.004"', 'lower_limit_factor = "-1"', 'lower_limit_factor = "-1"',
     "characteristic[ring-gap].lower_limit_factor", "negative", "zero or more"),
    # expansion
    ('temperature = "barrel-temperature"', 'temperature = "plunger-lift"', '"plunger-lift", coeff',
     "characteristic[seat-depth].expansion.temperature", "no temperature: it is in mm",
     'write "barrel-temperature"'),
    ('temperature = "barrel-temperature"', 'temperature = "barel-temperature"', "barel-",
     "characteristic[seat-depth].expansion.temperature", "no characteristic called",
     'write "barrel-temperature"'),
    ('coefficient = "11.5"', 'coefficient = "0.0000115"', "0.0000115",
     "characteristic[seat-depth].expansion.coefficient", "10⁻⁶ per °C", "11.5"),
    ('coefficient_uncertainty = "0.5"', 'coefficient_uncertainty = "50"', '"50"',
     "characteristic[seat-depth].expansion.coefficient_uncertainty", "out of range", "10⁻⁶"),
    ('unit = "°C"',
     'unit = "°C"\nexpansion = { temperature = "barrel-temperature", coefficient = 9 }',
     "coefficient = 9", "characteristic[barrel-temperature].expansion", "only a length", "remove"),
    # fasteners
    ("together = 2", "together = 3", "together = 3", "fastener[gland-screws].together",
     "2 fasteners cannot be tightened 3 at a time", "write 1"),
    ('pitch = "1"', 'pitch = "1", threads_per_inch = 24', "threads_per_inch",
     f"{JOINT}.threads_per_inch", "both state the pitch", "keep one"),
    ('pitch = "1"', 'pitch = "7"', 'pitch = "7"', f"{JOINT}.pitch",
     "not less than the diameter (6 mm)", "units"),
    (', scatter_percent = "25"', "", "joint = {", f"{JOINT}.scatter_percent",
     "always carries its scatter", "lubricant"),
    ('nut_factor = "0.15", scatter_percent = "25", ', "", "joint = {", JOINT,
     "how preload follows", "nut_factor"),
    ('nut_factor = "0.15"', 'friction_thread = "0.12"', "friction_thread",
     f"{JOINT}.friction_thread", "friction_head is missing", "add friction_head"),
    ('nut_factor = "0.15"', 'nut_factor = "15"', 'nut_factor = "15"', f"{JOINT}.nut_factor",
     "out of range", "0.15"),
    ('proof_stress = "580"', 'proof_stress = "580", stress_unit = "bar"', "stress_unit",
     f"{JOINT}.stress_unit", "known are MPa, psi or ksi", "write"),
    # gauge checks
    ('plausible = { lower = "-0.2", upper = "0.2" }', "", '[[zero_check]]\nid',
     "zero_check[dial-zero]", "a plausible band cannot be worked out", "plausible ="),
    ('lower = "-0.2", upper = "0.2"', 'lower = "0.1", upper = "0.2"', 'lower = "0.1"',
     "zero_check[dial-zero].plausible", "does not contain the limits 0 to 0", "widen"),
    ('appraisers = ["A", "B"]', "appraisers = []", "appraisers = []",
     "study[bore-gauge-study].appraisers", "somebody to measure", '["A", "B", "C"]'),
    ("samples = 5", "samples = 1", "samples = 1", "study[bore-gauge-study].samples",
     "no difference", "2 or more"),
    ("samples = 5", "samples = 5\nreferences = [20, 20.01]", "references = [20",
     "study[bore-gauge-study].references", "2 references are stated for 5 samples", "one for each"),
    ('tolerance = "0.021"', 'tolerance = "0"', 'tolerance = "0"',
     "study[bore-gauge-study].tolerance", "none", "width"),
    ('maximum = "20"', 'maximum = "0"', 'maximum = "0"', "tool_check[wrench-check].maximum",
     "none", "largest setting"),
    ('maximum = "20"', 'maximum = "20"\npoints_percent = [60, 20]', "points_percent = [60",
     "tool_check[wrench-check].points_percent", "do not rise", "lowest first"),
    ('maximum = "20"', 'maximum = "20"\npoints_percent = [60, 120]', "points_percent = [60",
     "tool_check[wrench-check].points_percent", "outside the tool's range", "up to 100"),
    ('maximum = "20"\npermissible_deviation_percent = "4"', 'maximum = "20"',
     '[[tool_check]]\nid', "tool_check[wrench-check].permissible_deviation_percent", "missing",
     "permissible_deviation_percent ="),
    ('maximum = "20"', 'maximum = "20"\nplausible = { lower = "5", upper = "30" }', 'upper = "30"',
     "tool_check[wrench-check].plausible", "does not contain the limits 4 to 20", "widen"),
    # operations
    ('study = "bore-gauge-study"', 'study = "bore-guage-study"', "guage", "operation[13].study",
     "no study called", 'write "bore-gauge-study"'),
    ('id = "dial-zero-after"\n', 'id = "dial-zero-before"\n',
     'zero-before"\nzero = "dial-zero"\nafter',
     "operation[dial-zero-before].id", "taken by another operation", "of its own"),
    ('confirm = "ring-square"\nround = "rings"',
     'confirm = "ring-square"\nround = "rings"\n[[operation]]\nconfirm = "faces-clean"\nid = "x"',
     'round = "rings"\nafter', "operation[17].round", "was left before", "move this operation up"),
    ('text = "Pushed down with a plunger, so that it stands square."\npart = "plunger"',
     'text = "Pushed."', 'round = "rings"\n\n', "operation[15].round",
     "done once, not for every number", "give it a part"),
    ('text = "Pushed down with a plunger, so that it stands square."\npart = "plunger"',
     'text = "Pushed."\npart = "cover-screw"', 'round = "rings"\nafter', "operation[16].round",
     '"plunger" (1 by side) and "cover-screw" (4 by cover-screw)', "one position"),
    ('confirm = "ring-square"\nround = "rings"',
     'confirm = "ring-square"\nround = "rings"\nafter = ["measure-ring-side-clearance"]\n#',
     "", "operation[15].after", "wait for each other", "take one"),
    ('round = "rings"\nafter = ["confirm-ring-square"]',
     'round = "rings"\nafter = ["x"]\n[[operation]]\nid = "x"\nconfirm = "faces-clean"\n'
     'after = ["confirm-ring-square"]',
     'after = ["x"]', "operation[16].after", "between two operations of the round",
     "before the round"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "mark", "key", "message", "mend"),
    MISTAKES,
    ids=[f"{key}: {message}"[:80] for _, _, _, key, message, _ in MISTAKES],
)
def test_a_mistake_is_named_with_its_line_key_and_mend(
    old: str, new: str, mark: str, key: str, message: str, mend: str
) -> None:
    text = edited((old, new))
    if "wait for each other" in message:
        mark = 'after = ["measure-ring-side-clearance"]'
    found = problems(text)

    assert [(one.key, one.line) for one in found] == [(key, line_of(text, mark))], found
    assert message in found[0].message
    assert mend in found[0].mend


def test_every_mistake_of_a_formula_is_named_at_once() -> None:
    found = problems(edited((RATIO, '"strok / (boar - bore[up])"')))
    assert [one.key for one in found] == [FORMULA] * 3
    assert [one.mend for one in found] == [
        'write "stroke".',
        'write "bore".',
        "its points are top-along, top-across, bottom-along or bottom-across.",
    ]


def test_derived_quantities_made_of_each_other_are_named() -> None:
    text = edited((VOLUME, '"rest * bore ^ 3"'), (RATIO, '"swept-volume / bore ^ 3"')) + (
        '[[derived]]\nid = "rest"\ntitle = "R"\nunit = "1"\nupper_limit = "1"\n'
        'formula = "slenderness * 2"\n'
    )
    (found,) = problems(text)
    assert "made of each other: swept-volume, slenderness and rest" in found.message
    assert found.key == "derived[swept-volume].formula"


def test_limits_that_follow_from_each_other_are_named() -> None:
    text = edited(('factor_of = "bore"', 'factor_of = "twice"')) + (
        '[[derived]]\nid = "twice"\ntitle = "T"\nunit = "mm"\nlower_limit = "1"\n'
        'upper_limit = "2"\nformula = "2 * ring-gap"\n'
    )
    (found,) = problems(text)
    assert found.key == "characteristic[ring-gap].factor_of"
    assert "from the size itself (ring-gap and twice)" in found.message


def test_a_factor_of_a_quantity_without_both_limits_tells_no_widest() -> None:
    text = edited(('factor_of = "bore"', 'factor_of = "twice"')) + (
        '[[derived]]\nid = "twice"\ntitle = "T"\nunit = "mm"\nupper_limit = "42"\n'
        'formula = "2 * bore"\n'
    )
    (found,) = problems(text)
    assert 'nothing tells how large "twice" can become' in found.message


def test_parts_that_share_no_position_do_not_meet_in_a_formula() -> None:
    text = edited((RATIO, '"stroke / (bore + screw-length)"')) + (
        '[[characteristic]]\nid = "screw-length"\ntitle = "L"\npart = "cover-screw"\nunit = "mm"\n'
        'upper_limit_of_size = "30"\ninstruments = ["caliper"]\n'
    )
    assert loaded(text.replace('"1.4"', '"0"')).derived["slenderness"].part == "cover-screw"
    more = text.replace('title = "Barrel"\n', 'title = "Barrel"\ncount = 3\n').replace(
        'title = "Plunger"\n', 'title = "Plunger"\ncount = 3\n'
    )
    more = more.replace('title = "Gland screw"\ncount = 2', 'title = "Gland screw"\ncount = 6')
    more = more.replace("order = [1, 2]", "order = [1, 2, 3, 4, 5, 6]")
    (found,) = problems(more)
    assert found.key == FORMULA
    assert '"bore" does not fit in: "cover-screw" is counted by cover-screw' in found.message


def test_limits_by_factor_need_the_other_size_at_the_same_position() -> None:
    text = page()
    for old, new in (
        ('title = "Barrel"\n', 'title = "Barrel"\ncount = 2\n'),
        ('title = "Plunger"\n', 'title = "Plunger"\ncount = 2\n'),
        ('title = "Gland screw"\ncount = 2', 'title = "Gland screw"\ncount = 4'),
        ("order = [1, 2]", "order = [1, 2, 3, 4]"),
        ('title = "End gap of the plunger ring in its barrel"\npart = "plunger"',
         'title = "End gap"\npart = "cover-screw"'),
    ):  # fmt: skip
        assert text.count(old) == 1
        text = text.replace(old, new)
    (found,) = problems(text)
    assert found.key == "characteristic[ring-gap].factor_of"
    assert 'counted by cover-screw and "barrel" by side' in found.message


def test_together_within_a_round_keeps_to_one_place() -> None:
    text = page()
    for old, new in (
        ('title = "Barrel"\n', 'title = "Barrel"\ncount = 2\n'),
        ('title = "Plunger"\n', 'title = "Plunger"\ncount = 2\n'),
        ('title = "Gland screw"\ncount = 2', 'title = "Gland screw"\ncount = 4'),
        ("order = [1, 2]", "order = [1, 3, 2, 4]"),
        ('tighten = "gland-screws"', 'tighten = "gland-screws"\nround = "glands"'),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    (found,) = problems(text)
    assert "takes together fasteners of more than one side" in found.message
    loaded(text.replace("order = [1, 3, 2, 4]\ntogether", "order = [3, 4, 2, 1]\ntogether"))


STUDY = "study[bore-gauge-study]"


@pytest.mark.parametrize(
    ("changes", "keys"),
    [
        (
            (('appraisers = ["A", "B"]', 'appraisers = ["A", "A B"]'),
             ("samples = 5", "samples = 1"), ('tolerance = "0.021"', 'tolerance = "-1"')),
            [f"{STUDY}.appraisers[2]", f"{STUDY}.samples", f"{STUDY}.tolerance"],
        ),
        (
            (('appraisers = ["A", "B"]', "appraisers = []"), ("trials = 2", "trials = 0"),
             ("samples = 5", "samples = 5\nreferences = [20]")),
            [f"{STUDY}.appraisers", f"{STUDY}.references", f"{STUDY}.trials"],
        ),
        # what cannot be known from a key that is wrong itself is not said on top
        ((("samples = 5", 'samples = "5"'),), [f"{STUDY}.samples"]),
        ((("samples = 5", "sampels = 5"),), [f"{STUDY}.sampels"]),
        ((("samples = 5", 'samples = 1\nreferences = ["?"]'),), [f"{STUDY}.references[1]"]),
        (
            (('tool = "torque-wrench-1"', 'tool = "torque wrench"'),
             ('maximum = "20"', 'maximum = "0"')),
            ["tool_check[wrench-check].tool", "tool_check[wrench-check].maximum"],
        ),
    ],
)  # fmt: skip
def test_one_mistake_of_a_gauge_check_hides_no_other(
    changes: tuple[tuple[str, str], ...], keys: list[str]
) -> None:
    assert [one.key for one in problems(edited(*changes))] == keys


def test_missing_limits_are_told_beside_another_mistake() -> None:
    text = edited(
        ('unit = "N·m"\nlower_limit = "0.2"\nupper_limit = "1.5"', 'unit = "parsec"'),
    )
    messages = {one.key: one.message for one in problems(text)}
    assert "not a known unit" in messages["turning_test[lever-moves].unit"]
    assert "there are no limits" in messages["turning_test[lever-moves]"]

"""Given values, formulas, limits by factor, expansion, joints, rounds and gauge checks in a spec:
what they are read as, and each mistake with its line, key and mend."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import pytest

from capture.spec.load import step_count, warnings
from capture.spec.model import Basis, Joint, Kind, Limits, Quantity
from tests.unit.spec_page import edited, line_of, loaded, page, problems

# --- what is read -----------------------------------------------------------------------------


def test_the_whole_page_loads_without_warnings() -> None:
    assert warnings(loaded(page())) == ()


def test_parts_stand_several_at_a_place() -> None:
    part = loaded(page()).parts["gland-screw"]
    assert (part.count, part.per, part.position) == (2, 2, "side")
    assert [part.place(number) for number in (1, 2, 3, 4, 5)] == [1, 1, 2, 2, 3]


def test_a_given_value_is_read() -> None:
    given = loaded(page()).given["stroke"]
    assert (str(given.value), given.unit) == ("30.00", "mm")


def test_a_formula_lists_what_it_is_made_of() -> None:
    spec = loaded(page())
    volume, ratio = spec.derived["swept-volume"], spec.derived["slenderness"]
    assert volume.quantity is ratio.quantity is Quantity.FORMULA
    assert volume.formula is not None
    assert volume.formula.text == "pi / 4 * bore ^ 2 * stroke"
    assert (volume.of, volume.part, volume.unit) == (("bore",), "barrel", "mL")
    assert ratio.unit == "1"


def test_a_formula_may_name_derived_quantities_that_stand_below_it() -> None:
    text = edited(("stroke / max(bore)", "fill / stroke ^ 3")) + (
        '[[derived]]\nid = "fill"\ntitle = "F"\nunit = "in³"\nupper_limit = "1"\n'
        'formula = "swept-volume * 0.9 + min(bore[top-along], plunger-diameter) ^ 3"\n'
    )
    spec = loaded(text.replace('"1.4"', '"0"').replace('"1.6"', '"9"'))
    assert spec.derived["slenderness"].of == ("fill",)
    assert spec.derived["slenderness"].part == "barrel"
    assert spec.derived["fill"].of == ("swept-volume", "bore", "plunger-diameter")


def test_a_formula_is_computed_for_the_part_there_are_most_of() -> None:
    text = edited(('position = "side"                 # both are at side 1', 'position = "side"'))
    text += (
        '[[characteristic]]\nid = "length"\ntitle = "L"\npart = "gland-screw"\nunit = "mm"\n'
        'upper_limit_of_size = "30"\ninstruments = ["caliper"]\n[[operation]]\nmeasure = "length"\n'
        '[[derived]]\nid = "d"\ntitle = "D"\nunit = "mm"\nupper_limit = "99"\n'
        'formula = "bore + length"\n'
        '[[derived]]\nid = "e"\ntitle = "E"\nunit = "mm"\nupper_limit = "99"\n'
        'formula = "d + bore"\n'
    )
    spec = loaded(text)
    assert (spec.derived["d"].part, spec.derived["e"].part) == ("gland-screw", "gland-screw")


def test_a_part_of_which_there_is_one_belongs_to_every_number() -> None:
    text = edited(("stroke / max(bore)", "lid / max(screw-bore)")) + (
        '[[part]]\nid = "lid"\ntitle = "Lid"\n'
        '[[characteristic]]\nid = "lid"\ntitle = "L"\npart = "lid"\nunit = "in"\n'
        'upper_limit_of_size = "3"\ninstruments = ["caliper"]\n[[operation]]\nmeasure = "lid"\n'
        '[[characteristic]]\nid = "screw-bore"\ntitle = "S"\npart = "cover-screw"\nunit = "mm"\n'
        'upper_limit_of_size = "30"\ninstruments = ["caliper"]\n'
        '[[operation]]\nmeasure = "screw-bore"\n'
    )
    assert loaded(text).derived["slenderness"].part == "cover-screw"


def test_cylindricity_greatest_clearance_and_target_are_read() -> None:
    text = edited(
        ('upper_limit = "0.054"', 'upper_limit = "0.054"\nbasis = "greatest"\ntarget = "0.030"')
    ) + (
        '[[derived]]\nid = "form"\ntitle = "F"\nquantity = "cylindricity"\nof = ["bore"]\n'
        'unit = "µm"\nupper_limit = "10"\n'
    )
    spec = loaded(text)
    clearance = spec.derived["plunger-clearance"]
    assert (clearance.basis, clearance.target) == (Basis.GREATEST, Decimal("0.030"))
    assert clearance.part == "barrel"
    assert spec.derived["form"].quantity is Quantity.CYLINDRICITY


def test_limits_by_factor_are_the_widest_they_can_become() -> None:
    spec = loaded(page())
    gap, bore = spec.characteristics["ring-gap"], spec.characteristics["bore"]
    assert bore.plausible == Limits(Decimal("19.790"), Decimal("20.231"))
    assert gap.limits == Limits(Decimal("0.07916"), Decimal("0.101155"))
    assert gap.factors is not None
    assert (gap.factors.of, str(gap.factors.lower)) == ("bore", "0.004")
    assert gap.plausible.lower is not None
    assert gap.plausible.upper is not None
    # An inch typed for a millimetre falls outside.
    assert gap.plausible.lower > Decimal("0.101155") / Decimal("25.4")
    assert gap.plausible.upper < Decimal("0.07916") * Decimal("25.4")


def test_limits_by_factor_that_do_not_end_are_rounded_outwards() -> None:
    text = edited(
        ('unit = "mm"\nlower_limit_factor', 'unit = "in"\nlower_limit_factor'),
        ('upper_limit_factor = "0.005"', 'upper_limit_factor = "0.005"'),
    )
    limits = loaded(text).characteristics["ring-gap"].limits
    assert limits.lower is not None
    assert limits.upper is not None
    least, most = Fraction("0.07916") / Fraction("25.4"), Fraction("0.101155") / Fraction("25.4")
    assert Fraction(0) < least - Fraction(limits.lower) < Fraction(1, 10**12)
    assert Fraction(0) < Fraction(limits.upper) - most < Fraction(1, 10**12)


def test_limits_by_factor_follow_a_chain_in_any_order_and_through_a_mean() -> None:
    text = page().replace('factor_of = "bore"', 'factor_of = "second"') + (
        '[[characteristic]]\nid = "second"\ntitle = "S"\npart = "barrel"\nunit = "mm"\n'
        'upper_limit_factor = "2"\nfactor_of = "mean-bore"\ninstruments = ["x"]\n'
        'lower_limit_factor = "1"\n'
        '[[derived]]\nid = "mean-bore"\ntitle = "M"\nquantity = "mean"\nof = ["bore"]\n'
        'unit = "mm"\nupper_limit = "21"\n'
    )
    spec = loaded(text)
    assert spec.characteristics["second"].limits == Limits(Decimal("19.79"), Decimal("40.462"))
    band = spec.characteristics["second"].plausible
    assert band.upper is not None
    gap = spec.characteristics["ring-gap"]
    assert gap.limits.upper == (band.upper * Decimal("0.005")).normalize()


def test_expansion_is_read() -> None:
    expansion = loaded(page()).characteristics["seat-depth"].expansion
    assert expansion is not None
    assert (expansion.temperature, str(expansion.coefficient)) == ("barrel-temperature", "11.5")
    assert expansion.coefficient_uncertainty == Decimal("0.5")


def test_a_joint_is_brought_to_millimetres_and_megapascals_exactly() -> None:
    inch = (
        'joint = { unit = "in", diameter = "0.375", threads_per_inch = "24", nut_factor = "0.15", '
        'scatter_percent = "30", clamped_length = "1.5", stress_unit = "ksi", proof_stress = "120",'
        ' elastic_modulus = "30000" }'
    )
    start = page().index("joint = {")
    written = page()[start : page().index("\n", start)]
    joint = loaded(edited((written, inch))).fasteners["gland-screws"].joint
    # 1 psi is 0.45359237 · 9.80665 / 0.0254² Pa by definition.
    psi = Fraction("0.45359237") * Fraction("9.80665") / Fraction("0.0254") ** 2 / 10**6
    assert joint == Joint(
        diameter=Decimal("9.525"),
        pitch=Fraction(254, 240),
        series="unified",
        nut_factor=Decimal("0.15"),
        friction_thread=None,
        friction_head=None,
        bearing_diameter=None,
        scatter_percent=Decimal(30),
        proof_stress=psi * 120_000,
        clamped_length=Decimal("38.1"),
        elastic_modulus=psi * 30_000_000,
    )


def test_a_stretch_stage_and_together_are_read() -> None:
    text = edited(
        ('unit = "N·m"\ntarget = "7.0"\npermissible_deviation_percent = "8"',
         'unit = "mm"\ntarget = "0.05"\nlower_limit = "0.04"\nupper_limit = "0.06"'),
    )  # fmt: skip
    fastener = loaded(text).fasteners["gland-screws"]
    assert (fastener.together, fastener.stages[0].unit) == (2, "mm")


def test_gauge_checks_and_their_operations_are_read() -> None:
    spec = loaded(page())
    assert spec.zero_checks["dial-zero"].plausible == Limits(Decimal("-0.2"), Decimal("0.2"))
    study = spec.studies["bore-gauge-study"]
    assert (study.appraisers, study.samples, study.trials) == (("A", "B"), 5, 2)
    assert (study.lot, study.references) == ("bore-gauge-study", ())
    check = spec.tool_checks["wrench-check"]
    assert check.points_percent == (Decimal(20), Decimal(60), Decimal(100))
    assert (check.readings, check.preloads) == (5, 5)
    counts = {
        one.id: (one.kind, step_count(spec, index)) for index, one in enumerate(spec.operations)
    }
    assert counts["dial-zero-before"] == (Kind.ZERO, 1)
    assert counts["study-bore-gauge-study"] == (Kind.STUDY, 20)
    assert counts["check-wrench-check"] == (Kind.CHECK, 20)


def test_the_band_of_a_tool_check_holds_every_setting_with_its_deviation() -> None:
    band = loaded(page()).tool_checks["wrench-check"].plausible
    assert band.lower is not None
    assert band.upper is not None
    assert 0 < band.lower < Decimal(4) / Decimal("1.04")
    assert Decimal(20) / Decimal("0.96") < band.upper < 20 * Decimal("1.3558")


def test_a_study_with_references_may_have_one_sample() -> None:
    text = edited(
        ("samples = 5", 'samples = 1\nreferences = ["20.000"]\nlot = "second try"'),
    )
    study = loaded(text).studies["bore-gauge-study"]
    assert (study.references, study.lot) == ((Decimal("20.000"),), "second try")


def test_a_round_and_a_turning_test_of_a_part_are_read() -> None:
    text = edited(
        ('title = "Torque that moves the lever"', 'title = "Torque"\npart = "cover-screw"'),
        ('title = "Cover screw"\ncount = 4', 'title = "Cover screw"\ncount = 4\nposition = "n"'),
    )
    spec = loaded(text)
    assert spec.turning_tests["lever-moves"].part == "cover-screw"
    index = next(i for i, one in enumerate(spec.operations) if one.id == "turn-lever-moves")
    assert step_count(spec, index) == 4
    assert [one.round for one in spec.operations if one.round] == ["rings", "rings"]


# --- mistakes ---------------------------------------------------------------------------------

VOLUME = '"pi / 4 * bore ^ 2 * stroke"'
GIVEN = 'value = "30.00"\nunit = "mm"'
RATIO = '"stroke / max(bore)"'
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


# --- warnings ---------------------------------------------------------------------------------

WARNINGS = [
    ((RATIO, '"bore / max(bore)"'), (VOLUME, '"bore ^ 3"'), "given[stroke]", "no formula names"),
    (('after = ["measure-bore"]\n\n[[characteristic]]', "\n[[characteristic]]"), None,
     "operation[6]", 'the limits of "ring-gap" follow from "bore"'),
    (('after = ["measure-barrel-temperature"]', ""), None,
     "operation[8]", '"seat-depth" is brought to 20 °C by "barrel-temperature"'),
    (('measure = "barrel-temperature"',
      'confirm = "faces-clean"\nid = "measure-barrel-temperature"'), None,
     "characteristic[seat-depth].expansion", "never measured"),
    (('id = "dial-zero-after"\nzero = "dial-zero"', 'id = "later"\nconfirm = "faces-clean"'), None,
     "operation[11]", "no zero check closes the readings of the dial-gauge"),
    (('id = "dial-zero-before"\nzero = "dial-zero"',
      'id = "dial-zero-before"\nconfirm = "faces-clean"'), None,
     "operation[11]", "no zero check opens the readings of the dial-gauge"),
    (('study = "bore-gauge-study"', 'confirm = "faces-clean"\nid = "x"'), None,
     "study[bore-gauge-study]", "never done"),
    (('check = "wrench-check"', 'confirm = "faces-clean"\nid = "x"'), None,
     "tool_check[wrench-check]", "never done"),
]  # fmt: skip


@pytest.mark.parametrize(("one", "other", "key", "message"), WARNINGS)
def test_a_warning_names_what_is_hardly_meant(
    one: tuple[str, str], other: tuple[str, str] | None, key: str, message: str
) -> None:
    text = edited(*((one,) if other is None else (one, other)))
    text = text.replace('"9.40"', '"0"')
    found = [each for each in warnings(loaded(text)) if each.key == key]
    assert any(message in each.message for each in found), warnings(loaded(text))


def test_fasteners_taken_into_yield_are_not_used_again() -> None:
    text = edited(("together = 2", "together = 2\ntorque_to_yield = true")) + (
        '[[fastener]]\nid = "again"\ntitle = "A"\npart = "gland-screw"\norder = [1, 2]\n'
        'lubricant = "dry"\ninstruments = ["torque-wrench"]\n[[fastener.stage]]\nid = "s"\n'
        'title = "S"\nunit = "N·m"\ntarget = 5\npermissible_deviation_percent = 5\n'
        '[[operation]]\ntighten = "again"\nafter = ["tighten-gland-screws"]\n'
    )
    (found,) = warnings(loaded(text))
    assert found.key == "operation[17]"
    assert '"tighten-gland-screws" has already taken into yield' in found.message


def test_what_rests_on_something_never_measured_is_named_once() -> None:
    text = edited((RATIO, '"swept-volume / bore ^ 3"')) + (
        '[[characteristic]]\nid = "lost"\ntitle = "L"\npart = "barrel"\nunit = "mm"\n'
        'upper_limit_of_size = "30"\ninstruments = ["x"]\n'
        '[[derived]]\nid = "a"\ntitle = "A"\nunit = "mm"\nupper_limit = "1"\nformula = "2 * lost"\n'
        '[[derived]]\nid = "b"\ntitle = "B"\nunit = "mm"\nupper_limit = "1"\nformula = "a + bore"\n'
    )
    found = [one.key for one in warnings(loaded(text))]
    assert found == ["characteristic[lost]", "derived[a].of"]


def test_warnings_stand_in_the_order_of_the_file() -> None:
    lines = [
        one.line
        for one in warnings(loaded(edited(('study = "b', 'confirm = "faces-clean"\nid = "b'))))
    ]
    assert all(one <= other for one, other in pairwise(lines))


def test_a_round_is_listed_in_its_order_of_work() -> None:
    text = edited(
        (
            'confirm = "ring-square"\nround = "rings"',
            'confirm = "ring-square"\nround = "rings"\nafter = ["measure-ring-side-clearance"]',
        ),
        ('after = ["confirm-ring-square"]', ""),
    )
    (found,) = problems(text)
    assert found.line == line_of(text, 'after = ["measure-ring-side-clearance"]')
    assert '"measure-ring-side-clearance" stands further down in the same round' in found.message


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


WARM = (
    'instruments = ["bore-gauge"]\n\n[[characteristic]]',
    'instruments = ["bore-gauge"]\nexpansion = { temperature = "barrel-temperature", '
    'coefficient = "11.5" }\n\n[[characteristic]]',
)


def mixed(text: str) -> list[tuple[str, str]]:
    return [(one.key, one.message) for one in warnings(loaded(text)) if "as warm as" in one.message]


def test_a_clearance_between_a_size_at_20_degrees_and_a_warm_one_is_remarked() -> None:
    assert mixed(page()) == []
    message = (
        '"plunger-clearance" takes "bore" at 20 °C, and "plunger-diameter" as warm as measured.'
    )
    assert mixed(edited(WARM)) == [("derived[plunger-clearance].of", message)]
    both = edited(
        WARM,
        (
            'instruments = ["micrometer"]',
            'instruments = ["micrometer"]\nexpansion = { temperature = "barrel-temperature", '
            'coefficient = "23" }',
        ),
    )
    assert mixed(both) == []


@pytest.mark.parametrize(
    ("formula", "found"),
    [
        ("bore - plunger-diameter", True),
        ("bore-mean - 2 * plunger-diameter", True),
        ("max(bore, plunger-diameter)", True),
        ("2 * (stroke - (bore + plunger-diameter) / 2)", True),
        ("bore * plunger-diameter / stroke", False),
        ("bore - stroke", False),
        ("bore + range(plunger-diameter)", False),
        ("bore - plunger-clearance", False),
    ],
)
def test_so_is_a_formula_that_subtracts_adds_or_compares_them(formula: str, found: bool) -> None:
    text = edited(WARM) + (
        '[[derived]]\nid = "bore-mean"\ntitle = "M"\nquantity = "mean"\nof = ["bore"]\n'
        'unit = "mm"\nlower_limit = "20.000"\n'
        f'[[derived]]\nid = "x"\ntitle = "X"\nformula = "{formula}"\nunit = "mm"\n'
        'lower_limit = "0"\n'
    )
    assert [key for key, _ in mixed(text) if "[x]" in key] == ["derived[x].formula"] * found

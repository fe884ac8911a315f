"""Given values, formulas, limits by factor, expansion, joints, rounds and gauge checks in a spec:
what they are read as, and each mistake with its line, key and mend."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

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

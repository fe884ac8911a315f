"""What a spec may say and hardly means: warnings."""

from __future__ import annotations

from itertools import pairwise

import pytest

from capture.spec.load import warnings
from tests.unit.spec_page import RATIO, VOLUME, edited, loaded, page

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
    assert found.key == "operation[19]"
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

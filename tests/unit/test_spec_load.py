"""Loading a spec: what comes out of a good one, and every kind of mistake by line, key and mend.

The mistakes are made as a user makes them: one edit of the worked example in FORMAT.md.
"""

from __future__ import annotations

import hashlib
import re
import timeit
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from capture.errors import SpecError
from capture.spec import (
    limits,
    plausible,
    read_checks,
    read_decision,
    read_derived,
    read_expansion,
    read_fasteners,
    read_gauges,
    read_given,
    read_joint,
    read_order,
    read_parts,
    read_sizes,
)
from capture.spec.load import KEYS, load, step_count, warnings
from capture.spec.model import Basis, Decision, Kind, Limits, Point, Quantity, Rule

ROOT = Path(__file__).parents[2]
FORMAT = (ROOT / "capture/spec/FORMAT.md").read_text(encoding="utf-8")
ENGINE = ROOT / "simulators/scenarios/inline-four/engine.toml"


def example() -> str:
    found = re.search(r"^```toml\n(.*?)^```", FORMAT, re.DOTALL | re.MULTILINE)
    assert found is not None
    return found.group(1)


def edited(old: str, new: str) -> str:
    text = example()
    assert text.count(old) == 1, f"{text.count(old)} places to edit"
    return text.replace(old, new)


def ends(limits: Limits) -> tuple[Decimal, Decimal]:
    assert limits.lower is not None
    assert limits.upper is not None
    return limits.lower, limits.upper


# --- good files -----------------------------------------------------------------------------


def test_the_worked_example_loads_without_warnings() -> None:
    data = example().encode()
    spec = load(data, "pump.toml")

    assert warnings(spec) == ()
    assert spec.hash == hashlib.sha256(data).hexdigest()
    assert spec.text == example()
    assert (spec.id, spec.revision, spec.invented) == ("small-pump", "1", True)
    bore = spec.characteristics["bore"]
    assert bore.limits == Limits(Decimal("20.000"), Decimal("20.021"))
    assert [point.id for point in bore.points] == [
        "top-along",
        "top-across",
        "bottom-along",
        "bottom-across",
    ]
    assert spec.characteristics["plunger-diameter"].points == (Point(),)
    assert spec.derived["plunger-clearance"].quantity is Quantity.CLEARANCE
    assert spec.derived["plunger-clearance"].basis is Basis.MEAN
    screws = spec.fasteners["cover-screws"]
    assert screws.order == (1, 3, 2, 4)
    assert [(stage.id, stage.final) for stage in screws.stages] == [
        ("snug", False),
        ("final", True),
    ]
    assert screws.stages[0].limits == Limits(Decimal("3.60"), Decimal("4.40"))
    assert [operation.id for operation in spec.operations] == [
        "measure-bore",
        "measure-plunger-diameter",
        "confirm-faces-clean",
        "tighten-cover-screws",
        "turn-lever-moves",
    ]
    assert [operation.kind for operation in spec.operations][2:] == [
        Kind.CONFIRM,
        Kind.TIGHTEN,
        Kind.TURN,
    ]
    assert [step_count(spec, index) for index in range(5)] == [4, 2, 1, 8, 1]
    assert spec.decision == Decision()


def test_the_demo_engine_loads_without_warnings_and_says_it_is_invented() -> None:
    spec = load(ENGINE.read_bytes(), "engine.toml")

    assert warnings(spec) == ()
    assert spec.invented
    assert "nvented" in spec.title
    assert "invented" in spec.notice
    steps = sum(step_count(spec, index) for index in range(len(spec.operations)))
    assert 200 <= steps <= 400
    for one in spec.derived.values():
        if one.quantity is Quantity.CLEARANCE:
            outer, inner = (spec.characteristics[id_].limits for id_ in one.of)
            low, high = (ends(outer)[0] - ends(inner)[1], ends(outer)[1] - ends(inner)[0])
            least, most = ends(one.limits)
            # Freely mixed parts may miss (that is what fitting together is for), but most fit.
            assert max(least, low) < min(most, high)


def test_every_key_is_described() -> None:
    keys = {
        *KEYS,
        *read_parts.KEYS,
        *read_sizes.KEYS,
        *read_derived.KEYS,
        *read_fasteners.KEYS,
        *read_fasteners.STAGE_KEYS,
        *read_checks.CONFIRMATION_KEYS,
        *read_checks.TURNING_KEYS,
        *read_decision.KEYS,
        *read_order.KEYS,
        *read_given.KEYS,
        *read_joint.KEYS,
        *read_expansion.KEYS,
        *read_gauges.ZERO_KEYS,
        *read_gauges.STUDY_KEYS,
        *read_gauges.TOOL_KEYS,
        *plausible.KEYS,
        *limits.SIZE_KEYS,
    }
    named = set(re.findall(r"[a-z_]+", " ".join(re.findall(r"`([^`\n]+)`", FORMAT))))
    assert keys - named == set()


@pytest.mark.parametrize("written", ['"20.000"', "20.000", '"+20.000"', "2_0.000"])
def test_digits_are_kept_as_written(written: str) -> None:
    spec = load(edited('nominal_size = "20.000"', f"nominal_size = {written}").encode(), "p")
    assert str(spec.characteristics["bore"].nominal_size) == "20.000"


def test_crlf_line_ends_give_the_same_spec_and_the_same_lines() -> None:
    text = edited('unit = "mm"\nnominal', 'unit = "yardd"\nnominal')
    with pytest.raises(SpecError) as plain:
        load(text.encode(), "pump.toml")
    with pytest.raises(SpecError) as crlf:
        load(text.replace("\n", "\r\n").encode(), "pump.toml")
    assert crlf.value.problems == plain.value.problems
    assert [problem.line for problem in crlf.value.problems] == [
        text[: text.index('"yardd"')].count("\n") + 1
    ]


def test_a_decision_is_read() -> None:
    text = example() + (
        '\n[decision]\nrule = "iso14253"\ncoverage_factor = "2.5"\noverdue = "hold"\n'
        "repeat_window_ms = 0\n"
    )
    assert load(text.encode(), "p").decision == Decision(
        rule=Rule.ISO14253, coverage_factor=Decimal("2.5"), overdue="hold", repeat_window_ms=0
    )


def test_the_same_thing_may_be_tightened_again_under_an_id_of_its_own() -> None:
    text = example() + (
        '\n[[operation]]\nid = "again"\ntighten = "cover-screws"\nafter = ["turn-lever-moves"]\n'
    )
    assert load(text.encode(), "p").operations[-1].id == "again"


# --- the plausible band where the file is silent ----------------------------------------------


def bore_band(lower: str, upper: str, unit: str = "mm") -> Limits:
    return plausible.silent(Limits(Decimal(lower), Decimal(upper)), unit)


def test_a_band_reaches_one_per_cent_or_ten_tolerances() -> None:
    assert bore_band("86.000", "86.020") == Limits(Decimal("85.139"), Decimal("86.881"))
    assert bore_band("86.0", "86.5") == Limits(Decimal("81.0"), Decimal("91.5"))
    assert bore_band("-0.05", "0.10") == Limits(Decimal("-1.55"), Decimal("1.60"))
    assert bore_band("0", "0.05") == Limits(Decimal("0"), Decimal("0.55"))


@pytest.mark.parametrize(
    ("lower", "upper", "unit", "slip"),
    [
        ("86.000", "86.020", "mm", "25.4"),
        ("0.080", "0.250", "mm", "25.4"),
        ("0.003", "0.010", "in", "25.4"),
        ("76", "84", "N·m", "1.3558"),
        ("27", "33", "N·m", "1.3558"),
    ],
)
def test_a_mistaken_unit_always_falls_outside(lower: str, upper: str, unit: str, slip: str) -> None:
    low, high = ends(bore_band(lower, upper, unit))
    least, most, factor = Decimal(lower), Decimal(upper), Decimal(slip)
    assert most / factor < low <= least
    assert most <= high < least * factor


def test_a_stated_band_stands() -> None:
    spec = load(example().encode(), "p")
    assert spec.turning_tests["lever-moves"].plausible == Limits(Decimal(0), Decimal(10))


# --- large files ------------------------------------------------------------------------------


def test_a_hundred_thousand_points_cost_little_more_than_parsing_the_text() -> None:
    """Against tomllib alone in the same run, so that a slow machine cannot fail it."""
    depths = [f"d{depth}" for depth in range(500)]
    text = example()[: example().index("[[characteristic]]")]
    for number in range(100):
        text += (
            f'[[characteristic]]\nid = "c{number}"\ntitle = "C"\npart = "barrel"\nunit = "mm"\n'
            f'nominal_size = "86.0"\nlower_limit_deviation = "0"\nupper_limit_deviation = "0.02"\n'
            f'depths = {depths}\naxes = ["a", "b"]\ninstruments = ["bore-gauge"]\n'
            f'[[operation]]\nmeasure = "c{number}"\n'
        )
    data = text.encode()
    spec = load(data, "large.toml")
    assert sum(step_count(spec, index) for index in range(100)) == 100_000
    bare = min(timeit.repeat(lambda: tomllib.loads(text), number=1, repeat=3))
    whole = min(timeit.repeat(lambda: load(data, "large.toml"), number=1, repeat=3))
    assert whole < 5 * bare


def test_thousands_of_mistakes_are_named_but_not_all_guessed() -> None:
    """Looking for the nearest word must not make a hopeless file hang the service."""
    text = example() + "".join(
        f'[[operation]]\nid = "o{number}"\nconfirm = "faces-cleaned-{number}"\n'
        for number in range(2000)
    )
    with pytest.raises(SpecError) as caught:
        load(text.encode(), "hopeless.toml")
    assert len(caught.value.problems) == 1001
    assert caught.value.problems[-1].message == "there are 1000 more mistakes."
    guessed = [one for one in caught.value.problems if one.mend == 'write "faces-clean".']
    assert 10 <= len(guessed) <= 100

"""Whether the instruments on a bench are fine enough for a spec, in the module and on the command
line."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from api.cli.spec import check
from capture.instrument import Calibration, Instrument
from capture.spec.coarse import Fineness, fineness, tolerances
from capture.spec.model import Limits
from tests.unit.spec_page import edited, loaded, page

EIGHT = {
    "micrometer": ("mm", "0.001", "0.0020"),
    "bore-gauge": ("mm", "0.001", "0.0020"),
    "torque-wrench": ("N·m", "0.01", "0.1"),
}


def instrument(kind: str, **more: Any) -> Instrument:
    unit, resolution, expanded = EIGHT[kind]
    return replace(
        Instrument(
            id=f"{kind}-1",
            kind=kind,
            unit=unit,
            resolution=Decimal(resolution),
            port="typed",
            profile="typed",
            calibration=Calibration("C-1", "2027-06-30", Decimal(expanded), Decimal(2)),
        ),
        **more,
    )


def row(rows: list[Fineness], subject: str) -> Fineness:
    (found,) = [one for one in rows if one.subject == subject]
    return found


def test_the_ratio_is_tolerance_over_expanded_uncertainty() -> None:
    found = row(fineness(loaded(page()), [instrument("bore-gauge")]), "characteristic bore")
    # u² = (0.002/2)² + (0.001/√12)²; U = 2u, rounded up to two digits.
    u = math.hypot(0.001, 0.001 / math.sqrt(12))
    assert found.expanded_uncertainty == Decimal("0.0021")
    assert 2 * u < 0.0021
    assert found.tolerance == Decimal("0.021")
    assert found.ratio == pytest.approx(10)
    assert found.note == ""


def test_a_ratio_below_four_is_remarked() -> None:
    found = row(
        fineness(loaded(page()), [instrument("micrometer")]), "characteristic plunger-diameter"
    )
    assert found.ratio == pytest.approx(0.013 / 0.0021)
    assert found.note == ""
    coarse = instrument("micrometer", resolution=Decimal("0.01"))
    found = row(fineness(loaded(page()), [coarse]), "characteristic plunger-diameter")
    assert found.expanded_uncertainty == Decimal("0.0062")
    assert found.note == (
        "The tolerance is only 2.1 times the expanded uncertainty of micrometer-1 (0.0062 mm); "
        "4 or more is common practice."
    )


def test_an_empty_acceptance_zone_is_said_under_the_rule_of_the_spec() -> None:
    coarse = instrument("micrometer", resolution=Decimal("0.02"))  # U = 0.012, 2U > 0.013
    subject = "characteristic plunger-diameter"
    found = row(fineness(loaded(page()), [coarse]), subject)
    assert found.note == (
        "micrometer-1 is too coarse: with an expanded uncertainty of 0.012 mm nothing can be "
        "found conforming within 19.967 to 19.980 mm."
    )
    simple = loaded(page() + '\n[decision]\nrule = "simple"\n')
    assert "only 1.1 times" in row(fineness(simple, [coarse]), subject).note
    half = loaded(page() + '\n[decision]\nguard_factor = "0.5"\n')
    assert "only 1.1 times" in row(fineness(half, [coarse]), subject).note


def test_a_comparative_gauge_is_at_best_so_fine() -> None:
    gauge = instrument("bore-gauge", comparative=True, resolution=Decimal("0.01"))
    found = row(fineness(loaded(page()), [gauge]), "characteristic bore")
    assert "bore-gauge-1 (at least 0.0062 mm)" in found.note


def test_a_gauge_in_inches_serves_a_tolerance_in_millimetres() -> None:
    gauge = instrument(
        "micrometer",
        unit="in",
        resolution=Decimal("0.00005"),
        calibration=Calibration("C-2", "2027-06-30", Decimal("0.0001"), Decimal(2)),
    )
    found = row(fineness(loaded(page()), [gauge]), "characteristic plunger-diameter")
    assert found.expanded_uncertainty == Decimal("0.0027")
    assert found.unit == "mm"


def test_out_of_round_takes_two_readings_and_starts_at_zero() -> None:
    text = page() + (
        '[[derived]]\nid = "oor"\ntitle = "O"\nquantity = "out-of-round"\nof = ["bore"]\n'
        'unit = "mm"\nupper_limit = "0.010"\n'
        '[[derived]]\nid = "slope"\ntitle = "T"\nquantity = "taper"\nof = ["bore"]\n'
        'unit = "mm"\nupper_limit = "0.010"\n'
    )
    rows = fineness(loaded(text), [instrument("bore-gauge")])
    found = row(rows, "derived oor")
    assert found.expanded_uncertainty == Decimal("0.0030")  # √2 · 2u = 0.002944, up
    assert found.tolerance == Decimal("0.010")
    assert found.note.startswith("The tolerance is only 3.3 times")
    assert row(rows, "derived slope").ratio is None
    coarse = fineness(loaded(text), [instrument("bore-gauge", resolution=Decimal("0.02"))])
    assert "nothing can be found conforming within at most 0.010" in row(coarse, "derived oor").note


def test_limits_by_factor_are_compared_where_they_are_closest() -> None:
    (gap,) = [one for one in tolerances(loaded(page())) if one.subject == "characteristic ring-gap"]
    assert gap.limits == Limits(Decimal("0.08"), Decimal("0.1"))


def test_stages_are_compared_with_the_wrench() -> None:
    rows = fineness(loaded(page()), [instrument("torque-wrench")])
    found = row(rows, "fastener cover-screws, stage final")
    assert (found.tolerance, found.unit) == (Decimal("1.0"), "N·m")
    assert found.ratio == pytest.approx(1 / 0.11)
    assert found.instrument == "torque-wrench-1"


def test_an_instrument_that_is_missing_or_uncalibrated_is_said() -> None:
    spec = loaded(page())
    missing = row(fineness(spec, []), "characteristic bore")
    assert missing.instrument == ""
    assert missing.note == "No instrument of the kind bore-gauge on this bench shows mm."
    bare = row(fineness(spec, [instrument("bore-gauge", calibration=None)]), "characteristic bore")
    assert bare.note == "bore-gauge-1 has no certificate, so its uncertainty is not established."
    other = instrument("bore-gauge", unit="°C")
    assert row(fineness(spec, [other]), "characteristic bore").instrument == ""


BENCH = """
[[instrument]]
id = "mike"
kind = "micrometer"
port = "typed"
unit = "mm"
resolution = "0.02"
calibration = { certificate = "C-1", due = 2027-06-30, expanded_uncertainty = "0.0020", \
coverage_factor = "2" }
"""


def test_spec_check_with_a_bench_prints_every_tolerance(tmp_path: Path) -> None:
    spec, bench = tmp_path / "pump.toml", tmp_path / "bench.toml"
    spec.write_text(page(), encoding="utf-8")
    bench.write_text(BENCH, encoding="utf-8")
    said = CliRunner().invoke(check, [str(spec), "--bench", str(bench)])
    assert said.exit_code == 0, said.output
    assert "Invented hand pump, revision 1: no errors." in said.output
    assert (
        "characteristic plunger-diameter with mike: tolerance 0.013 mm, U 0.012 mm, ratio 1.08. "
        "mike is too coarse"
    ) in said.output
    assert "characteristic bore: No instrument of the kind bore-gauge" in said.output

    said = CliRunner().invoke(check, [str(spec), "--bench", str(bench), "--json"])
    rows = json.loads(said.output)["instruments"]
    (mike,) = [one for one in rows if one["instrument"] == "mike"]
    assert mike == {
        "subject": "characteristic plunger-diameter",
        "instrument": "mike",
        "unit": "mm",
        "tolerance": "0.013",
        "expanded_uncertainty": "0.012",
        "ratio": 1.083,
        "note": mike["note"],
    }
    assert "too coarse" in mike["note"]
    said = CliRunner().invoke(check, [str(spec), "--json"])
    assert "instruments" not in json.loads(said.output)


def test_spec_check_with_a_bench_that_is_wrong_says_so(tmp_path: Path) -> None:
    spec, bench = tmp_path / "pump.toml", tmp_path / "bench.toml"
    spec.write_text(edited(("samples = 5", "samples = 6")), encoding="utf-8")
    bench.write_text("[[instrument]]\n", encoding="utf-8")
    said = CliRunner().invoke(check, [str(spec), "--bench", str(bench)])
    assert said.exit_code == 2
    assert "bench.toml" in said.output


def test_a_turning_test_is_compared_with_the_wrench_too() -> None:
    found = row(fineness(loaded(page()), [instrument("torque-wrench")]), "turning test lever-moves")
    assert (found.tolerance, found.unit, found.instrument) == (
        Decimal("1.3"), "N·m", "torque-wrench-1",
    )  # fmt: skip


def test_a_tool_to_be_checked_that_the_bench_does_not_have_is_said() -> None:
    spec = loaded(page())
    found = row(fineness(spec, []), "tool check wrench-check")
    assert found.instrument == ""
    assert "No instrument of this bench has the id torque-wrench-1" in found.note
    rows = fineness(spec, [instrument("torque-wrench")])
    assert not [one for one in rows if one.subject.startswith("tool check")]


def test_what_rests_on_several_instruments_is_named(tmp_path: Path) -> None:
    spec, bench = tmp_path / "pump.toml", tmp_path / "bench.toml"
    spec.write_text(page(), encoding="utf-8")
    bench.write_text(BENCH, encoding="utf-8")
    said = CliRunner().invoke(check, [str(spec), "--bench", str(bench)])
    assert said.output.splitlines()[-1] == (
        "Not in this table are clearances and formulas, which rest on several instruments: "
        "plunger-clearance, swept-volume, slenderness."
    )
    assert "tool check wrench-check: No instrument of this bench has the id" in said.output
    said = CliRunner().invoke(check, [str(spec), "--bench", str(bench), "--json"])
    assert json.loads(said.output)["on_several_instruments"] == [
        "plunger-clearance", "swept-volume", "slenderness",
    ]  # fmt: skip
    assert "Not in this table" not in CliRunner().invoke(check, [str(spec)]).output


def test_warnings_name_the_file_not_the_spec(tmp_path: Path) -> None:
    spec = tmp_path / "of-mine.toml"
    spec.write_text(
        edited(('check = "wrench-check"', 'confirm = "faces-clean"\nid = "x"')), "utf-8"
    )
    said = CliRunner().invoke(check, [str(spec)])
    assert f"warning: {spec}:" in said.output
    assert "small-pump" not in said.output

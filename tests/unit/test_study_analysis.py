"""What a user gets from a study: every shape of it, its sentences, and its refusals."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from capture.spec.model import Limits, Study
from capture.study.analysis import analyse
from capture.study.grid import Key

PEOPLE = ("A", "B", "C")
STUDY = Study(
    id="bore-gauge",
    title="Bore gauge, invented",
    unit="mm",
    appraisers=PEOPLE,
    samples=4,
    trials=2,
    references=(),
    lot="lot",
    tolerance=None,
    plausible=Limits(Decimal(0), Decimal(9)),
    instruments=("bore-gauge",),
)
SIZES = ["5.000", "5.010", "5.020", "5.030"]
OFF = {"A": "0.000", "B": "0.001", "C": "0.002"}
REPEAT = ["0.000", "0.001"]


def readings(study: Study = STUDY) -> dict[Key, Decimal]:
    """Invented: an offset by appraiser, and the second trial 0.001 above the first."""
    return {
        (who, sample, trial): Decimal(SIZES[sample - 1])
        + Decimal(OFF[who])
        + Decimal(REPEAT[(trial - 1) % 2])
        for who in study.appraisers
        for sample in range(1, study.samples + 1)
        for trial in range(1, study.trials + 1)
    }


def part(found: dict[str, Any], name: str, model: str = "") -> dict[str, Any]:
    by = found["by_anova"]
    components = by["models"][model or by["used"]]["components"]
    (one,) = [one for one in components if one["id"] == name]
    return dict(one)


def test_parts_of_an_invented_study_by_hand() -> None:
    """Repeats differ by 0.001, so s² of each cell is 0.0000005; appraisers' means by 0.001 each, so
    that their variance is 1e-6, less 0.0000005 / 8 for the repeats in them."""
    found = analyse(STUDY, readings())
    model = "with_interaction"
    assert part(found, "repeatability", model)["standard_deviation"] ** 2 == pytest.approx(0.5e-6)
    assert part(found, "between_appraisers", model)["standard_deviation"] ** 2 == pytest.approx(
        1e-6
    )
    assert part(found, "interaction", model)["standard_deviation"] == 0
    pooled = part(found, "repeatability")["standard_deviation"] ** 2
    assert pooled == pytest.approx(12 * 0.5e-6 / 18)
    assert part(found, "between_appraisers")["standard_deviation"] ** 2 == pytest.approx(
        1e-6 - pooled / 8
    )
    assert found["by_ranges"]["mean_range"] == pytest.approx(0.001)
    assert found["by_ranges"]["outside"] == []
    assert found["by_ranges"]["means_outside"] == 12
    assert found["summary"]["samples"][0] == {
        "sample": 1,
        "n": 6,
        "mean": pytest.approx(5.0015),
        "standard_deviation": pytest.approx(0.00104881, abs=1e-8),
    }
    assert [one["mean"] for one in found["summary"]["appraisers"]] == pytest.approx(
        [5.0155, 5.0165, 5.0175]
    )


def test_share_of_the_tolerance_takes_the_spread_asked_for() -> None:
    study = replace(STUDY, tolerance=Decimal("0.050"))
    gauge = part(analyse(study, readings()), "gauge")
    assert gauge["percent_of_tolerance"] == pytest.approx(
        100 * 6 * gauge["standard_deviation"] / 0.050
    )
    other = part(analyse(study, readings(), spread=5.15), "gauge")
    assert other["percent_of_tolerance"] == pytest.approx(gauge["percent_of_tolerance"] * 5.15 / 6)
    assert part(analyse(STUDY, readings()), "gauge")["percent_of_tolerance"] is None


def test_every_key_is_written_out_in_words() -> None:
    """No key is a symbol or an abbreviation: every word of it has four letters or is English."""
    short = {"n", "by", "of", "id", "f", "p", "low"}
    study = replace(STUDY, tolerance=Decimal("0.050"))
    words = {word for key in keys(analyse(study, readings())) for word in key.split("_")}
    assert {word for word in words if len(word) < 4} - short <= {"all", "sum", "sub"}
    assert "anova" in words


def keys(found: object) -> set[str]:
    if isinstance(found, dict):
        return set(found).union(*map(keys, found.values()))
    return set().union(*map(keys, found)) if isinstance(found, list) else set()


def test_an_interaction_is_kept_where_chance_does_not_explain_it() -> None:
    moved = {
        key: size + (Decimal("0.020") if key[:2] == ("B", 3) else 0)
        for key, size in readings().items()
    }
    found = analyse(STUDY, moved)
    assert found["by_anova"]["used"] == "with_interaction"
    assert any("the interaction is kept" in one for one in found["sentences"])
    assert analyse(STUDY, moved, pool_above=0.0)["by_anova"]["used"] == "without_interaction"


def test_a_range_out_of_control_is_named() -> None:
    moved = readings() | {("C", 4, 2): Decimal("5.042")}
    found = analyse(STUDY, moved)
    assert found["by_ranges"]["outside"] == [
        {"appraiser": "C", "sample": 4, "range": pytest.approx(0.010)}
    ]
    (said,) = [one for one in found["sentences"] if "outside what chance explains" in one]
    assert "appraiser C on sample 4 (0.0100 mm)" in said


def test_one_appraiser_gives_repeatability_only() -> None:
    study = replace(STUDY, appraisers=("A",))
    found = analyse(study, readings(study))
    ids = [one["id"] for one in found["by_anova"]["models"]["one_appraiser"]["components"]]
    assert ids == ["repeatability", "gauge", "between_samples", "total"]
    assert part(found, "repeatability") == {
        **part(found, "gauge"),
        "id": "repeatability",
        "title": "repeatability",
    }
    assert [one["id"] for one in found["by_ranges"]["variation"]["components"]] == ids


@pytest.mark.parametrize(
    ("people", "ids"),
    [
        (("A",), ["repeatability", "gauge"]),
        (PEOPLE, ["repeatability", "between_appraisers", "gauge"]),
    ],
)
def test_one_sample_has_no_share_of_a_total(people: tuple[str, ...], ids: list[str]) -> None:
    study = replace(STUDY, appraisers=people, samples=1, trials=4)
    found = analyse(study, readings(study))
    components = found["by_anova"]["models"]["one_sample"]["components"]
    assert [one["id"] for one in components] == ids
    assert [one["id"] for one in found["by_ranges"]["variation"]["components"]] == ids
    assert all(one["percent_of_all_variation"] is None for one in components)
    assert part(found, "repeatability")["standard_deviation"] ** 2 == pytest.approx(1e-6 / 3)


def test_one_trial_gives_bias_only() -> None:
    study = replace(STUDY, trials=1, references=tuple(Decimal(size) for size in SIZES))
    found = analyse(study, readings(study))
    assert found["by_ranges"] is found["by_anova"] is None
    assert [one["bias"] for one in found["bias"]] == pytest.approx([0.001] * 4)
    assert any("two trials or more" in one for one in found["sentences"])


def test_bias_and_linearity_with_references() -> None:
    study = replace(STUDY, references=tuple(Decimal(size) for size in SIZES))
    grown = {
        key: size + Decimal("0.002") * key[1] - Decimal("0.0045")
        for key, size in readings().items()
    }
    found = analyse(study, grown)
    assert [one["reference"] for one in found["bias"]] == pytest.approx([5, 5.01, 5.02, 5.03])
    # On average 0.0015 by appraiser and trial, growing 0.002 for each sample (0.010 of size).
    assert [one["bias"] for one in found["bias"]] == pytest.approx([-0.001, 0.001, 0.003, 0.005])
    assert [one["zero_inside"] for one in found["bias"]] == [True, True, False, False]
    assert found["linearity"]["line"]["slope"] == pytest.approx(0.2)
    assert not found["linearity"]["zero_inside"]
    by_appraiser = {one["appraiser"]: one["bias"] for one in found["bias_by_appraiser"]}
    assert [one["bias"] for one in by_appraiser["A"]] == pytest.approx(
        [-0.002, 0.000, 0.002, 0.004]
    )
    said = " ".join(found["sentences"])
    assert "At reference 5.03 mm readings lie 0.00500 mm too large" in said
    assert "The bias changes by 0.200 mm for each mm of size (p below 0.001)" in said
    assert "zero lies outside the band at 5, 5.01, 5.02, 5.03 mm" in said


def test_samples_of_the_same_reference_are_taken_together() -> None:
    study = replace(STUDY, references=(Decimal(5),) * 4)
    found = analyse(study, readings())
    ((only),) = found["bias"]
    assert only["n"] == 24
    assert found["linearity"] is None


def test_readings_that_never_differ_are_no_proof_of_a_perfect_gauge() -> None:
    same = {key: Decimal(SIZES[key[1] - 1]) for key in readings()}
    found = analyse(STUDY, same)
    assert part(found, "gauge")["standard_deviation"] == 0
    assert found["by_anova"]["models"]["without_interaction"]["sizes_told_apart"] is None
    assert found["by_anova"]["table"]["interaction"]["p"] is None
    assert any("too coarse to show its scatter" in one for one in found["sentences"])


def test_the_result_is_plain_json() -> None:
    study = replace(STUDY, references=tuple(Decimal(size) for size in SIZES))
    for sizes in (readings(), dict.fromkeys(readings(), Decimal(5))):
        found = analyse(study, sizes)
        assert json.loads(json.dumps(found, allow_nan=False)) == found


def test_no_sentence_judges_the_gauge() -> None:
    study = replace(STUDY, tolerance=Decimal("0.001"))
    said = " ".join(analyse(study, readings())["sentences"])
    assert "own quality system" in said
    assert not {"acceptable.", "unacceptable", "marginal", "good", "bad"} & set(said.split())


def test_a_missing_reading_is_named() -> None:
    short = readings()
    del short["B", 4, 2]
    with pytest.raises(ValueError, match="not complete: B, sample 4, trial 2 not measured yet"):
        analyse(STUDY, short)
    with pytest.raises(ValueError, match="and 21 more not measured yet"):
        analyse(STUDY, {})


def test_a_strange_reading_is_named() -> None:
    with pytest.raises(ValueError, match=r"Not of this study: D, sample 1, trial 1\."):
        analyse(STUDY, readings() | {("D", 1, 1): Decimal(5)})


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"level": 1.0}, "confidence level lies between 0 and 1"),
        ({"level": 95}, "confidence level lies between 0 and 1"),
        ({"spread": 0.0}, "spread set against a tolerance is above 0"),
    ],
)
def test_options_that_make_no_sense_are_refused(options: dict[str, float], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        analyse(STUDY, readings(), **options)


def test_a_study_that_contradicts_itself_is_refused() -> None:
    with pytest.raises(ValueError, match="4 samples and 1 references"):
        analyse(replace(STUDY, references=(Decimal(5),)), readings())
    with pytest.raises(ValueError, match="width of a tolerance is above 0"):
        analyse(replace(STUDY, tolerance=Decimal(0)), readings())
    with pytest.raises(ValueError, match="not a finite number"):
        analyse(STUDY, readings() | {("A", 1, 1): Decimal("NaN")})

"""Everything a finished study gives, as plain data and sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from capture.quantity import Number
from capture.spec.model import Study
from capture.study import wording
from capture.study.anova import one_way, two_way
from capture.study.bias import Bias, bias, linearity
from capture.study.component import SPREAD, Variation, Wanted
from capture.study.crossed import one_appraiser, one_sample, with_interaction, without_interaction
from capture.study.grid import Key, grid
from capture.study.moments import moments
from capture.study.plain import plain
from capture.study.quantile import check_level
from capture.study.ranges import range_study

POOL_ABOVE: Final = 0.05
"""The p of the interaction from which it is pooled (AIAG, *Measurement Systems Analysis*, 4th ed.,
from memory). Both models are given either way."""


def analyse(
    study: Study,
    readings: Mapping[Key, Number],
    *,
    level: float = 0.95,
    spread: float = SPREAD,
    pool_above: float = POOL_ABOVE,
) -> dict[str, Any]:
    """What the readings say about gauge and appraisers, ready for JSON.

    ``readings``: size by (appraiser, sample, trial), the latter from 1, in the study's unit; all of
    them. ``level`` of the intervals, two-sided; ``spread``: standard deviations set against the
    tolerance; ``pool_above``: the p from which the interaction is pooled.

    Gives ``study``, ``unit``, ``level``, ``spread``, ``tolerance``, ``summary`` (count, mean and
    standard deviation by sample and by appraiser), ``by_ranges`` and ``by_anova`` (null where there
    is a single trial), ``bias`` (all readings of a reference together) and ``bias_by_appraiser``
    (null without references), ``linearity`` (null too where all references are the same) and
    ``sentences``. Standard deviations are in the unit, percentages of 100.

    Raises ValueError where a reading is missing or strange, or an option makes no sense.
    """
    check_level(level)
    wanted = Wanted(study.tolerance, spread, level)
    cells = grid(study, readings)
    found: dict[str, Any] = {
        "study": study.id,
        "unit": study.unit,
        "level": level,
        "spread": spread,
        "tolerance": study.tolerance,
        "summary": _summary(study, cells),
        "by_ranges": None,
        "by_anova": None,
        "bias": None,
        "bias_by_appraiser": None,
        "linearity": None,
    }
    sentences = _variation(study, cells, wanted, pool_above, found)
    if study.references:
        sentences += _bias(study, cells, level, found)
    found["sentences"] = sentences
    result: dict[str, Any] = plain(found)
    return result


_Cells = list[list[list[Number]]]


def _summary(study: Study, cells: _Cells) -> dict[str, Any]:
    by_sample = [
        [value for row in cells for value in row[sample]] for sample in range(study.samples)
    ]
    return {
        "samples": [
            {"sample": at, **moments(values)._asdict()} for at, values in enumerate(by_sample, 1)
        ],
        "appraisers": [
            {
                "appraiser": name,
                **moments([value for cell in row for value in cell])._asdict(),
            }
            for name, row in zip(study.appraisers, cells, strict=True)
        ],
    }


def _variation(
    study: Study, cells: _Cells, wanted: Wanted, pool_above: float, found: dict[str, Any]
) -> list[str]:
    """Adds both methods to ``found``; gives sentences."""
    if study.trials < 2:
        return ["Repeatability takes two trials or more: this study has one."]
    found["by_ranges"], told = _by_ranges(study, cells, wanted)
    found["by_anova"], sentences = _by_anova(study, cells, wanted, pool_above)
    return [*sentences, *told, wording.ACCEPTANCE]


def _by_ranges(study: Study, cells: _Cells, wanted: Wanted) -> tuple[dict[str, Any], list[str]]:
    found = range_study(cells, wanted)
    outside = [
        {
            "appraiser": study.appraisers[one.appraiser],
            "sample": one.sample + 1,
            "range": one.range,
        }
        for one in found.outside
    ]
    told = wording.of_ranges(found, study.appraisers, study.unit)
    return {**found._asdict(), "outside": outside}, told


def _by_anova(
    study: Study, cells: _Cells, wanted: Wanted, pool_above: float
) -> tuple[dict[str, Any], list[str]]:
    """The table, the models it allows, which of them is used, and sentences."""
    models: dict[str, Variation]
    if study.samples > 1 and len(cells) > 1:
        table = two_way(cells)
        p = table.interaction.p
        pooled = p is None or p >= pool_above
        models = {
            "without_interaction": without_interaction(table, wanted),
            "with_interaction": with_interaction(table, wanted),
        }
        used = "without_interaction" if pooled else "with_interaction"
        lines: Any = table._asdict()
        told = [wording.of_interaction(table.interaction, pooled, pool_above)]
    elif study.samples > 1:
        single = one_way(cells[0])
        models, used, told = {"one_appraiser": one_appraiser(single, wanted)}, "one_appraiser", []
        lines = single._asdict()
    else:
        models = {"one_sample": one_sample([row[0] for row in cells], wanted)}
        used, told, lines = "one_sample", [], None
    sentences = wording.of_variation(models[used], wanted, study.unit) + told
    return {"table": lines, "models": models, "used": used}, sentences


def _bias(study: Study, cells: _Cells, level: float, found: dict[str, Any]) -> list[str]:
    """Adds bias and linearity to ``found``; gives sentences."""
    references, sizes = _by_reference(study, cells)
    biases = _biases(references, sizes, level)
    found["bias"] = biases
    found["bias_by_appraiser"] = [
        {"appraiser": name, "bias": _biases(*_by_reference(study, [row]), level)}
        for name, row in zip(study.appraisers, cells, strict=True)
    ]
    sentences = wording.of_bias(biases, level, study.unit)
    if len(cells) > 1:
        sentences.append(wording.TOGETHER)
    if len(references) > 1 and sum(map(len, sizes)) > 2:
        found["linearity"] = line = linearity(references, sizes, level)
        sentences.append(wording.of_linearity(line, level, study.unit))
    return sentences


def _by_reference(study: Study, cells: _Cells) -> tuple[list[Number], list[list[Number]]]:
    """Every different reference, ascending, and the readings of each."""
    if len(study.references) != study.samples:
        raise ValueError(
            f"The study has {study.samples} samples and {len(study.references)} references: "
            "give one for each sample."
        )
    groups: dict[Number, list[Number]] = {}
    for sample, reference in enumerate(study.references):
        groups.setdefault(reference, []).extend(value for row in cells for value in row[sample])
    references = sorted(groups)
    return references, [groups[reference] for reference in references]


def _biases(references: list[Number], sizes: list[list[Number]], level: float) -> list[Bias]:
    return [bias(one, group, level) for one, group in zip(references, sizes, strict=True)]

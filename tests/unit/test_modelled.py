"""Formulas as models: the same function as the exact one, over floats and arrays."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest

from capture.formula.evaluate import Term, evaluate
from capture.formula.parse import parse
from capture.formula.tree import Name
from capture.modelled import inputs_of, model_of
from capture.propagation import Input, first_order, monte_carlo

UNITS = {"bore": "mm", "stroke": "in", "shell": "µm", "chamber": "mL", "torque": "N·m"}
VALUES = {"bore": 88.013, "stroke": 3.5, "shell": 1985.0, "chamber": 54.0, "torque": 50.0}


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("pi / 4 * bore ^ 2 * stroke", "mL"),
        ("(pi / 4 * bore ^ 2 * stroke + chamber) / chamber", "1"),
        ("bore - 2 * shell", "in"),
        ("-bore + abs(shell - bore)", "mm"),
        ("max(bore, stroke, shell) - min(bore, stroke, shell)", "mm"),
        ("range(bore, stroke, shell)", "mm"),
        ("mean(bore, stroke) ^ -1 * shell", "1"),
        ("torque / bore", "N"),
        ("bore[top] - bore[bottom]", "mm"),
    ],
)
def test_a_model_is_the_formula(text: str, unit: str) -> None:
    formula = parse(text)

    def terms(name: Name) -> list[Term]:
        return [Term(name.id + (name.point or ""), Decimal(str(VALUES[name.id])))]

    exact, slopes = evaluate(formula, terms, UNITS.__getitem__, unit)
    model = model_of(formula, UNITS.__getitem__, unit)
    names = inputs_of(formula)
    values = [VALUES[name.partition("[")[0]] for name in names]
    assert float(model(values)) == pytest.approx(float(exact), rel=1e-12, abs=1e-12)
    many = model([np.full(3, value) for value in values])
    assert list(many) == pytest.approx([float(exact)] * 3, rel=1e-12, abs=1e-12)
    first = first_order(model, [Input(n, v, v / 1000) for n, v in zip(names, values, strict=True)])
    keys = [name.replace("[", "").replace("]", "") for name in names]
    assert first.sensitivities == pytest.approx(
        [float(slopes[key]) for key in keys], rel=1e-6, abs=1e-9
    )


def test_inputs_are_listed_once_in_order() -> None:
    assert inputs_of(parse("bore[top] - shell + bore[top] / 2 + bore")) == (
        "bore[top]",
        "shell",
        "bore",
    )


def test_a_denominator_that_may_be_zero_is_refused() -> None:
    model = model_of(parse("bore / stroke"), UNITS.__getitem__, "1")
    with pytest.raises(ValueError, match="the model gives inf"):
        first_order(model, [Input("bore", 1.0, 0.1), Input("stroke", 0.0, 0.0)])


def test_compression_ratio_drawn() -> None:
    """A ratio of volumes: nearly straight, so drawing and first order agree."""
    model = model_of(parse("(chamber + bore ^ 3) / chamber"), UNITS.__getitem__, "1")
    inputs = [Input("chamber", 54.0, 0.3), Input("bore", 80.0, 0.01)]
    first = first_order(model, inputs)
    drawn = monte_carlo(model, inputs, "ratio")
    u = first.budget.standard_uncertainty
    assert drawn.standard_uncertainty == pytest.approx(u, rel=0.01)
    assert math.isclose(drawn.mean, first.value, rel_tol=1e-3)

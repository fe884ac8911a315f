"""Decision rules against published examples of conformity and of the risk they leave.

A verdict states its rule and uncertainty, not a probability: probabilities of conformance and risks
(DR-01, DR-02, DR-05, DR-07 and DR-08 again) are in ``test_risk``. Here the risks that the rules
leave are integrated by the test itself.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from scipy.integrate import quad
from scipy.stats import gamma, norm

from capture.check import Gate, Result, gate
from capture.quantity import text
from capture.spec.model import Decision, Limits, Rule
from capture.uncertainty import expand

UPPER = Limits(None, Decimal("10.000"))
VALUES = [Decimal(v) for v in ["9.985", "9.990", "9.992", "10.000", "10.003", "10.008", "10.0081"]]
GUARDED = gate(UPPER, Decision(Rule.GUARDED), Decimal("0.008"))
SIMPLE = gate(UPPER, Decision(Rule.SIMPLE), Decimal("0.008"))


def test_dr_03_guard_band_of_one_expanded_uncertainty_with_three_answers() -> None:
    """ILAC-G8:09/2019 4.2.3, quoted at lvt.com.tr "Decision rule" and in fliphtml5 ILAC-G8 p. 9
    (rules seen, numbers ours). Its conditional pass and conditional fail are both ``undecided``
    here; ties count as inside."""
    words = {
        "pass": Result.CONFORMING,
        "conditional pass": Result.UNDECIDED,
        "conditional fail": Result.UNDECIDED,
        "fail": Result.NONCONFORMING,
    }
    expected = "pass, pass, pass, conditional pass, conditional fail, conditional fail, fail"
    assert [GUARDED.judge(v) for v in VALUES] == [words[word] for word in expected.split(", ")]


def test_dr_04_simple_against_guarded_acceptance() -> None:
    """Same rules. Simple: P P P P F F F; guarded: P P P F F F F. A value on the simple limit may
    be wrong half the time, one on the acceptance limit 2.28 % at k = 2 (bounds seen at tla.sgs.com
    Decision-Rule)."""
    accepted = Result.CONFORMING

    def answers(judge: Gate) -> str:
        return "".join("P" if judge.judge(v) is accepted else "F" for v in VALUES)

    assert answers(SIMPLE) == "PPPPFFF"
    assert answers(GUARDED) == "PPPFFFF"
    u = 0.008 / 2
    for judge, risk in ((SIMPLE, 0.5), (GUARDED, 0.0228)):
        assert judge.acceptance_upper is not None
        assert norm.sf((10 - float(judge.acceptance_upper)) / u) == pytest.approx(risk, abs=5e-5)


def test_dr_06_iso_14253_default_acceptance_zone() -> None:
    """ISO 14253-1:2017 default rule, guard 1.65 u (memory; numbers ours): limits 9.900–10.000,
    u = 0.004 → 9.9066 to 9.9934."""
    limits = Limits(Decimal("9.900"), Decimal("10.000"))
    for k in ("1", "2", "3"):
        rule = Decision(Rule.ISO14253, coverage_factor=Decimal(k))
        judge = gate(limits, rule, Decimal("0.004") * Decimal(k))
        assert judge.acceptance_lower == Decimal("9.9066")
        assert judge.acceptance_upper == Decimal("9.9934")
        assert judge.judge(Decimal("9.9934")) is Result.CONFORMING
        assert judge.judge(Decimal("9.99341")) is Result.UNDECIDED


def test_dr_05_the_factor_of_iso_14253_keeps_its_95_percent() -> None:
    """JCGM 106 Table 1 (memory): z = 1.64 for 0.95; 1.65 is that rounded up, so a value on the
    acceptance limit conforms with at least 95 %."""
    u = expand(0.004, Decimal(1))
    judge = gate(UPPER, Decision(Rule.ISO14253, coverage_factor=Decimal(1)), u)
    assert judge.acceptance_upper is not None
    room = (10 - float(judge.acceptance_upper)) / float(u)
    assert norm.ppf(0.95) == pytest.approx(1.64, abs=0.005)
    assert 0.95 <= norm.cdf(room) < 0.951


def _falsely_accepted(judge: Gate) -> float:
    """Share of ball bearings accepted though out of tolerance: radial error motion is
    gamma(4, scale 1/4) µm, limit 2 µm, u = 0.25 µm."""
    assert judge.acceptance_upper is not None
    bound = float(judge.acceptance_upper)

    def density(true: float) -> float:
        return float(gamma.pdf(true, 4, scale=0.25) * norm.cdf((bound - true) / 0.25))

    return float(quad(density, 2.0, 8.0, epsabs=1e-12)[0])


def test_dr_01_risk_left_by_simple_and_guarded_acceptance() -> None:
    """JCGM 106 9.5.4 ball bearings, github sandialabs/suncal "Risk - Ball Bearing.ipynb" (seen):
    4.24 % out of tolerance, 0.802 % accepted by mistake, 0.1 % when accepted up to 1.672 µm."""
    limits = Limits(None, Decimal(2))
    simple = gate(limits, Decision(Rule.SIMPLE), Decimal("0.5"))
    assert gamma.sf(2.0, 4, scale=0.25) == pytest.approx(0.0424, abs=1e-4)
    assert _falsely_accepted(simple) == pytest.approx(0.00802, abs=1e-5)
    share = (2 - Decimal("1.67183")) / Decimal("0.5")  # of U, that gives the published limit
    guarded = gate(limits, Decision(Rule.GUARDED, guard_factor=share), Decimal("0.5"))
    assert guarded.acceptance_upper is not None
    assert text(guarded.acceptance_upper, 3) == "1.672"
    assert _falsely_accepted(guarded) == pytest.approx(0.001, abs=2e-6)
    assert _falsely_accepted(gate(limits, Decision(Rule.GUARDED), Decimal("0.5"))) < 0.001


@pytest.mark.parametrize(
    ("in_tolerance", "percent"),
    [
        (0.6, 4.83860326),
        (0.7, 3.92234109),
        (0.8, 2.85583037),
        (0.9, 1.59995312),
        (0.95, 0.87100925),
        (0.99, 0.19991684),
    ],
)
def test_dr_07_false_accept_of_simple_acceptance_at_ratio_four(
    in_tolerance: float, percent: float
) -> None:
    """Limits ±1, test σ = process σ/4: PyPI suncal 1.7.1 sdist test_risk.py test_risk_values (draft
    RP-19 table, seen). Guarding by U = 2σ leaves less than a tenth of it."""
    process = 1 / float(norm.ppf((1 + in_tolerance) / 2))
    u = process / 4
    limits = Limits(Decimal(-1), Decimal(1))

    def falsely(judge: Gate) -> float:
        assert judge.acceptance_lower is not None
        assert judge.acceptance_upper is not None
        low, high = float(judge.acceptance_lower), float(judge.acceptance_upper)

        def density(true: float) -> float:
            accepted = norm.cdf((high - true) / u) - norm.cdf((low - true) / u)
            return float(norm.pdf(true / process) / process * accepted)

        return 200 * float(quad(density, 1.0, 1.0 + 10 * u, epsabs=1e-12)[0])

    simple = falsely(gate(limits, Decision(Rule.SIMPLE), None))
    assert simple == pytest.approx(percent, abs=1e-4)
    guarded = falsely(gate(limits, Decision(Rule.GUARDED), expand(u, Decimal(2))))
    assert guarded < simple / 10

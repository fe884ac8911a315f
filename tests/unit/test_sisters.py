"""Readings that do not belong to their set, beside least squares, a printed example and chance."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from capture.sisters import FAR, Family, Outlier, re_examine, stands_out, unlike
from capture.student import quantile

Sets = list[list[float]]

FORM, NOISE = 0.003, 0.0007


def engine(draw: random.Random, means: list[float], points: int = 6, shared: float = 0.5) -> Sets:
    """True sizes: form of sd ``FORM``, the share ``shared`` of its variance common to sisters."""
    common = [draw.gauss(0.0, FORM * math.sqrt(shared)) for _ in range(points)]
    return [
        [mean + c + draw.gauss(0.0, FORM * math.sqrt(1.0 - shared)) for c in common]
        for mean in means
    ]


def read(draw: random.Random, true: Sets) -> Sets:
    return [[round(size + draw.gauss(0.0, NOISE), 3) for size in one] for one in true]


def least_squares(own: list[float | None], sisters: Sets, at: int) -> tuple[float, float, int]:
    """(expected, standard deviation of a new reading's distance, degrees of freedom) of the model
    size = mean of its set + effect of its point, by numpy."""
    points = len(sisters[0])
    rows, sizes = [], []
    every: list[list[float | None]] = [own, *[list[float | None](one) for one in sisters]]
    for number, one in enumerate(every):
        for point, size in enumerate(one):
            if size is not None:
                row = [0.0] * (len(sisters) + 1 + points)
                row[number] = row[len(sisters) + 1 + point] = 1.0
                rows.append(row)
                sizes.append(size - 86.0)
    design, values = np.array(rows), np.array(sizes)
    found, _, rank, _ = np.linalg.lstsq(design, values, rcond=None)
    residual = values - design @ found
    degrees = len(values) - int(rank)
    new = np.zeros(design.shape[1])
    new[0] = new[len(sisters) + 1 + at] = 1.0
    leverage = float(new @ np.linalg.pinv(design.T @ design) @ new)
    variance = float(residual @ residual) / degrees * (1.0 + leverage)
    return 86.0 + float(new @ found), math.sqrt(variance), degrees


def test_with_points_taken_out_it_is_least_squares() -> None:
    draw = random.Random(3)
    checked = 0
    for _ in range(30):
        sets = read(draw, engine(draw, [86.0, 86.01, 86.02, 86.0], shared=0.95))
        for at in (1, 2, 4):
            # As a set grows the points it still lacks rest on the sisters alone: the same numbers.
            own: list[float | None] = list(sets[0][:at])
            seen = Family(sets[1:], None).stands_out(90.0, own)
            assert seen is not None
            expected, deviation, degrees = least_squares(own, sets[1:], at)
            assert seen.degrees_of_freedom == degrees
            assert seen.expected == pytest.approx(expected, abs=1e-9)
            assert seen.standard_deviation == pytest.approx(deviation, rel=1e-6)
            assert seen.allowed == pytest.approx(deviation * quantile(0.0002, degrees), rel=1e-6)
            checked += 1
    assert checked == 90


def test_alone_it_is_grubbs_statistic() -> None:
    # NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1 (Grubbs' test): G = 2.4687 for
    # these masses (from memory). The distance left-one-out in its own standard deviations is the
    # t of G = (n−1)/√n · √(t²/(n−2+t²)).
    masses = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    rest: list[float | None] = [*masses[:-1]]
    seen = Family([], None).stands_out(masses[-1], rest)
    assert seen is not None
    t = seen.distance / seen.standard_deviation
    count = len(masses)
    grubbs = (count - 1) / math.sqrt(count) * math.sqrt(t * t / (count - 2 + t * t))
    assert grubbs == pytest.approx(2.4687, abs=0.0001)
    assert seen.degrees_of_freedom == count - 2


OWN: list[float | None] = [86.001, 86.003, 86.000]
SISTERS = [
    [86.002, 86.004, 86.001, 86.003, 86.002, 86.003],
    [86.031, 86.033, 86.030, 86.032, 86.031, 86.032],
    [86.010, 86.012, 86.009, 86.011, 86.010, 86.012],
]


def test_a_reading_of_another_cylinder_names_it() -> None:
    seen = stands_out(86.0315, OWN, SISTERS, 0.0006)
    assert seen is not None
    assert (seen.fits, seen.there) == (1, 86.032)
    assert seen.ratio > 1e6
    assert seen.distance == pytest.approx(0.0295, abs=0.0005)
    assert seen.allowed < 0.006


def test_a_reading_of_no_cylinder_names_none() -> None:
    seen = stands_out(86.060, OWN, SISTERS, 0.0006)
    assert seen is not None
    assert seen.fits is None
    assert seen.there is None
    assert seen.distance > seen.allowed


@pytest.mark.parametrize("value", [85.999, 86.001, 86.003])
def test_a_good_reading_is_not_questioned(value: float) -> None:
    assert stands_out(value, OWN, SISTERS, 0.0006) is None


def test_the_first_of_a_set_and_a_set_without_any_scale_say_nothing() -> None:
    assert stands_out(99.0, [], SISTERS, 0.0006) is None
    assert stands_out(99.0, [86.0], [], 0.0006) is None
    assert stands_out(99.0, [86.0, 86.0, 86.0], [], None) is None


def test_equal_sizes_leave_the_uncertainty_as_scale() -> None:
    same = [[86.0] * 6] * 3
    assert stands_out(86.001, [86.0, 86.0], same, 0.0006) is None
    assert stands_out(86.010, [86.0, 86.0], same, 0.0006) is not None


def test_points_may_be_missing_and_out_of_order() -> None:
    own: list[float | None] = [None, 86.003, None, 86.002, None, 86.003]
    partly: list[list[float | None]] = [[*one] for one in SISTERS]
    partly[0][2] = None
    family = Family(partly, 0.0006)
    assert family.stands_out(86.000, own, 2) is None
    seen = family.stands_out(86.030, own, 2)
    assert seen is not None
    assert seen.fits == 1


def test_a_form_that_sisters_share_does_not_hide_a_reading() -> None:
    """Worn 0.030 at the first two points: without their effect nothing within 0.05 is far."""
    worn = [0.030, 0.025, 0.002, 0.001, 0.0, 0.001]
    draw = random.Random(5)
    sets = [[m + w + draw.gauss(0, 0.001) for w in worn] for m in (86.0, 86.012, 86.004, 86.0)]
    good, wrong = sets[0][3], sets[1][3]
    family = Family(sets[1:], 0.0005)
    own: list[float | None] = [*sets[0][:3]]
    assert family.stands_out(good, own) is None
    seen = family.stands_out(wrong, own)
    assert seen is not None
    assert seen.fits == 0
    assert seen.allowed < 0.012


def test_units_change_nothing() -> None:
    metric = stands_out(86.031, OWN, SISTERS, 0.0006)
    inch = stands_out(
        86.031 / 25.4,
        [None if size is None else size / 25.4 for size in OWN],
        [[size / 25.4 for size in one] for one in SISTERS],
        0.0006 / 25.4,
    )
    assert metric is not None
    assert inch is not None
    assert inch.allowed * 25.4 == pytest.approx(metric.allowed, rel=1e-9)
    assert inch.ratio == pytest.approx(metric.ratio, rel=1e-6)
    assert inch.fits == metric.fits


def questioned(draw: random.Random, apart: float, engines: int) -> tuple[int, int, int, int]:
    """(good readings, of them questioned; wrong ones, of them questioned), as they come or when
    all sets are complete. One reading of each engine is wrong if ``apart`` (in combined standard
    deviations of a reading, form included) is not 0."""
    good = good_asked = wrong = wrong_asked = 0
    deviation = math.hypot(FORM, NOISE)
    for _ in range(engines):
        means = [86.0 + draw.gauss(0.0, 2.0 * deviation) for _ in range(4)]
        here, there = draw.sample(range(4), 2)
        if apart:
            means[there] = means[here] + draw.choice((-1, 1)) * apart * deviation
        true = engine(draw, means)
        point = draw.randrange(1, 5)
        sets = read(draw, true)
        again = sets[here][point]
        if apart:
            sets[here][point] = round(true[there][point] + draw.gauss(0.0, NOISE), 3)
        asked = _asked(sets, (here, point), again)
        good += 24 - bool(apart)
        wrong += bool(apart)
        hit = bool(apart) and (here, point) in asked
        wrong_asked += hit
        good_asked += len(asked) - hit
    return good, good_asked, wrong, wrong_asked


def _asked(sets: Sets, place: tuple[int, int], again: float) -> set[tuple[int, int]]:
    """Those questioned; the wrong one is measured again once it is."""
    asked = set()
    for number in range(len(sets)):
        family = Family(sets[:number], NOISE)
        for at, value in enumerate(sets[number]):
            if family.stands_out(value, sets[number][:at]) is not None:
                asked.add((number, at))
                if (number, at) == place:
                    sets[number][at] = again
    return asked | {(one.set, one.point) for one in re_examine(sets, NOISE)}


def test_few_good_readings_are_questioned() -> None:
    good, asked, _, _ = questioned(random.Random(11), 0.0, 400)
    # At most 1 in 1,000; of 9,600 the 99.9 % point of a Poisson count of 9.6 is 20.
    assert good == 9600
    assert asked <= 20


def test_a_reading_of_another_cylinder_is_questioned() -> None:
    _, _, wrong, asked = questioned(random.Random(12), 6.0, 200)
    assert asked / wrong >= 0.95
    _, _, wrong, asked = questioned(random.Random(13), 3.0, 200)
    assert 0.15 <= asked / wrong <= 0.6  # what one residual can tell at three


def test_looked_at_again_the_worst_of_each_set() -> None:
    sets: list[list[float | None]] = [[*one] for one in SISTERS]
    sets[0][3] = 86.0325
    (found,) = re_examine(sets, 0.0006)
    assert (found.set, found.point) == (0, 3)
    assert found.outlier.fits == 1


def test_sets_of_two_are_not_looked_at_again() -> None:
    assert re_examine([[86.0, 86.0], [86.0, 86.0], [86.0, 87.0]], 0.0006) == []


def test_a_bore_unlike_its_sisters() -> None:
    sizes = {n: [86.000 + 0.001 * n, 86.002] for n in range(1, 8)}
    assert unlike(sizes, 0.0006) == []
    (found,) = unlike({**sizes, 8: [86.250, 86.251]}, 0.0006)
    assert found.number == 8
    assert found.mean - found.others == pytest.approx(0.2475, abs=0.003)
    assert found.degrees_of_freedom == 6
    assert unlike({1: [86.0], 2: [86.0], 3: [90.0]}, 0.0006) == []  # two say nothing of a third


def test_equal_sisters_without_an_uncertainty_are_no_scale() -> None:
    sizes = {n: [0.40] for n in range(1, 8)}
    assert unlike({**sizes, 3: [0.45]}, None) == []
    assert [one.number for one in unlike({**sizes, 3: [0.45]}, 0.002)] == [3]


def test_unlike_is_the_t_of_one_against_the_rest() -> None:
    draw = random.Random(17)
    sizes = {n: [draw.gauss(86.0, 0.004)] for n in range(6)} | {6: [86.2]}
    (found,) = unlike(sizes, None)
    rest = [sizes[n][0] for n in range(6)]
    assert found.others == pytest.approx(float(np.mean(rest)), abs=1e-9)
    assert found.standard_deviation == pytest.approx(float(np.std(rest, ddof=1)), rel=1e-6)
    t = quantile(0.01 / 7, 5) * math.sqrt(1.0 + 1.0 / 6.0)
    assert found.allowed == pytest.approx(t * float(np.std(rest, ddof=1)), rel=1e-6)


def test_unlike_is_rare_where_all_are_alike() -> None:
    draw = random.Random(7)
    found = sum(
        bool(unlike({n: [draw.gauss(86.0, 0.004)] for n in range(8)}, None)) for _ in range(2000)
    )
    assert 5 <= found <= 40  # 1 in 100, of which 99.9 % lie between


def test_nearer_than_far_is_never_looked_at() -> None:
    family = Family(SISTERS, 0.01)  # the uncertainty is the scale
    own: list[float | None] = [86.0] * 3
    deviation = 0.01 * math.sqrt(1.0 + 1.0 / 3.0)
    assert family.stands_out(86.0 + 0.99 * FAR * deviation, own, ratio=0.0) is None
    assert isinstance(family.stands_out(86.0 + 2.0 * FAR * deviation, own, ratio=0.0), Outlier)

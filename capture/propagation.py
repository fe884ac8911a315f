"""How sure the value of a function of several quantities is: to first order, and by drawing.

First order is the law of propagation (JCGM 100:2008, 5.1) with sensitivities found numerically; it
is right where the function is nearly straight over what its inputs may be. Drawing (JCGM 101:2008,
clause 7) makes no such assumption. ``agrees`` says whether first order would have done (clause 8).
Clause numbers are from memory. Inputs are independent of each other.

A model takes the inputs' values in their order; for drawing these are arrays of equal length, so a
model uses arithmetic and functions of numpy (``numpy.log``, not ``math.log``), which take both.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Sequence
from enum import StrEnum
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from capture.uncertainty import Budget, Contribution, combine

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Draws = NDArray[np.float64]

Model = Callable[[Sequence[Any]], Any]
"""``Any`` because it takes and gives floats, or arrays of them."""

TRIALS: Final = 200_000
"""Ten thousand for every part in 1 − p at p = 0.95 (JCGM 101, 7.2.2)."""
MOST_TRIALS: Final = 5_000_000


class Shape(StrEnum):
    """How an input may lie about its value."""

    NORMAL = "normal"
    """Student's t where its degrees of freedom are finite (JCGM 101, 6.4.9)."""
    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    ARCSINE = "arcsine"


_HALF_WIDTHS: Final = {
    Shape.RECTANGULAR: math.sqrt(3.0),
    Shape.TRIANGULAR: math.sqrt(6.0),
    Shape.ARCSINE: math.sqrt(2.0),
}
"""Half width of a shape over its standard uncertainty."""


class Input(NamedTuple):
    """A quantity that goes in."""

    name: str
    value: float
    standard_uncertainty: float
    shape: Shape = Shape.NORMAL
    degrees_of_freedom: float = math.inf


class FirstOrder(NamedTuple):
    """What the law of propagation gives."""

    value: float
    sensitivities: tuple[float, ...]
    """By each input, in order."""
    budget: Budget
    """One contribution by each input: |sensitivity| × u."""


class Drawn(NamedTuple):
    """What the draws came to."""

    mean: float
    standard_uncertainty: float
    probability: float
    lower: float
    """Of the interval that leaves as many draws below as above it."""
    upper: float
    shortest_lower: float
    """Of the shortest interval with that probability."""
    shortest_upper: float
    trials: int


def first_order(model: Model, inputs: Sequence[Input]) -> FirstOrder:
    """The value of ``model`` and its uncertainty to first order.

    Sensitivities are central differences over a small share of each uncertainty, taken twice so
    that the error falls with the fourth power of the step. Raises ValueError where the model gives
    no finite number near the inputs, or an uncertainty makes no sense.
    """
    _check(inputs)
    at = [one.value for one in inputs]
    value = _finite(model(at), "at the inputs")
    rates = tuple(_sensitivity(model, at, index, one) for index, one in enumerate(inputs))
    budget = combine(
        Contribution(one.name, abs(rate) * one.standard_uncertainty, one.degrees_of_freedom)
        for one, rate in zip(inputs, rates, strict=True)
    )
    return FirstOrder(value, rates, budget)


def _sensitivity(model: Model, at: Sequence[float], index: int, one: Input) -> float:
    u = one.standard_uncertainty
    if not u:
        return 0.0  # never multiplied by anything
    # A step the value's own digits can carry: a hundredth of u, unless that is lost in rounding.
    step = max(u / 100.0, abs(one.value) * 1e-6)

    def slope(by: float) -> float:
        ends = []
        for moved in (one.value + by, one.value - by):
            there = list(at)
            there[index] = moved
            ends.append((moved, _finite(model(there), f"near {one.name} = {moved}")))
        (right, above), (left, below) = ends
        return (above - below) / (right - left)

    return (4.0 * slope(step / 2.0) - slope(step)) / 3.0


def monte_carlo(
    model: Model,
    inputs: Sequence[Input],
    word: str,
    trials: int = TRIALS,
    probability: float = 0.95,
) -> Drawn:
    """The distribution of ``model``'s value, from ``trials`` draws of the inputs.

    The draws follow from ``word``, any text: the same word gives the same draws, with every version
    of numpy. Raises ValueError where a draw gives no finite number (the inputs reach where the
    model has none), or an argument makes no sense.
    """
    import numpy as np

    _check(inputs)
    if not 1000 <= trials <= MOST_TRIALS:
        raise ValueError(f"{trials} trials: take 1000 to {MOST_TRIALS}")
    if not 0.0 < probability < 1.0:
        raise ValueError(f"a coverage probability of {probability} does not lie between 0 and 1")
    digest = hashlib.sha256(word.encode()).digest()
    bits = np.random.PCG64(int.from_bytes(digest, "big"))
    drawn = [_draw(one, _uniform(bits, trials)) for one in inputs]
    with np.errstate(all="ignore"):
        values = np.broadcast_to(np.asarray(model(drawn), dtype=np.float64), (trials,))
    lost = int(trials - np.isfinite(values).sum())
    if lost:
        raise ValueError(
            f"{lost} of {trials} draws gave no number: the inputs reach where the model has none"
        )
    return _summary(np.sort(values), probability)


def _uniform(bits: Any, count: int) -> Draws:
    """Numbers strictly between 0 and 1, from the generator's raw bits: numpy keeps these the same
    from version to version, and not what it makes of them."""
    import numpy as np

    raw = bits.random_raw(count) >> np.uint64(11)
    shares: Draws = (raw.astype(np.float64) + 0.5) * 2.0**-53
    return shares


def _draw(one: Input, shares: Draws) -> Draws:
    """Values of an input, from where each stands among all there might be."""
    found: Draws = one.value + one.standard_uncertainty * _standardised(one, shares)
    return found


def _standardised(one: Input, shares: Draws) -> Any:
    import numpy as np
    from scipy.special import ndtri, stdtrit

    if one.shape is Shape.NORMAL:
        endless = math.isinf(one.degrees_of_freedom)
        return ndtri(shares) if endless else stdtrit(one.degrees_of_freedom, shares)
    half_width = _HALF_WIDTHS[one.shape]
    if one.shape is Shape.RECTANGULAR:
        return half_width * (2.0 * shares - 1.0)
    if one.shape is Shape.ARCSINE:
        return half_width * -np.cos(np.pi * shares)
    low = np.sqrt(2.0 * shares) - 1.0
    high = 1.0 - np.sqrt(2.0 * (1.0 - shares))
    return half_width * np.where(shares < 0.5, low, high)


def _summary(ordered: Draws, probability: float) -> Drawn:
    """Intervals by counting (JCGM 101, 7.7)."""
    import numpy as np

    count = len(ordered)
    inside = min(count - 1, max(1, round(probability * count)))
    first = (count - inside) // 2
    widths = ordered[inside:] - ordered[: count - inside]
    shortest = int(np.argmin(widths))
    return Drawn(
        mean=float(ordered.mean()),
        standard_uncertainty=float(ordered.std(ddof=1)),
        probability=probability,
        lower=float(ordered[first]),
        upper=float(ordered[first + inside]),
        shortest_lower=float(ordered[shortest]),
        shortest_upper=float(ordered[shortest + inside]),
        trials=count,
    )


def agrees(first: FirstOrder, drawn: Drawn, coverage_factor: float) -> bool:
    """Whether both ends of value ± k·u lie where the draws put them, to within half of the second
    significant digit of u (JCGM 101, 8.1.3)."""
    u = first.budget.standard_uncertainty
    if not u:
        return drawn.lower == drawn.upper == first.value
    half_digit = 0.5 * 10.0 ** (math.floor(math.log10(u)) - 1)
    reach = coverage_factor * u
    ends = (first.value - reach - drawn.lower, first.value + reach - drawn.upper)
    return all(abs(end) <= half_digit for end in ends)


def _check(inputs: Sequence[Input]) -> None:
    for one in inputs:
        if not math.isfinite(one.value):
            raise ValueError(f"the value of {one.name} is {one.value}")
        if not 0 <= one.standard_uncertainty < math.inf:
            raise ValueError(f"standard uncertainty of {one.name} is {one.standard_uncertainty}")
        if not one.degrees_of_freedom > 0:
            raise ValueError(f"degrees of freedom of {one.name} are {one.degrees_of_freedom}")


def _finite(value: Any, where: str) -> float:
    found = float(value)
    if not math.isfinite(found):
        raise ValueError(f"the model gives {found} {where}")
    return found

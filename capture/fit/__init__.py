"""Fitting together: which part goes with which, how much to hone, which shells to take.

Sizes are exact and in one unit; no rounding decides between two fits.
"""

from capture.fit.hone import Cut, Honing, hone, least_honing
from capture.fit.select import (
    Misfit,
    Pair,
    Proposal,
    Shortfall,
    assign,
    given_order,
    shortfall,
)
from capture.fit.shells import Bearing, Choice, Half, Shell, choose_shells
from capture.fit.stock import Selection, Unsupplied, choose_for_all

__all__ = [
    "Bearing",
    "Choice",
    "Cut",
    "Half",
    "Honing",
    "Misfit",
    "Pair",
    "Proposal",
    "Selection",
    "Shell",
    "Shortfall",
    "Unsupplied",
    "assign",
    "choose_for_all",
    "choose_shells",
    "given_order",
    "hone",
    "least_honing",
    "shortfall",
]

"""A whole build at a glance: what the build page and the build sheet are both made from.

``still`` copies what stands, quickly and where the state is; ``glance`` makes everything else of
that copy, of the build's entries and of the presses behind it, wherever there is time for it.
"""

from capture.inquiry.glance.compare import Comparison, compare
from capture.inquiry.glance.shape import Glance, Most, Some
from capture.inquiry.glance.still import Still, still
from capture.inquiry.glance.told import together
from capture.inquiry.glance.whole import glance, presses_wanted, simulated

__all__ = [
    "Comparison",
    "Glance",
    "Most",
    "Some",
    "Still",
    "compare",
    "glance",
    "presses_wanted",
    "simulated",
    "still",
    "together",
]

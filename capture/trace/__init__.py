"""Torque traces: what a pull or a turning test shows, and how its samples are kept.

Pure: samples in, values out. numpy is imported when first used.
"""

from __future__ import annotations

from capture.trace.breaks import Click
from capture.trace.finding import Code, Finding
from capture.trace.pull import Peak, Pull, analyse_pull
from capture.trace.samples import Trace, Written
from capture.trace.store import canonical, compress, digest, digest_of, digits, expand
from capture.trace.turning import Turning, analyse_turning

__all__ = [
    "Click",
    "Code",
    "Finding",
    "Peak",
    "Pull",
    "Trace",
    "Turning",
    "Written",
    "analyse_pull",
    "analyse_turning",
    "canonical",
    "compress",
    "digest",
    "digest_of",
    "digits",
    "expand",
]

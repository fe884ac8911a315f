"""Calculations that need no bench: numbers in, numbers out, nothing recorded.

The list is here, and costs nothing; what each takes and does stands in its family's module, which
is imported when it is first asked for. ``api.calculations.run`` joins the two.
"""

from __future__ import annotations

from typing import Final, NamedTuple


class Entry(NamedTuple):
    """Where a calculation lives, and what it does in a sentence."""

    family: str
    """Module in this package."""
    form: str
    """Its class there: an ``Input``."""
    sentence: str


CALCULATIONS: Final[dict[str, Entry]] = {
    "form": Entry("shape", "Form", "Mean, taper, out-of-round and cylindricity of sizes by point."),
    "clearance": Entry("shape", "Clearance", "Least, mean and greatest room, and at each point."),
    "oil-clearance": Entry("shape", "OilClearance", "Room for oil: housing, two shells, journal."),
    "end-float": Entry("shape", "EndFloat", "How far a shaft moves along its axis, both ways."),
    "ring-gap": Entry("limit", "RingGap", "Limits of a ring's end gap from its own bore."),
    "wear-limit": Entry("limit", "WearLimit", "A limit stated as a rate per unit of size."),
    "tolerance-grade": Entry("limit", "ToleranceGrade", "Tolerance grades of ISO 286-1."),
    "convert": Entry("limit", "Convert", "A value in another unit, exactly."),
    "deck-clearance": Entry("deck", "DeckClearance", "By a stack of parts and by a dial bridge."),
    "flatness": Entry("deck", "Flatness", "Of a face: by feeler, or from heights over it."),
    "displacement": Entry("volume", "Displacement", "Swept volume of one and of all cylinders."),
    "compression-ratio": Entry(
        "volume", "CompressionRatio", "Every volume, and the chamber or crown for a wanted ratio."
    ),
    "stress-area": Entry("fastener", "StressArea", "Tensile stress area and proof load."),
    "preload": Entry("fastener", "Preload", "Preload from torque or stretch, or a torque for it."),
    "extension": Entry("fastener", "Extension", "What an offset extension does to a torque."),
    "thermal-correction": Entry("thermal", "ThermalCorrection", "A size brought to 20 °C (ISO 1)."),
    "conformance": Entry(
        "conformity", "Conformance", "How likely a measured size conforms, by each decision rule."
    ),
    "risks": Entry("conformity", "Risks", "Consumer's and producer's risk, and a guarded limit."),
    "bracket": Entry("bracket", "Bracket", "A size known only between two values."),
    "uncertainty-budget": Entry(
        "budget", "UncertaintyBudget", "Lines into one expanded uncertainty."
    ),
    "propagation": Entry("budget", "Propagation", "Uncertainty of a formula, two ways."),
    "trace": Entry("torque", "Trace", "What the torque trace of one pull shows."),
    "turning": Entry("torque", "Turning", "What the torque trace of a turning test shows."),
    "tool-check": Entry("torque", "ToolCheck", "A torque tool against a reference (ISO 6789-1)."),
    "select-fit": Entry("fitting", "SelectFit", "Which part goes with which, and what to hone."),
    "shells": Entry("fitting", "Shells", "Bearing shells on hand for wanted oil clearances."),
    "gauge-study": Entry("gauge", "GaugeStudy", "Repeatability, reproducibility, bias, linearity."),
    "chart": Entry("gauge", "Chart", "Control charts: mean and range, mean and s, individuals."),
    "capability": Entry("gauge", "Capability", "Capability and performance with intervals."),
}
"""By name, in the order in which they are listed."""

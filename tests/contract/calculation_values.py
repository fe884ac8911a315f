"""Inputs of calculations whose answers stand outside this project, each with its source.

They show that a calculation can be reached and gives what its source says; the calculations
themselves are tested in tests/outside.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from tests.outside.tables import rows

Json = dict[str, Any]


class Case(NamedTuple):
    """One input; ``wanted``: path in the result → value and its tolerance, or the value itself."""

    calculation: str
    source: str
    given: Json
    wanted: dict[str, Any]


def near(value: float, within: float) -> tuple[float, float]:
    return value, within


def cases() -> Iterator[Case]:
    yield from _shapes()
    yield from _engine()
    yield from _torque()
    yield from _uncertainty()
    yield from _gauges()


def _shapes() -> Iterator[Case]:
    levels = {"a": ("88.012", "88.021"), "b": ("88.010", "88.016"), "c": ("88.004", "88.013")}
    yield Case(
        "form",
        "diesel-engine service manual, cylinder bore section (rule; numbers ours)",
        {
            "unit": "mm",
            "sizes": [
                {"depth": depth, "axis": axis, "size": size}
                for depth, pair in levels.items()
                for axis, size in zip("AB", pair, strict=True)
            ],
        },
        {
            "mean": near(88.012667, 1e-6),
            "taper.value": "0.008",
            "taper.larger_at": "a",
            "out_of_round.value": "0.009",
            "out_of_round.larger_at": "B",
            "cylindricity.value": "0.008",
        },
    )
    yield Case(
        "clearance",
        "TM 5-3895-370-14&P, rod bearings (rule and limit; numbers ours)",
        {"unit": "in", "outer": [{"size": "2.7195"}], "inner": [{"size": "2.7158"}]},
        {"least": "0.0037", "greatest": "0.0037"},
    )
    yield Case(
        "oil-clearance",
        "by definition: housing less two shells less journal",
        {"unit": "mm", "housing": "60.000", "shells": ["1.985", "1.985"], "journal": "55.985"},
        {"oil_clearance": "0.045"},
    )
    yield Case(
        "end-float",
        "by definition: the difference of both ends (own arithmetic)",
        {"unit": "mm", "forward": ["0.00", "0.02"], "rearward": ["0.18", "0.20"]},
        {"end_float": "0.18", "spread_of_repeats": "0.02"},
    )
    yield Case(
        "ring-gap",
        "ring-gap table quoted in a forum post: bore × factor",
        {"unit": "in", "bore": ["4.00"], "lower_factor": "0.004", "upper_factor": "0.0055"},
        {"lower_limit": near(0.016, 1e-9), "upper_limit": near(0.022, 1e-9)},
    )
    yield Case(
        "wear-limit",
        "TM 10-3930-647-14&P: .0005 in taper per inch of piston travel",
        {"unit": "in", "size": "4.500", "rate": "0.0005"},
        {"limit": near(0.00225, 1e-12)},
    )
    yield Case(
        "wear-limit",
        "bearing maker's guide: .0010 in per inch, .0005 in more for high performance",
        {"unit": "in", "size": "2.000", "rate": "0.0010", "added": "0.0005"},
        {"limit": near(0.0025, 1e-12)},
    )
    yield Case(
        "tolerance-grade",
        "ISO 286-1 grades for 80 to 120 mm: IT6 22, IT7 35 µm (package isofits)",
        {"unit": "mm", "size": "100", "width": "0.035", "grade": 6},
        {"nearest_grade": "IT7", "grade_width_um": near(22, 0.5)},
    )
    yield Case(
        "convert",
        "TM 5-3895-370-14&P prints 73 lb-ft as 99 N·m; exact by definition of inch and pound",
        {"value": "73", "unit": "lbf·ft", "to": "N·m"},
        {"value": near(98.97471023, 1e-8)},
    )


def _engine() -> Iterator[Case]:
    stack = {"block_height": "9.025", "crank_radius": "1.75", "rod_length": "6.25",
             "compression_height": "1.0"}  # fmt: skip
    yield Case(
        "deck-clearance",
        "piston maker's calculator page: 9.025, 1.75, 6.25, 1.0 leave .025 in",
        {"unit": "in", "stack": stack, "wanted": "0.025"},
        {
            "by_stack.clearance": near(0.025, 1e-12),
            "by_stack.rod_length_for_it": near(6.25, 1e-12),
            "by_stack.compression_height_for_it": near(1.0, 1e-12),
        },
    )
    yield Case(
        "deck-clearance",
        "mean of four so that rock averages out: common practice, no source",
        {
            "unit": "in",
            "bridge": {"front": "0.026", "rear": "0.024", "thrust": "0.031", "opposite": "0.019"},
        },
        {"by_bridge.clearance": "0.025", "by_bridge.rock_across": "0.012"},
    )
    corners = [("a", 0, 0, 0.01), ("b", 100, 0, 0.0), ("c", 0, 100, 0.0), ("d", 100, 100, 0.01)]
    yield Case(
        "flatness",
        "a saddle ±h about its plane: peak to valley 2h (ISO 12781-1; own derivation)",
        {
            "unit": "mm",
            "gaps": {"front": "0.03", "diagonal": "0.05"},
            "heights": [
                {"place": place, "x": str(x), "y": str(y), "height": f"{height:.3f}"}
                for place, x, y, height in corners
            ],
        },
        {
            "by_feeler.value": "0.05",
            "by_feeler.at": "diagonal",
            "by_heights.peak_to_valley": near(0.01, 1e-12),
            "by_heights.minimum_zone": near(0.01, 1e-9),
        },
    )
    four = {"value": "4", "unit": "in"}
    yield Case(
        "displacement",
        "10.16³·π/4·6 cm³ by a second route",
        {"bore": four, "stroke": four, "cylinders": 6},
        {"displacement": near(4942.222, 0.001)},
    )
    nothing = {"value": "0", "unit": "mm"}
    yield Case(
        "compression-ratio",
        "formula page: bore 87 mm, stroke 69 mm, deck .06 in, head 50 cm³ make 7.95",
        {
            "bore": {"value": "87", "unit": "mm"},
            "stroke": {"value": "69", "unit": "mm"},
            "chamber": {"value": "50", "unit": "cm³"},
            "deck_clearance": {"value": "0.06", "unit": "in"},
            "gasket_bore": {"value": "87", "unit": "mm"},
            "gasket_thickness": nothing,
            "crown": {"value": "0", "unit": "cm³"},
            "wanted_ratio": "7.9452",
        },
        {
            "swept": near(410.18, 0.01),
            "deck": near(9.06, 0.01),
            "ratio": near(7.95, 0.01),
            "chamber_for_it": near(50, 0.01),
        },
    )
    yield Case(
        "thermal-correction",
        "NPL, How do I correct lengths to 20 °C?",
        {
            "unit": "mm",
            "size": "500.035",
            "part": {"temperature": "23.7", "coefficient": "11.7"},
        },
        {"size_at_20": near(500.01335, 1e-5), "uncorrected": "500.035"},
    )
    bores = {"1": "87.208", "2": "87.214", "3": "87.235", "4": "87.246"}
    pistons = {"A": "87.201", "B": "87.180", "C": "87.213", "D": "87.171"}
    yield Case(
        "select-fit",
        "bands of TM 10-3930-653-14&P; the best of all 24 orders, enumerated",
        {"unit": "mm", "outers": bores, "inners": pistons,
         "lower": "0.025", "upper": "0.045", "target": "0.035"},
        {"total_miss": "0.006", "pairs.0.inner": "D", "pairs.3.inner": "C", "complete": True,
         "as_given.pairs.0.clearance": "0.007"},
    )  # fmt: skip
    yield Case(
        "shells",
        "by definition: 60.000 − 55.985 − 1.985 − 1.990 (own arithmetic)",
        {
            "unit": "mm",
            "bearings": {"1": {"housing": "60.000", "journal": "55.985"}},
            "shells": [
                {"name": "thin", "thickness": "1.985", "on_hand": 1},
                {"name": "thick", "thickness": "1.990", "on_hand": 1},
            ],
            "lower": "0.030",
            "upper": "0.050",
        },
        {"choices.0.clearance": "0.040", "choices.0.mixed": True, "remaining.thin": 0},
    )


def _torque() -> Iterator[Case]:
    yield Case(
        "stress-area",
        "ISO 898-1 metric table: M10×1.5, 57.99 mm² within 0.02 %",
        {"series": "metric", "unit": "mm", "diameter": "10", "pitch": "1.5"},
        {"area_mm2": near(57.99, 0.0116)},
    )
    yield Case(
        "stress-area",
        "unified table: 3/8-16, 0.0775 in²",
        {"series": "unified", "unit": "in", "diameter": "0.375", "threads_per_inch": "16"},
        {"area_in2": near(0.0775, 5e-5)},
    )
    yield Case(
        "stress-area",
        "Machinery's Handbook: 1/2-13 with least pitch diameter .4435, 0.13757 in²",
        {
            "series": "unified",
            "unit": "in",
            "diameter": "0.5",
            "threads_per_inch": "13",
            "least_pitch_diameter": "0.4435",
        },
        {"high_strength_area_in2": near(0.13757, 1e-5)},
    )
    ten = {"series": "metric", "unit": "mm", "diameter": "10", "pitch": "1.5"}
    yield Case(
        "preload",
        "bolt-torque worked example: M10, 50 N·m, K 0.20 make 25.0 kN",
        {**ten, "torque": "50", "nut_factor": "0.20", "scatter_percent": "25",
         "force_unit": "kN", "proof_stress": "580"},
        {"preload.value": near(25.0, 1e-9), "preload.lower": near(18.75, 1e-9),
         "share_of_proof.value": near(0.743, 0.0005)},
    )  # fmt: skip
    yield Case(
        "preload",
        "Mechanical Fastening, Joining, and Assembly, p. 85: 1275 lbf, .190 in, K .30",
        {"series": "unified", "unit": "in", "diameter": "0.190", "threads_per_inch": "24",
         "preload": "1275", "force_unit": "lbf", "torque_unit": "lbf·in", "nut_factor": "0.30"},
        {"torque": near(72.7, 0.05)},
    )  # fmt: skip
    yield Case(
        "preload",
        "bolt-elongation page: 25 kN over 50 mm at 200 GPa stretch M10 by 0.1078 mm",
        {**ten, "stretch": "0.10778", "clamped_length": "50", "elastic_modulus": "200000"},
        {"preload.value": near(25000, 25)},
    )
    yield Case(
        "extension",
        "US Army TM 9-254: 60 lbf·in with a 12 in tool and 2 in beyond are 70",
        {"tool_length": "12", "length": "2", "unit": "in", "tool": "60", "torque_unit": "lbf·in"},
        {"fastener": near(70, 1e-9)},
    )
    yield Case(
        "extension",
        "hand-tool manual after AC 43.13-1B: 50 lbf·ft wanted, 16 in and 2 in: 44.44",
        {"tool_length": "16", "length": "2", "unit": "in", "wanted": "50"},
        {"tool": near(44.44, 0.005)},
    )
    yield Case(
        "tool-check",
        "tool maker's review sheet of ISO 6789-1: ± 4 % of the reference (numbers ours)",
        {
            "tool": "click tool",
            "unit": "N·m",
            "maximum": "100",
            "points_percent": ["100"],
            "permissible_deviation_percent": "4",
            "readings": [["96.2", "104.1", "96.1", "104.2"]],
            "readings_wanted": 4,
        },
        {
            "points.0.deviations_percent.0": near(3.95, 0.0005),
            "points.0.deviations_percent.3": near(-4.031, 0.0005),
            "points.0.within": [True, True, False, False],
            "conforming": False,
        },
    )
    yield Case(
        "bracket",
        "18 clicks, 20 turns, tool ± 4 %: 19 and 0.7252 (JCGM 100, 4.3.7, twice)",
        {"unit": "N·m", "lower": "18", "upper": "20", "by": "settings",
         "tool_deviation_percent": "4", "upper_limit": "21"},
        {"estimate.middle": "19", "estimate.with_the_tool": near(0.7252, 0.0001),
         "verdict": "conforming", "advice": None},
    )  # fmt: skip
    click = rows("click_trace_1")
    yield Case(
        "trace",
        "a synthetic trace: one click at 2.700 s and 60.00 N·m, the hand release is none",
        {
            "unit": "N·m",
            "seconds": [row["t_s"] for row in click],
            "torque": [row["torque_Nm"] for row in click],
        },
        {"click.at": near(2.7, 0.001), "click.torque": near(60.0, 0.01)},
    )
    yield Case(
        "turning",
        "breakaway 40, then a steady 35 to 37 N·m, by construction",
        {
            "unit": "N·m",
            "interval_us": 10_000,
            "torque": [*["0.0"] * 50, *[f"{at}.0" for at in range(0, 41, 4)],
                       *["38.0", "36.5"], *["35.0", "36.0", "37.0", "36.0"] * 100],
        },
        {"breakaway": near(40, 2.1), "running_median": near(36, 0.1)},
    )  # fmt: skip


def _uncertainty() -> Iterator[Case]:
    yield Case(
        "conformance",
        "JCGM 106, 7.4 (from memory): 13.6 with u 1.8 within 12.5 to 16.3, 0.66",
        {"unit": "cm", "value": "13.6", "lower": "12.5", "upper": "16.3",
         "expanded_uncertainty": "3.6", "coverage_factor": "2"},
        {"conformance_probability": near(0.66, 0.005), "verdicts.simple": "conforming"},
    )  # fmt: skip
    yield Case(
        "conformance",
        "ILAC-G8:09/2019 4.2.3 with w = U (rule; numbers ours): 10.003 fails on condition",
        {"unit": "mm", "value": "10.003", "upper": "10.000",
         "expanded_uncertainty": "0.008", "coverage_factor": "2"},
        {"verdicts.simple": "nonconforming", "verdicts.guarded": "undecided"},
    )  # fmt: skip
    yield Case(
        "risks",
        "JCGM 106, 9.5.4, ball bearings, as a public notebook prints it",
        {"unit": "µm", "process_mean": "1", "process_standard_deviation": "0.5",
         "process_shape": "gamma", "upper": "2", "expanded_uncertainty": "0.5",
         "coverage_factor": "2", "wanted_consumers_risk": "0.001"},
        {"nonconforming": near(0.04238, 1e-4), "consumers": near(0.00802, 1e-5),
         "for_wanted.acceptance_upper": near(1.672, 1e-3)},
    )  # fmt: skip
    yield Case(
        "risks",
        "a public package's risk tests: limits 9 to 11, N(10.5, .4), Cpk 0.416667, 10.574 %",
        {"unit": "mm", "process_mean": "10.5", "process_standard_deviation": "0.4",
         "lower": "9", "upper": "11", "expanded_uncertainty": "0.2", "coverage_factor": "2"},
        {"cpk": near(0.416667, 1e-6), "nonconforming": near(0.10574, 1e-4)},
    )  # fmt: skip
    yield Case(
        "uncertainty-budget",
        "Welch–Satterthwaite: .57 with ν 9 and .25 with ν ∞ have 12.8",
        {"unit": "mm", "coverage_factor": "2",
         "lines": [{"name": "a", "kind": "standard", "value": "0.57", "degrees_of_freedom": "9"},
                   {"name": "b", "kind": "standard", "value": "0.25"}]},
        {"degrees_of_freedom": near(12.8, 0.1)},
    )  # fmt: skip
    yield Case(
        "uncertainty-budget",
        "GUM H.1, comparator: 5.8 nm (24), 10/t (5), 20/3 (8): 9.7 nm with ν 25.6",
        {"unit": "µm", "probability": "0.99",
         "lines": [
             {"name": "repeats", "kind": "standard", "value": "5.8", "degrees_of_freedom": "24"},
             {"name": "random", "kind": "expanded", "value": "10", "coverage_factor": "2.5706",
              "degrees_of_freedom": "5"},
             {"name": "systematic", "kind": "expanded", "value": "20", "coverage_factor": "3",
              "degrees_of_freedom": "8"}]},
        {"standard_uncertainty": near(9.655, 0.001), "degrees_of_freedom": near(25.57, 0.01)},
    )  # fmt: skip
    yield Case(
        "propagation",
        "four terms of u 1 (JCGM 101, table 2): u 2, 95 % within ± 3.92",
        {"formula": "a + b + c + d", "unit": "mm",
         "inputs": [{"name": name, "value": "0", "unit": "mm", "standard_uncertainty": "1"}
                    for name in "abcd"]},
        {"first_order.standard_uncertainty": near(2, 1e-6), "drawn.upper": near(3.92, 0.03),
         "drawn.lower": near(-3.92, 0.03), "agree": True},
    )  # fmt: skip
    yield Case(
        "propagation",
        "the same with rectangular terms (JCGM 101, table 3): ± 3.88",
        {"formula": "a + b + c + d", "unit": "mm",
         "inputs": [{"name": name, "value": "0", "unit": "mm", "standard_uncertainty": "1",
                     "shape": "rectangular"} for name in "abcd"]},
        {"drawn.upper": near(3.88, 0.03)},
    )  # fmt: skip


def _gauges() -> Iterator[Case]:
    study = rows("gauge_rr_10x3x3")
    yield Case(
        "gauge-study",
        "AIAG, Measurement Systems Analysis, 4th ed., figs III-B 6 and 15, as quoted publicly",
        {
            "unit": "mm",
            "readings": {
                appraiser: [
                    [row[f"part{part}"] for row in study if row["appraiser"] == appraiser]
                    for part in range(1, 11)
                ]
                for appraiser in "ABC"
            },
        },
        {
            "by_ranges.mean_range": near(0.3417, 0.00005),
            "by_ranges.variation.sizes_told_apart": 5,
            "by_anova.table.sample.sum_of_squares": near(88.3619, 0.0001),
            "by_anova.table.interaction.p": near(0.974, 0.0005),
        },
    )
    rings = [[row[f"x{at}"] for at in range(1, 6)] for row in rows("piston_rings")]
    yield Case(
        "chart",
        "Montgomery, Introduction to Statistical Quality Control, table 6.3",
        {"unit": "mm", "kind": "mean-range", "samples": rings},
        {"location.centre": near(74.0012, 5e-5), "location.upper": near(74.0146, 5e-5),
         "location.lower": near(73.9878, 5e-5), "scatter.centre": near(0.02324, 5e-6)},
    )  # fmt: skip
    yield Case(
        "chart",
        "the same, limits from memory",
        {"unit": "mm", "kind": "mean-deviation", "samples": rings},
        {"scatter.centre": near(0.0094, 5e-5), "scatter.upper": near(0.0196, 1e-4)},
    )
    yield Case(
        "chart",
        "manufacturing textbook: n 5, mean .0022, mean range .0356",
        {"unit": "mm", "kind": "mean-range",
         "summary": {"grand_mean": "0.0022", "mean_scatter": "0.0356", "size": 5}},
        {"upper": near(0.0227, 1e-4), "lower": near(-0.0183, 1e-4),
         "scatter_upper": near(0.0753, 1e-4)},
    )  # fmt: skip
    yield Case(
        "chart",
        "moving ranges 1, 2, 1: centre 4/3, limits mean ± 2.66 of it (constant from memory)",
        {"unit": "mm", "kind": "individuals", "values": ["1", "2", "4", "3"]},
        {"location.centre": near(2.5, 1e-12), "location.upper": near(2.5 + 2.66 * 4 / 3, 0.01)},
    )
    yield Case(
        "capability",
        "NIST/SEMATECH handbook, linewidth data: Cp 1.31313, Cpk 1.27327, Cpm 1.30384",
        {"unit": "nm", "lower": "460", "upper": "660", "target": "560",
         "summary": {"n": 168, "mean": "563.03571", "standard_deviation": "25.38468"}},
        {"capability.indices.0.value": near(1.31313, 2e-5),
         "capability.indices.0.low": near(1.17234, 2e-5),
         "capability.indices.0.high": near(1.45372, 2e-5),
         "capability.indices.3.value": near(1.27327, 2e-5),
         "capability.indices.4.value": near(1.30384, 2e-5)},
    )  # fmt: skip

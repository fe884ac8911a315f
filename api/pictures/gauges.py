"""Steps that are about a gauge or a tool: back on its standard, in several hands, on a tester."""

from __future__ import annotations

from api.pictures.strokes import THIN, arrow, check, circle, line, path, rect, solid, span, words


def dial(unit: str) -> list[str]:
    """A comparative gauge that has to show nothing on its standard."""
    made = [circle(150, 118, 100), circle(150, 118, 9, fill="currentColor")]
    made += [line(150, 30, 150, 46), line(62, 118, 78, 118), line(222, 118, 238, 118)]
    made += [arrow((150, 118), (150, 50), 7)]
    made += [circle(384, 118, 92), circle(384, 118, 60), span((328, 118), (440, 118))]
    return [*made, words(f"0 {unit}", 250, 268, 300)]


def sample(appraiser: str) -> list[str]:
    """One of the samples of a study, and who measures it."""
    made = [circle(170, 112, 86), circle(170, 112, 52), span((122, 112), (218, 112))]
    made += [circle(384, 70, 38), path("M314 194C314 104 454 104 454 194")]
    return [*made, words(appraiser, 384, 238, 220)]


def wrench(setting: str) -> list[str]:
    """A torque tool on its reference, and what it is pulled to."""
    made = [
        circle(96, 80, 44),
        rect(140, 66, 230, 28, rx=8),
        solid(360, 58, 100, 44),
        solid(40, 136, 112, 54),
        line(96, 124, 96, 136),
        circle(96, 80, 14, stroke_width=THIN),
        arrow((410, 112), (410, 196), 12),
    ]
    return [*made, words(setting, 250, 262, 480)]


def tick(x: float, y: float) -> list[str]:
    """What has to be confirmed by a person."""
    return [
        circle(x, y, 44, class_="lit", fill="#ffc400"),
        check(x, y + 4, 22, stroke="#14171c", stroke_width=11),
    ]

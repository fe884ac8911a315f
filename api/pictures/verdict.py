"""The marks of verdicts on drawings and plots: one shape each, as on every page, told apart in
black and white."""

from __future__ import annotations

from api.pictures.strokes import INK
from api.pictures.svg import tag


def verdict_mark(result: str, x: float, y: float, r: float, **attributes: object) -> str:
    """A full disc conforming, a crossed-out square nonconforming, an open diamond undecided, an
    open triangle not evaluated; any other word a small full dot."""
    wide = max(r * 0.32, 1.4)
    drawn = {"stroke": INK, "stroke_width": wide, "stroke_linejoin": "round", **attributes}
    named = {"class_": "mark", "data_result": result or None}
    if result == "nonconforming":
        cross = f"M{x - r:.1f} {y - r:.1f}h{2 * r:.1f}v{2 * r:.1f}h{-2 * r:.1f}z"
        cross += f"M{x - r:.1f} {y - r:.1f}l{2 * r:.1f} {2 * r:.1f}"
        cross += f"M{x + r:.1f} {y - r:.1f}l{-2 * r:.1f} {2 * r:.1f}"
        return tag("path", d=cross, fill="none", **named, **drawn)
    if result == "undecided":
        far = r * 1.3
        way = f"M{x:.1f} {y - far:.1f}l{far:.1f} {far:.1f}l{-far:.1f} {far:.1f}"
        return tag("path", d=f"{way}l{-far:.1f} {-far:.1f}z", fill="none", **named, **drawn)
    if result == "not_evaluated":
        way = f"M{x:.1f} {y - 1.15 * r:.1f}l{1.15 * r:.1f} {2 * r:.1f}h{-2.3 * r:.1f}z"
        return tag("path", d=way, fill="none", **named, **drawn)
    size = r if result == "conforming" else r * 0.72
    return tag("circle", cx=float(x), cy=float(y), r=float(size), fill=INK, **named)

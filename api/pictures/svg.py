"""Text of SVG: elements with plain attributes; no style sheets, scripts or files from elsewhere."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

FONT: Final = "'Noto Sans', 'DejaVu Sans', system-ui, sans-serif"
_NO_XML: Final = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_SIGNS: Final = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;"}
_WIDTH: Final = 0.57
"""Mean width of a letter, as a part of its size; a little more than most texts need."""


def escaped(text: str) -> str:
    """Text as it may stand in an element or an attribute; what XML cannot hold is left out."""
    return "".join(_SIGNS.get(sign, sign) for sign in _NO_XML.sub("", text))


def tag(name: str, *inside: str, **attributes: object) -> str:
    """An element. Attributes' underscores are hyphens; those that are None are left out."""
    said = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escaped(_number(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{said}/>" if not inside else f"<{name}{said}>{''.join(inside)}</{name}>"


def text(said: str, x: float, y: float, **attributes: object) -> str:
    """A line of text, its baseline starting (or as ``text_anchor`` says) at the point."""
    return tag("text", escaped(said), x=x, y=y, **attributes)


def polyline(points: Iterable[tuple[float, float]], **attributes: object) -> str:
    """A line through points, to a tenth of a unit."""
    path = " ".join(f"{_short(x)},{_short(y)}" for x, y in points)
    return tag("polyline", points=path, fill="none", **attributes)


def width(said: str, size: float) -> float:
    """About how wide a text is."""
    return len(said) * size * _WIDTH


def _number(value: object) -> str:
    return _short(value) if isinstance(value, float) else str(value)


def _short(value: float) -> str:
    found = f"{value:.1f}".removesuffix(".0")
    return "0" if found == "-0" else found

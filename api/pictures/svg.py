"""Text of SVG: elements with plain attributes; no style sheets, scripts or files from elsewhere."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

FONT: Final = "'Noto Sans', 'DejaVu Sans', system-ui, sans-serif"
LOOK: Final = (
    "svg{color:#14171c}.ground{fill:#fffdf6}"
    "@media(prefers-color-scheme:dark){svg{color:#f3f0e6}.ground{fill:#1b2027}}"
)
"""Of a picture that is a file of its own: the colours of our pages."""
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


def picture(
    inside: Iterable[str],
    wide: float,
    high: float,
    title: str,
    said: str,
    *,
    standalone: bool = False,
    linked: bool = False,
    top: float = 0.0,
) -> str:
    """A whole picture in the ink of the page it stands in. ``said`` tells who cannot see it what
    is there; ``linked``: something in it can be followed, so it is a group and no single image.
    ``standalone``: a file of its own, which is light or dark as the reader wants."""
    look = (
        tag("style", LOOK),
        tag("rect", y=top or None, width="100%", height="100%", class_="ground"),
    )
    return tag(
        "svg",
        tag("title", escaped(title)),
        tag("desc", escaped(said)),
        *(look if standalone else ()),
        *inside,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=" ".join(_short(float(one)) for one in (0, top, wide, high)),
        role="group" if linked else "img",
        font_family=FONT,
        fill="currentColor",
    )


def width(said: str, size: float) -> float:
    """About how wide a text is."""
    return len(said) * size * _WIDTH


def _number(value: object) -> str:
    return _short(value) if isinstance(value, float) else str(value)


def _short(value: float) -> str:
    found = f"{value:.1f}".removesuffix(".0")
    return "0" if found == "-0" else found

"""XML written as text, an element at a time, so that a large document is never held."""

from __future__ import annotations

import re
from typing import Final
from uuid import UUID

_NOT_XML: Final = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What no XML 1.0 document may hold, not even escaped."""

_TEXT: Final = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", "\r": "&#13;"})
_QUOTED: Final = _TEXT | str.maketrans({'"': "&quot;", "\n": "&#10;", "\t": "&#9;"})


_PLAIN: Final = re.compile(r"[\w .,:;/()+-]*\Z", re.ASCII)
"""What stands in XML as it is: nearly all of what an export says, so it is looked at first."""


def text(value: str) -> str:
    """Character data; what XML cannot hold becomes U+FFFD."""
    if _PLAIN.match(value):
        return value
    return _NOT_XML.sub("\ufffd", value).translate(_TEXT)


def _quoted(value: str) -> str:
    if _PLAIN.match(value):
        return value
    return _NOT_XML.sub("\ufffd", value).translate(_QUOTED)


def element(name: str, /, *content: str, **attributes: str | int) -> str:
    """An element around ``content``, which is markup already."""
    return f"{opened(name, **attributes)}{''.join(content)}</{name}>"


def opened(name: str, /, **attributes: str | int) -> str:
    """A start tag."""
    words = "".join(f' {key}="{_quoted(str(value))}"' for key, value in attributes.items())
    return f"<{name}{words}>"


def said(name: str, value: str | int, /, **attributes: str | int) -> str:
    """An element with text in it."""
    return element(name, text(str(value)), **attributes)


def optional(name: str, value: str | None) -> str:
    """The same, or nothing where there is nothing to say."""
    return said(name, value) if value else ""


def counted(name: str, items: list[str]) -> str:
    """A list with its count, as the schema wants of every list; nothing for an empty one."""
    return element(name, *items, n=len(items)) if items else ""


def ids(name: str, numbers: list[int]) -> str:
    """A list of references."""
    return counted(name, [said("Id", number) for number in numbers])


def attributes(**named: str | int | bool | UUID | None) -> str:
    """``Attributes``: what the standard has no element for. What is None is left out."""
    return counted(
        "Attributes",
        [_attribute(name, value) for name, value in named.items() if value is not None],
    )


def _attribute(name: str, value: str | int | bool | UUID) -> str:
    if isinstance(value, bool):
        return f'<AttributeBool name="{name}" value="{"true" if value else "false"}"/>'
    if isinstance(value, UUID):
        return element("AttributeQPId", said("Value", str(value)), name=name)
    if isinstance(value, int):
        return f'<AttributeI1 name="{name}" value="{value}"/>'
    return f'<AttributeStr name="{name}" value="{_quoted(value)}"/>'

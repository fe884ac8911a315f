"""Which scripts a page needs, so that a browser asks for all of them at once.

A browser finds a module's imports only when it has the module: a chain of them costs a round trip
each. Named in the page's head (``modulepreload``), they come together.
"""

from __future__ import annotations

import functools
import re
from pathlib import Path

STATIC = Path(__file__).parent / "static"
IMPORT = re.compile(r"""^(?:import|export)\b[^;]*?["']\./([a-z_]+\.js)["'];?$""", re.MULTILINE)


@functools.cache
def modules(name: str) -> tuple[str, ...]:
    """What a module imports, and what that imports, each once, the nearest first."""
    found: dict[str, None] = {}
    waiting = [name]
    while waiting:
        for one in IMPORT.findall((STATIC / waiting.pop(0)).read_text("utf-8")):
            if one not in found:
                found[one] = None
                waiting.append(one)
    return tuple(found)

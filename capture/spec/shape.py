"""What a part or a size looks like, for drawings; and where things stand on it."""

from __future__ import annotations

from enum import StrEnum

Place = tuple[float, ...]
"""Where a point of measurement or a fastener is: ``(x, y)`` in mm, y upwards; or a line from the
first to the second of ``(x, y, x, y)``, along which a straight edge lies. Only drawn, never
computed with: so these are floats."""


class Shape(StrEnum):
    """Shapes that can be drawn."""

    BORE = "bore"
    """A bore: along its axis, and from its upper end."""
    CAPPED_BORE = "capped-bore"
    """A bore closed by a cap, seen along its axis with the split line."""
    JOURNAL = "journal"
    SHELL = "shell"
    """A bearing shell: half a bearing."""
    FACE = "face"
    """A flat face, from above."""
    PISTON = "piston"
    """From the side, square to the pin."""
    CROWN = "crown"
    """A piston in its bore, from above."""
    GROOVE = "groove"
    """A piston's grooves with their rings, cut open."""
    RING = "ring"
    """A piston ring in its bore, from above, its ends at the gap."""
    ROD = "rod"
    BESIDE_ROD = "beside-rod"
    """A rod between the cheeks of its crankpin."""
    CAP = "cap"
    """A cap with its bolts."""
    BOLT = "bolt"
    CRANKSHAFT = "crankshaft"
    CHAMBER = "chamber"
    """A combustion chamber being filled."""
    BLOCK = "block"
    PROBE = "probe"
    """A thermometer on the part."""
    PART = "part"
    """Any other part."""

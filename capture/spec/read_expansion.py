"""Reads ``expansion``: how a size follows the temperature of its part."""

from __future__ import annotations

from decimal import Decimal

from capture.quantity import dimension
from capture.spec.collection import Collection
from capture.spec.model import Characteristic, Expansion, Part
from capture.spec.position import apart
from capture.spec.table import Table

KEYS = ("temperature", "coefficient", "coefficient_uncertainty")
_LEAST, _MOST = Decimal("0.1"), Decimal(1000)
"""10⁻⁶ per °C; no part is made of anything beyond. Catches 0.0000115 for 11.5."""


def read_expansion(table: Table, unit: str) -> Expansion | None:
    """The expansion of the characteristic in ``table``; None where the file is silent."""
    written = table.table("expansion", KEYS)
    if written is None:
        return None
    found = Expansion(
        temperature=written.word("temperature"),
        coefficient=written.number("coefficient"),
        coefficient_uncertainty=written.optional_number("coefficient_uncertainty"),
    )
    if written.sound and not _LEAST <= found.coefficient <= _MOST:
        message = f"{found.coefficient:f} is out of range: the unit is 10⁻⁶ per °C"
        written.problem("coefficient", message, 'write it in millionths, as "11.5"')
    spread = found.coefficient_uncertainty
    if spread is not None and written.sound and not 0 <= spread < found.coefficient:
        message = f"a standard uncertainty of {spread:f} is out of range"
        mend = 'write it in 10⁻⁶ per °C as well, less than the coefficient, as "0.5"'
        written.problem("coefficient_uncertainty", message, mend)
    if unit and dimension(unit) != "length":
        message = f"only a length expands with temperature; this is in {unit}"
        table.problem("expansion", message, "remove it")
    if not written.sound:
        table.sound = False
    return found


def check_expansion(
    table: Table, size: Characteristic, sizes: Collection[Characteristic], parts: Collection[Part]
) -> None:
    """The temperature it names must be one, of a part that stands where the size is."""
    if size.expansion is None:
        return
    written = table.table("expansion", KEYS)
    assert written is not None
    found = sizes.find(written, "temperature", size.expansion.temperature)
    if found is None:
        return
    if dimension(found.unit) != "temperature":
        message = f'"{found.id}" is no temperature: it is in {found.unit}'
        known = [id_ for id_, one in sizes.sound.items() if dimension(one.unit) == "temperature"]
        mend = f'write "{known[0]}"' if len(known) == 1 else 'name a characteristic in "°C"'
        written.problem("temperature", message, mend)
        return
    own, other = parts.sound.get(size.part), parts.sound.get(found.part)
    if own is not None and other is not None:
        message, mend = apart(own, other)
        if message:
            written.problem("temperature", message, mend)

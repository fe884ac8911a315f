"""Which characteristic of a device carries its readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from capture.errors import TransportError, UnitError
from capture.quantity import dimension
from drivers.ble.numbers import MEASUREMENTS
from drivers.decoding.gatt import GattDecoding


class Offered(NamedTuple):
    """One characteristic a device offers."""

    handle: int
    uuid: str
    notifies: bool
    writes: bool
    description: bytes | None
    """Its 0x2904 descriptor, where it has one."""


def readable(offered: Sequence[Offered]) -> Mapping[int, GattDecoding]:
    """The notifying characteristics whose values can be read without a profile, by handle."""
    found: dict[int, GattDecoding] = {}
    for one in offered:
        if not one.notifies:
            continue
        standard = MEASUREMENTS.get(one.uuid)
        if standard is not None:
            found[one.handle] = standard
        elif one.description is not None:
            try:
                found[one.handle] = GattDecoding.described(one.description)
            except ValueError:
                continue
    return found


def measuring(
    device: str, offered: Sequence[Offered], unit: str, uuid: str | None
) -> tuple[Offered, GattDecoding]:
    """The characteristic that measures what ``unit`` is a unit of, and how it is read.

    ``uuid`` names it where there are several. Raises ``TransportError`` where there is none.
    """
    known = readable(offered)
    fits = [
        one
        for one in offered
        if one.handle in known
        and (uuid is None or one.uuid == uuid)
        and _measures(known[one.handle]) == dimension(unit)
    ]
    if len(fits) == 1:
        return fits[0], known[fits[0].handle]
    if fits:
        raise TransportError(
            f"{device} has several characteristics in a unit like {unit}: "
            + ", ".join(one.uuid for one in fits),
            port=device,
            mend='name one in the [[port]] table, like notify = "…"',
        )
    raise TransportError(
        f"{device} offers nothing that describes itself in a unit like {unit}",
        port=device,
        mend="check the instrument's unit in bench.toml, or name a profile for its messages and "
        "the characteristic that sends them (notify in its [[port]] table)",
    )


def sending(
    device: str, offered: Sequence[Offered], notify: str | None, write: str | None
) -> tuple[Offered, Offered | None]:
    """The characteristics of a device read by a profile: one that sends, one that is written."""
    senders = [one for one in offered if one.notifies and notify in (None, one.uuid)]
    if len(senders) != 1:
        among = ", ".join(one.uuid for one in offered if one.notifies) or "none"
        raise TransportError(
            f"{device}: it cannot be told which characteristic sends (it has {among})",
            port=device,
            mend='name it in the [[port]] table, like notify = "…"',
        )
    if write is None:
        return senders[0], None
    written = [one for one in offered if one.writes and one.uuid == write]
    if len(written) != 1:
        among = ", ".join(one.uuid for one in offered if one.writes) or "none"
        raise TransportError(
            f"{device} has no characteristic {write} to write to (it has {among})",
            port=device,
            mend="correct write in the [[port]] table",
        )
    return senders[0], written[0]


def _measures(decoding: GattDecoding) -> str | None:
    try:
        return dimension(decoding.unit_name or "")
    except UnitError:
        return None

"""Which instruments of bench.toml are on which port, and what does not fit together there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from drivers.adapters.port import Port
from drivers.bench_spelling import spelled
from drivers.bench_tables import InstrumentRow, PortRow
from drivers.decoding.message import plain_channel
from drivers.keys.address import is_keys
from drivers.keys.names import TYPES, changes_of
from drivers.profiles.profile import Profile
from drivers.toml_file import all_near
from drivers.transports.settings import PortSettings, is_com

TYPED: Final = "typed"
"""The port of an instrument whose readings a person types in."""


def join(
    rows: list[InstrumentRow], ports: list[PortRow], profiles: Mapping[str, Profile]
) -> tuple[Port, ...]:
    """The ports with the instruments on them; what does not fit together is noted."""
    known = {row.id: row for row in ports if row.id is not None}
    devices = {row.device: row for row in ports if row.device is not None}
    groups: dict[str, list[InstrumentRow]] = {}
    alone: list[InstrumentRow] = []
    unknown: list[tuple[InstrumentRow, str]] = []
    used: set[str | None] = set()
    misnamed = [row.table.raw("id") for row in ports if row.id is None]
    for row in rows:
        name = row.port if row.port is None or row.port in known else spelled(row.port)
        if name is None:
            alone.append(row)
        elif name in known or name in devices:
            port = known.get(name) or devices[name]
            used.add(port.id)
            groups.setdefault(port.id or name, []).append(row)
        elif is_bare(name):
            alone.append(row)
            if name not in misnamed:  # else what is wrong with the port has been noted
                unknown.append((row, name))
        elif name != TYPED:
            groups.setdefault(name, []).append(row)
    likely = [_unknown(row, name, known, used) for row, name in unknown]
    # an instrument whose port cannot be told may belong on any of them
    if all(likely) and all(row.port is not None for row in rows):
        _note_unused(ports, used.union(*likely))
    for row in alone:
        _one_profile([row], profiles)
    joined = [_joined(name, group, known.get(name), profiles) for name, group in groups.items()]
    return tuple(port for port in joined if port is not None)


def is_bare(port: str) -> bool:
    """Whether ``port`` can only be the id of a ``[[port]]``: it is no device, path or URL."""
    return port != TYPED and not is_com(port) and not any(mark in port for mark in "/\\:")


def _unknown(
    row: InstrumentRow, port: str, known: Mapping[str, PortRow], used: set[str | None]
) -> list[str]:
    """Notes a port that is none, and gives the ids that may have been meant."""
    close = all_near(port, [*known, TYPED])
    near = next((name for name in close if name not in used), close[0] if close else None)
    there = f"the ids of the [[port]] tables are {', '.join(known)}" if known else ""
    device = "write a device, like /dev/ttyUSB0 or COM3, or add a [[port]] with this id"
    guess = f"did you mean {near}?" if near else ""
    mend = f"{guess} {'; '.join(filter(None, (there, device)))}.".strip()
    row.table.problem("port", f"{port!r} is neither the id of a [[port]] nor a device.", mend)
    return close


def _note_unused(ports: list[PortRow], used: set[str | None]) -> None:
    for port in ports:
        if port.id is not None and port.id not in used:
            port.table.problem("id", "no instrument is on this port.", "take it away, or use it.")


def _joined(
    name: str, group: list[InstrumentRow], row: PortRow | None, profiles: Mapping[str, Profile]
) -> Port | None:
    profile = _one_profile(group, profiles)
    if profile is None:
        return None
    poll = row.poll_seconds if row else None
    if row and poll is not None and profile.request is None:
        message = f"the profile {profile.name} has no request, so nothing can be asked."
        row.table.problem("poll_seconds", message, "take it away, or add a [request].")
    settings = row.settings if row else PortSettings(name, name)
    if settings is not None and is_keys(settings.device):
        _check_keys(group, settings, profile)
    members = tuple(member.instrument for member in group if member.instrument is not None)
    return None if settings is None else Port(settings, profile, members, poll)


def _check_keys(group: list[InstrumentRow], settings: PortSettings, profile: Profile) -> None:
    """What an instrument that types cannot do: be asked, and end its messages with any byte."""
    table, name = group[0].table, profile.name
    if profile.request is not None:
        message = f"the profile {name} has a request, and an instrument that types takes none."
        table.problem("profile", message, "choose a profile without a request.")
    if profile.stream is not None:
        message = f"the profile {name} is of a stream of samples, and none is typed."
        table.problem("profile", message, "choose a profile whose messages are presses.")
    typed = {**TYPES, **changes_of(settings.keys)}.values()
    letters = {letter.encode() for letter in typed}
    ends = profile.framing.terminators
    if ends and not any(end in letters for end in ends):
        message = f"no key types what ends a message of the profile {name}: Enter is \\n here."
        mend = 'add "\\n" to its terminators, or a line keys = { enter = "\\r" } to its [[port]].'
        table.problem("profile", message, mend)


def _one_profile(group: list[InstrumentRow], profiles: Mapping[str, Profile]) -> Profile | None:
    """The profile of a port's instruments, held against their channels; None where unknown."""
    first = next((row for row in group if row.profile is not None), group[0])
    for row in group:
        if row.profile not in (None, first.profile):
            message = f"is on the same port as {first.name}, with another profile."
            row.table.problem("profile", message, "one port has one profile.")
    profile = profiles.get(first.profile) if first.profile is not None else None
    if profile is not None:
        _check_channels(group, profile)
    return profile


def _check_channels(group: list[InstrumentRow], profile: Profile) -> None:
    seen: dict[str, InstrumentRow] = {}
    asked = profile.request is not None and b"{channel}" in profile.request.send
    for row in group:
        channel = row.channel
        if channel is None:
            if "channel" in row.table:  # what is wrong with it has been noted
                continue
            if profile.has_channels or asked:
                message = f"the profile {profile.name} tells instruments apart by channel."
                row.table.problem("channel", message, 'add a line like channel = "1".')
            elif len(group) > 1 and row is not group[0]:
                message = f"is on the same port as {group[0].name}."
                row.table.problem("port", message, "give it a port of its own.")
            continue
        if not profile.has_channels and not asked:
            message = f"the profile {profile.name} has no channels."
            row.table.problem("channel", message, "take it away, or choose another profile.")
        other = seen.setdefault(plain_channel(channel), row)
        if other is not row:
            message = f"{channel} is already the channel of {other.name}."
            row.table.problem("channel", message, "give each instrument a channel of its own.")

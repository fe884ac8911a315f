"""bench.toml: the instruments on this bench and how they are connected.

::

    title = "Bench by the window"

    [[instrument]]
    id = "bore-gauge-1"          # letters, digits, - and _
    kind = "bore-gauge"          # a word of the trade; specs ask by it
    port = "/dev/ttyUSB0"        # device path, COM name, socket://host:port, rfc2217://host:port,
                                 # the id of a [[port]], or "typed" where a person types readings in
    profile = "decimal-line"     # a shipped profile, or a file beside this one
    unit = "mm"
    resolution = "0.001"         # decimals in quotes, so that their digits stay as written
    channel = "1"                # where the port carries several instruments
    range = ["-1.000", "1.000"]
    comparative = true
    simulated = true
    calibration = { certificate = "…", due = "2027-06-30",
                    expanded_uncertainty = "0.002", coverage_factor = "2" }   # on one line

    [[port]]                     # only where 9600 baud, 8 bits, no parity, 1 stop bit do not fit
    id = "cable-1"
    device = "/dev/ttyUSB0"      # or url = "socket://…"
    usb_serial = "A1B2"          # finds the cable when its name changes
    baud = 9600
    data_bits = 8
    parity = "none"              # none, even, odd
    stop_bits = 1                # 1, 1.5 or 2
    dtr = true
    rts = true
    poll_seconds = "0.5"         # ask the instruments by themselves, where they must be asked

Every problem in the file and in the profiles it names is reported at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from capture.errors import BenchError, Problem
from capture.instrument import Instrument
from drivers.adapters.port import Port
from drivers.bench_tables import InstrumentRow, PortRow, read_instruments, read_ports
from drivers.decoding.message import plain_channel
from drivers.profiles.load import load_profile, load_shipped, shipped_names
from drivers.profiles.profile import Profile
from drivers.toml_file import Document
from drivers.transports.settings import PortSettings

TYPED = "typed"
"""The port of an instrument whose readings a person types in."""


@dataclass(frozen=True, slots=True)
class Bench:
    """What bench.toml says."""

    title: str
    instruments: tuple[Instrument, ...]
    profiles: Mapping[str, Profile]
    """By the name the instruments use."""
    ports: tuple[Port, ...]
    """What is to be opened; typed-in instruments are on none."""


def load_bench(path: Path) -> Bench:
    """The bench in the file; raises ``BenchError`` with every problem in it and its profiles."""
    try:
        text = path.read_text("utf-8")
    except OSError as error:
        message = f"cannot be read: {error.strerror}."
        raise BenchError([Problem(str(path), 0, "", message, "check its name.")]) from error
    except UnicodeDecodeError as error:
        problem = Problem(str(path), 0, "", "is not UTF-8 text.", "save it as UTF-8.")
        raise BenchError([problem]) from error
    return parse_bench(text, str(path), path.parent)


def parse_bench(text: str, file: str, folder: Path) -> Bench:
    """The bench in ``text``; profile files are looked for in ``folder``."""
    document = Document(text, file)
    if document.problems:
        raise BenchError(document.problems)
    title = document.root.text("title", "Bench")
    ports = read_ports(document.root)
    rows = read_instruments(document.root)
    document.root.close()
    profiles = _profiles(document, rows, folder)
    joined = _join(rows, ports, profiles)
    if document.problems:
        raise BenchError(document.problems)
    return Bench(title, tuple(row.instrument for row in rows), profiles, joined)


def _profiles(document: Document, rows: list[InstrumentRow], folder: Path) -> dict[str, Profile]:
    """Every profile the instruments name, loaded once; problems in them are noted too."""
    found: dict[str, Profile] = {}
    failed: set[str] = set()
    for row in rows:
        name = row.instrument.profile
        if row.instrument.port == TYPED or name in found or name in failed:
            continue
        try:
            found[name] = _profile(name, folder)
        except BenchError as error:
            failed.add(name)
            message = f"the profile {name!r} cannot be used; what is wrong with it is listed too."
            mend = f"correct it, or name one of {', '.join(shipped_names())}."
            row.table.problem("profile", message, mend)
            document.problems.extend(error.problems)
    return found


def _profile(name: str, folder: Path) -> Profile:
    if name in shipped_names():
        return load_shipped(name)
    return load_profile(folder / name, name)


def _join(
    rows: list[InstrumentRow], ports: list[PortRow], profiles: Mapping[str, Profile]
) -> tuple[Port, ...]:
    """The ports with the instruments on them; what does not fit together is noted."""
    known = {row.settings.id: row for row in ports}
    devices = {row.settings.device: row for row in ports}
    groups: dict[str, list[InstrumentRow]] = {}
    for row in rows:
        name = row.instrument.port
        if name != TYPED:
            port = known.get(name) or devices.get(name)
            groups.setdefault(port.settings.id if port else name, []).append(row)
    for port in ports:
        if port.settings.id not in groups:
            port.table.problem("id", "no instrument is on this port.", "take it away, or use it.")
    joined = []
    for name, group in groups.items():
        profile = _one_profile(group, profiles)
        if profile is not None:
            _check_channels(group, profile)
            joined.append(_port(name, group, known.get(name), profile))
    return tuple(joined)


def _port(name: str, group: list[InstrumentRow], row: PortRow | None, profile: Profile) -> Port:
    poll = row.poll_seconds if row else None
    if row and poll is not None and profile.request is None:
        message = f"the profile {profile.name} has no request, so nothing can be asked."
        row.table.problem("poll_seconds", message, "take it away, or add a [request].")
    settings = row.settings if row else PortSettings(name, name)
    return Port(settings, profile, tuple(member.instrument for member in group), poll)


def _one_profile(group: list[InstrumentRow], profiles: Mapping[str, Profile]) -> Profile | None:
    first = group[0].instrument.profile
    for row in group[1:]:
        if row.instrument.profile != first:
            message = f"is on the same port as {group[0].instrument.id}, with another profile."
            row.table.problem("profile", message, "one port has one profile.")
    return profiles.get(first)


def _check_channels(group: list[InstrumentRow], profile: Profile) -> None:
    seen: dict[str, str] = {}
    asked = profile.request is not None and b"{channel}" in profile.request.send
    for row in group:
        channel = row.instrument.channel
        if channel is None:
            if profile.has_channels or asked:
                message = f"the profile {profile.name} tells instruments apart by channel."
                row.table.problem("channel", message, 'add a line like channel = "1".')
            elif len(group) > 1 and row is not group[0]:
                message = f"is on the same port as {group[0].instrument.id}."
                row.table.problem("port", message, "give it a port of its own.")
            continue
        if not profile.has_channels and not asked:
            message = f"the profile {profile.name} has no channels."
            row.table.problem("channel", message, "take it away, or choose another profile.")
        other = seen.setdefault(plain_channel(channel), row.instrument.id)
        if other != row.instrument.id:
            message = f"{channel} is already the channel of {other}."
            row.table.problem("channel", message, "give each instrument a channel of its own.")

"""bench.toml: the instruments on this bench and how they are connected.

::

    title = "Bench by the window"

    [[instrument]]
    id = "bore-gauge-1"          # letters, digits, - and _
    kind = "bore-gauge"          # a word of the trade; specs ask by it
    port = "/dev/ttyUSB0"        # device path, COM name, socket://host:port, rfc2217://host:port,
                                 # ble://ADDRESS or ble://name (Bluetooth),
                                 # /dev/input/by-id/…-event-kbd or keys:NAME (it types; Linux),
                                 # the id of a [[port]], or "typed" where a person types readings in
    profile = "decimal-line"     # a shipped profile, or a file beside this one; not needed where
                                 # a Bluetooth instrument describes its values itself
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
    notify = "…"                 # Bluetooth: UUID of the characteristic that sends, if several do
    write = "…"                  # Bluetooth: UUID of the one that requests are written to
    silence_seconds = "10"       # Bluetooth: then it is asked whether it is still there
    keys = { "/" = "-" }         # it types: the keys that mean something else than on a keyboard
                                 # of the United States; "shift+1" = "1" with shift held

    [[pedal]]                    # a foot pedal, or a key of a device that does nothing else; Linux
    device = "/dev/input/by-id/…-event-kbd"      # or "keys:NAME"
    key = "f13"                  # left out: any key of it; with it, one device has several pedals
    does = "send"                # send: asks a gauge for its reading; confirm: confirms the step
                                 # that waits; void: takes the last reading out of the count
    instrument = "bore-gauge-1"  # send: which one; left out: the one that suits the waiting step
    id = "left"                  # what news of it call it; left out: pedal-1, pedal-2, …

    [[operator]]                 # who works here: no account, a name that entries bear
    name = "first shift"         # initials or a name of the shift
    badge = "OP-0017"            # what a badge scanner types, without its Enter; left out: none

    [[badge_reader]]             # a badge scanner that acts as a keyboard; Linux
    device = "/dev/input/by-id/…-event-kbd"      # or "keys:NAME"
    id = "door-side"             # left out: badge-reader-1, badge-reader-2, …
    keys = { "/" = "-" }         # as in [[port]]

Every problem in the file and in the profiles it names is reported at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from capture.errors import BenchError, Problem
from capture.instrument import Instrument
from drivers.adapters.port import Port
from drivers.bench_join import TYPED, join
from drivers.bench_operators import Operator, read_badge_readers, read_operators
from drivers.bench_pedals import read_pedals
from drivers.bench_tables import InstrumentRow, read_instruments, read_ports
from drivers.ble.address import is_ble
from drivers.ble.described import DESCRIBED
from drivers.keys.badge import BadgeReader
from drivers.keys.pedal import Pedal
from drivers.profiles.load import load_profile, load_shipped, other_profiles, shipped_names
from drivers.profiles.profile import Profile
from drivers.toml_file import Document

__all__ = ["TYPED", "Bench", "load_bench", "parse_bench"]


@dataclass(frozen=True, slots=True)
class Bench:
    """What bench.toml says."""

    title: str
    instruments: tuple[Instrument, ...]
    profiles: Mapping[str, Profile]
    """By the name the instruments use."""
    ports: tuple[Port, ...]
    """What is to be opened; typed-in instruments are on none."""
    pedals: tuple[Pedal, ...] = ()
    """In their order; those of one device share it."""
    operators: tuple[Operator, ...] = ()
    badge_readers: tuple[BadgeReader, ...] = ()


def load_bench(path: Path) -> Bench:
    """The bench in the file; raises ``BenchError`` with every problem in it and its profiles."""
    try:
        text = path.read_text("utf-8")
    except OSError as error:
        message = f"cannot be read: {error.strerror}."
        raise BenchError([Problem(str(path), 0, "file", message, "check its name.")]) from error
    except UnicodeDecodeError as error:
        problem = Problem(str(path), 0, "encoding", "is not UTF-8 text.", "save it as UTF-8.")
        raise BenchError([problem]) from error
    return parse_bench(text, str(path), path.parent)


def parse_bench(text: str, file: str, folder: Path) -> Bench:
    """The bench in ``text``; profile files are looked for in ``folder``."""
    document = Document(text, file)
    if document.problems:
        raise BenchError(document.problems)
    title = document.root.text("title", "Bench")
    ports = read_ports(document.root)
    radios = {row.id for row in ports if row.device is not None and is_ble(row.device)}
    rows = read_instruments(document.root, radios)
    pedal_tables = document.root.tables("pedal")
    operators = read_operators(document.root.tables("operator"))
    reader_tables = document.root.tables("badge_reader")
    document.root.close()
    profiles = _profiles(document, rows, folder)
    joined = join(rows, ports, profiles)
    pedals = read_pedals(pedal_tables, rows, ports, profiles)
    taken = {row.port for row in rows} | {row.device for row in ports}
    taken |= {pedal.device for pedal in pedals}
    readers = read_badge_readers(reader_tables, operators, taken)
    if document.problems:
        raise BenchError(document.problems)
    instruments = tuple(row.instrument for row in rows if row.instrument is not None)
    assert len(instruments) == len(rows), "what is left out has had its problem noted"
    return Bench(title, instruments, profiles, joined, pedals, operators, readers)


def _profiles(document: Document, rows: list[InstrumentRow], folder: Path) -> dict[str, Profile]:
    """Every profile the instruments name, loaded once; problems in them are noted too."""
    found: dict[str, Profile] = {}
    failed: set[str] = set()
    for row in rows:
        name = row.profile
        if name is None or row.port == TYPED or name in found or name in failed:
            continue
        if name == DESCRIBED.name:
            found[name] = DESCRIBED
            continue
        if name not in shipped_names() and not (folder / name).exists():
            failed.add(name)
            message = (
                f"the profile {name!r} cannot be used: it is not shipped, and no file is there."
            )
            row.table.problem("profile", message, other_profiles(name))
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

"""The ``[[instrument]]`` and ``[[port]]`` tables of bench.toml."""

from __future__ import annotations

import datetime
import re
from collections.abc import Collection
from decimal import Decimal
from typing import NamedTuple

from capture.errors import UnitError
from capture.instrument import Calibration, Instrument
from capture.quantity import unit_name
from drivers.bench_spelling import spelled
from drivers.ble.address import is_ble, target
from drivers.ble.described import DESCRIBED
from drivers.keys.address import is_keys, name_in
from drivers.keys.names import changes_of
from drivers.toml_file import Table, as_decimal, comma
from drivers.transports.settings import PortSettings

_ID = re.compile(r"[A-Za-z0-9_-]{1,64}")
_WORD = re.compile(r"[a-z0-9][a-z0-9 -]{0,63}")
_URL = re.compile(r"(?:socket|rfc2217)://(?:[^/:@?\s]+|\[[0-9A-Fa-f:.]+\]):[0-9]{1,5}(?:[/?]\S*)?")
_KNOWN_SCHEMES = "socket:// or rfc2217://"
_UUID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")


class InstrumentRow(NamedTuple):
    """One instrument and where it stands in the file. What could not be read is None, so that the
    rest of it can be judged all the same."""

    id: str | None
    port: str | None
    profile: str | None
    channel: str | None
    instrument: Instrument | None
    """None where anything needed is."""
    table: Table

    @property
    def name(self) -> str:
        """Its id, or its place in the file."""
        return self.id or f"instrument number {int(self.table.path[-1]) + 1}"


class PortRow(NamedTuple):
    """One port and where it stands in the file."""

    id: str | None
    device: str | None
    settings: PortSettings | None
    """None where the id or the device is."""
    poll_seconds: float | None
    table: Table


def read_instruments(root: Table, radios: Collection[str | None] = ()) -> list[InstrumentRow]:
    """The instruments, whose problems are noted; ``radios`` are the ids of ``ble://`` ports."""
    root.required_table("instrument", many=True)
    rows: list[InstrumentRow] = []
    for table in root.tables("instrument"):
        row = _instrument(table, radios)
        table.close()
        if row.id is not None and any(other.id == row.id for other in rows):
            message = f"{row.id} is already the id of another instrument."
            table.problem("id", message, "give each an id of its own.")
        rows.append(row)
    return rows


def read_ports(root: Table) -> list[PortRow]:
    """The ports, whose problems are noted."""
    rows: list[PortRow] = []
    for table in root.tables("port"):
        row = _port(table)
        table.close()
        if row.id is not None and any(other.id == row.id for other in rows):
            table.problem("id", f"{row.id} is already a port's id.", "choose another.")
        elif row.device is not None:
            same = next((other for other in rows if other.device == row.device), None)
            if same is not None:
                message = f"{row.device} is already the device of {same.id or 'another port'}."
                key = "device" if "device" in table else "url"
                table.problem(key, message, "put its instruments on one port.")
        rows.append(row)
    return rows


def _instrument(table: Table, radios: Collection[str | None]) -> InstrumentRow:
    port = table.text("port", None)
    radio = port is not None and (is_ble(port) or port in radios)
    needed = ("id", "kind", "port", "unit", "resolution")
    table.required(*needed, *(() if port == "typed" or radio else ("profile",)))
    name = _matching(table, "id", _ID, "letters, digits, - and _ alone")
    kind = _matching(table, "kind", _WORD, "a small word of the trade, like bore-gauge")
    if port is not None and not _address(table, "port", port):
        port = None
    usual = "typed" if port == "typed" else DESCRIBED.name if radio else None
    profile = table.text("profile", usual)
    if profile == DESCRIBED.name and port is not None and not radio:
        message = "only what is connected by Bluetooth describes itself."
        table.problem("profile", message, "name the profile of its messages.")
    unit = _unit(table)
    resolution = table.decimal("resolution", None, above="0")
    channel = table.text("channel", None, 'write it in quotes, like "1".')
    limits = _range(table)
    comparative, simulated = table.flag("comparative", False), table.flag("simulated", False)
    calibration = _calibration(table)
    leaves = _leaves(table)
    expansion = table.decimal("expansion", None, above="0")
    repeatability = table.decimal("repeatability", None, above="0")
    drift = table.decimal("drift", None, above="0")
    instrument = None
    if name and kind and port and profile and unit and resolution:
        instrument = Instrument(
            id=name,
            kind=kind,
            unit=unit,
            resolution=resolution,
            port=port,
            profile=profile,
            channel=channel,
            range=limits,
            comparative=comparative,
            simulated=simulated,
            calibration=calibration,
            leaves=leaves,
            expansion=expansion,
            repeatability=repeatability,
            drift=drift,
        )
    return InstrumentRow(name, port, profile, channel, instrument, table)


def _matching(table: Table, key: str, pattern: re.Pattern[str], made_of: str) -> str | None:
    value = table.text(key, None)
    if value is None or pattern.fullmatch(value):
        return value
    table.problem(key, f"{value!r} is not made of {made_of}.", f"write {made_of}.")
    return None


def _address(table: Table, key: str, device: str) -> bool:
    """Whether a port may be opened there; notes it where not."""
    if not device.strip():
        table.problem(key, "is empty.", 'write a device, like "/dev/ttyUSB0" or "COM3".')
        return False
    if is_ble(device):
        return _radio(table, key, device)
    if name_in(device) == "":
        mend = 'write it as the device reports it, like "keys:Gauge Keyboard".'
        table.problem(key, "names no device.", mend)
        return False
    if "://" in device and not _URL.fullmatch(device):
        message = f"{device!r} is no address a port can be opened at."
        table.problem(key, message, f"write {_KNOWN_SCHEMES}host:port.")
        return False
    return True


def _radio(table: Table, key: str, device: str) -> bool:
    try:
        target(device)
    except ValueError as error:
        table.problem(key, f"{error}.", "write the address or the name the device sends.")
        return False
    return True


def _uuid(table: Table, key: str, radio: bool) -> str | None:
    """A characteristic, in small letters as the library writes it."""
    value = table.text(key, None)
    if value is None:
        return None
    if not radio:
        table.problem(key, "only a ble:// port has characteristics.", "take it away.")
    elif not _UUID.fullmatch(value.lower()):
        table.problem(key, f"{value!r} is no UUID.", "write all 32 digits with their dashes.")
    return value.lower()


def _unit(table: Table) -> str | None:
    word = table.text("unit", None)
    if word is None:
        return None
    try:
        return unit_name(word)
    except UnitError as error:
        table.problem("unit", f"{error}", "name a unit known here, like mm, in or N·m.")
        return None


def _range(table: Table) -> tuple[Decimal, Decimal] | None:
    mend = 'write the smallest and the largest value, like ["-1.000", "1.000"].'
    values = table.items("range", [], mend)
    if not values:
        return None
    for value in values:
        if isinstance(value, str) and "," in value:
            table.problem("range", *comma(value))
            return None
    ends = [as_decimal(value) for value in values]
    if len(ends) == 2:
        low, high = ends
        if low is not None and high is not None and low < high:
            return low, high
    table.problem("range", f"{values} are not two numbers in quotes, the smaller first.", mend)
    return None


def _leaves(table: Table) -> tuple[Decimal, ...]:
    """The leaves of a feeler set, in the order of the fan."""
    mend = 'list them in the order of the fan, like ["0.05", "0.10", "0.15"].'
    found = []
    for value in table.items("leaves", [], mend):
        if isinstance(value, str) and "," in value:
            table.problem("leaves", *comma(value))
            return ()
        leaf = as_decimal(value)
        if leaf is None or leaf <= 0:
            table.problem("leaves", f"{value!r} is no thickness of a leaf.", mend)
            return ()
        found.append(leaf)
    return tuple(found)


def _calibration(table: Table) -> Calibration | None:
    inner = table.table("calibration")
    if inner is None:
        return None
    inner.required("certificate", "due", "expanded_uncertainty", "coverage_factor")
    certificate = inner.text("certificate", None)
    due = _date(inner)
    uncertainty = inner.decimal("expanded_uncertainty", None, above="0")
    factor = inner.decimal("coverage_factor", None, low="1")
    inner.close()
    if certificate is None or due is None or uncertainty is None or factor is None:
        return None
    return Calibration(certificate, due, uncertainty, factor)


def _date(table: Table) -> str | None:
    value = table.raw("due")
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value.isoformat()
    if value is None:
        return None
    try:
        return datetime.date.fromisoformat(value).isoformat()
    except (TypeError, ValueError):
        table.problem("due", f"{value!r} is no date.", 'write it like "2027-06-30".')
        return None


def _port(table: Table) -> PortRow:
    table.required("id")
    name = _matching(table, "id", _ID, "letters, digits, - and _ alone")
    device = table.text("device", None)
    url = table.text("url", None)
    if (device is None) == (url is None) and ("device" in table) == ("url" in table):
        table.problem("device", "there must be a device or a url.", "write one of the two.")
    where = device or url
    if where is not None and not _address(table, "url" if device is None else "device", where):
        where = None
    where = where and spelled(where)
    settings = {
        "usb_serial": table.text("usb_serial", None),
        "baud": table.integer("baud", 9600, 50, 12_000_000),
        "data_bits": table.choice("data_bits", 8, (5, 6, 7, 8)),
        "parity": table.choice("parity", "none", ("none", "even", "odd")),
        "stop_bits": table.choice("stop_bits", 1, (1, 1.5, 2)),
        "dtr": table.flag("dtr", True),
        "rts": table.flag("rts", True),
    }
    radio = where is not None and is_ble(where)
    settings["notify"] = _uuid(table, "notify", radio)
    settings["write"] = _uuid(table, "write", radio)
    if radio or "silence_seconds" in table:
        settings["silence_seconds"] = float(table.decimal("silence_seconds", Decimal(10), low="1"))
    settings["keys"] = _keys(table, where is not None and is_keys(where))
    poll = table.decimal("poll_seconds", None, low="0.01")
    row = None
    if name is not None and where is not None:
        row = PortSettings(id=name, device=where, **settings)
    return PortRow(name, where, row, None if poll is None else float(poll), table)


def _keys(table: Table, typing: bool) -> tuple[tuple[str, str], ...]:
    if not typing and table.texts("keys"):
        table.problem("keys", "only a port in /dev/input/ or keys:NAME types.", "take it away.")
        return ()
    return keys_changed(table)


def keys_changed(table: Table) -> tuple[tuple[str, str], ...]:
    """The keys that type something of their own on what this table is about."""
    found = tuple(table.texts("keys").items())
    try:
        changes_of(found)
    except ValueError as error:
        mend = 'write a key and a character, like { "/" = "-", "shift+1" = "1" }.'
        table.problem("keys", f"{error}.", mend)
        return ()
    return found

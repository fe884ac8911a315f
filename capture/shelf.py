"""The instruments of a bench as they stand: their records, what they were set on, their zeros, the
extensions on them, how warm they are. The part of the folded state that no build owns."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

from capture.correlation import Shared
from capture.entry import Envelope
from capture.evaluate import standard_uncertainty
from capture.extension import Extension
from capture.instrument import Instrument
from capture.quantity import brief, convert, dimension, unit_step
from capture.uncertainty import Setting
from capture.way import Key, Way
from capture.zero import ZeroSet


class Record(NamedTuple):
    """An instrument's current record."""

    seq: int
    instrument: Instrument


class SettingRecord(NamedTuple):
    """A comparative gauge's current setting."""

    seq: int
    setting: Setting
    at: str
    from_record: int | None = None
    """Record of the instrument it was set from, where that was no standard of its own."""


class ExtensionRecord(NamedTuple):
    """The offset extension on a torque tool."""

    seq: int
    extension: Extension


class WarmthRecord(NamedTuple):
    """How warm an instrument was found."""

    seq: int
    celsius: Decimal
    u: float | None
    """Standard uncertainty, °C."""
    at: str


UNCLOSED_MOST = 20
"""Of each gauge, the newest."""


class Shelf:
    """See the module. Its ``_on_…`` take the entry and its body as they are folded in."""

    def __init__(self) -> None:
        self.instruments: dict[str, Record] = {}
        self.settings: dict[str, SettingRecord] = {}
        self.records_by_seq: dict[int, Record] = {}
        self.settings_by_seq: dict[int, SettingRecord] = {}
        """Earlier ones too: what is decided later on a press goes by those at the press."""
        self.extensions: dict[str, ExtensionRecord] = {}
        self.extensions_by_seq: dict[int, ExtensionRecord] = {}
        self.extensions_of: dict[str, dict[Extension, None]] = {}
        """Every extension that was ever on a tool, once."""
        self.standards: dict[tuple[Decimal, str], Setting] = {}
        """Every size that a gauge of this bench was set on, by size and unit."""
        self.warmths: dict[str, WarmthRecord] = {}
        self.warmths_by_seq: dict[int, WarmthRecord] = {}
        self.zeros: dict[str, ZeroSet] = {}
        """The open set of each comparative gauge that was set."""
        self.unclosed: dict[str, deque[tuple[int, int, ZeroSet]]] = {}
        """(opened, set again, the set) of gauges that were set anew without a closing check."""
        self.zeros_due: dict[str, int] = {}
        """Instruments whose next press is their zero check, and the entry that says so."""
        self.drifted: dict[int, dict[str, Any]] = {}
        """Press → the drift found over its set."""
        self._shared: dict[tuple[int, int, str], Shared] = {}
        self.ways: dict[Key, Way] = {}
        """Kept by ``capture.decide``; emptied when an instrument or a setting changes."""

    def _on_instrument(self, entry: Envelope, body: dict[str, Any]) -> None:
        record = Record(entry["seq"], Instrument.from_body(body))
        self.instruments[body["id"]] = self.records_by_seq[record.seq] = record
        self.ways.clear()

    def _on_setting(self, entry: Envelope, body: dict[str, Any]) -> None:
        expanded, coverage = body["expanded_uncertainty"], body["coverage_factor"]
        setting = Setting(
            body["standard"],
            Decimal(body["size"]),
            body["unit"],
            None if expanded is None else Decimal(expanded),
            None if coverage is None else Decimal(coverage),
        )
        record = SettingRecord(entry["seq"], setting, entry["at"], body.get("from_record"))
        self.standards[setting.size, setting.unit] = setting
        name = body["instrument"]
        self.settings[name] = self.settings_by_seq[record.seq] = record
        before = self.zeros.get(name)
        if before is not None:
            # Readings of a set that no check has closed, and that none can close any more.
            self.unclosed.setdefault(name, deque(maxlen=UNCLOSED_MOST)).append(
                (before.opened, record.seq, before)
            )
        self.zeros[name] = ZeroSet(record.seq, Decimal(0), self.instruments[name].instrument.unit)
        self.ways.clear()

    def _on_zero_due(self, entry: Envelope, body: dict[str, Any]) -> None:
        self.zeros_due[body["instrument"]] = entry["seq"]

    def _on_temperature(self, entry: Envelope, body: dict[str, Any]) -> None:
        celsius = convert(Decimal(body["value"]), body["unit"], "°C")
        u = standard_uncertainty(body["expanded_uncertainty"], body["coverage_factor"])
        if u is not None and body["unit"] == "°F":
            u *= 5.0 / 9.0
        record = WarmthRecord(entry["seq"], Decimal(brief(celsius, 6)), u, entry["at"])
        self.warmths[body["instrument"]] = self.warmths_by_seq[record.seq] = record
        self.ways.clear()

    def _on_extension(self, entry: Envelope, body: dict[str, Any]) -> None:
        name = body["instrument"]
        tool, length, angle = (Decimal(body[key]) for key in ("tool_length", "length", "angle"))
        made = Extension(tool, length, angle, body["unit"])
        record = ExtensionRecord(entry["seq"], made)
        self.extensions_by_seq[record.seq] = record
        if made.length:
            self.extensions_of.setdefault(name, {})[made] = None
            self.extensions[name] = record
        else:
            self.extensions.pop(name, None)
        self.ways.clear()

    def shared(self, record: int, setting: int, unit: str) -> Shared:
        """What sizes taken with this instrument as set share, in ``unit``: its certificate, and
        the certificate of what it was set on."""
        key = (record, setting, unit)
        found = self._shared.get(key)
        if found is None:
            found = self._shared[key] = self._sources(record, setting, unit)
        return found

    def _sources(self, record: int, setting: int, unit: str) -> Shared:
        known = self.records_by_seq.get(record)
        if known is None or known.instrument.calibration is None:
            return ()
        if dimension(known.instrument.unit) != dimension(unit):
            return ()  # an angle by a torque tool: its certificate says nothing of it
        found = [certificate(known, unit)]
        kept = self.settings_by_seq.get(setting)
        if kept is not None and known.instrument.comparative:
            u = standard_uncertainty(
                *(
                    None if each is None else str(each)
                    for each in (kept.setting.expanded_uncertainty, kept.setting.coverage_factor)
                )
            )
            if u is not None:
                found += self._of_standard(
                    kept, u * float(unit_step(kept.setting.unit, unit)), unit
                )
        return tuple(found)

    def _of_standard(self, kept: SettingRecord, u: float, unit: str) -> list[tuple[str, float]]:
        """The standard's part: a standard of its own, or the instrument that it was set from and
        whose own sizes share its certificate."""
        origin = None if kept.from_record is None else self.records_by_seq.get(kept.from_record)
        if origin is None or origin.instrument.calibration is None:
            one = kept.setting
            return [(f"standard {one.standard} {one.size} {one.unit}", u)]
        name, certified = certificate(origin, unit)
        rest = math.sqrt(max(0.0, u * u - certified * certified))
        return [(name, min(u, certified)), (f"setting {kept.seq}", rest)]

    def _on_zero(self, body: dict[str, Any]) -> None:
        """A zero check closes one set and opens the next."""
        found, step = body["zero"], body["step"]
        name = self.records_by_seq[body["cites"]["instrument"]].instrument.id
        opened = self.zeros[name] = ZeroSet(
            body["press"], Decimal(found["deviation"]), found["unit"]
        )
        if step is not None:
            opened.steps.append((body["build"], step["id"]))

    def rejoin(self, instrument: str, presses: Iterable[int]) -> None:
        """The readings of an open set, after a start that did not fold them in."""
        kept = self.zeros.get(instrument)
        if kept is not None:
            kept.presses.clear()
            kept.presses.extend(presses)


def certificate(known: Record, unit: str) -> tuple[str, float]:
    """What an instrument's certificate leaves open, as a source that its sizes share."""
    calibration = known.instrument.calibration
    assert calibration is not None
    u = Fraction(calibration.expanded_uncertainty) / Fraction(calibration.coverage_factor)
    scale = unit_step(known.instrument.unit, unit)
    return f"certificate of {known.instrument.id} (entry {known.seq})", float(u * scale)

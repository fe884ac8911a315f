"""The life of an instrument: its certificates, what it was set on, its zero checks, the studies it
took part in, what its port lost. Plain data from entries; every list oldest first and bounded.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any, NamedTuple

from capture.entry import Envelope
from capture.errors import UnitError
from capture.quantity import convert, text

Data = dict[str, Any]

SOON_DAYS = 30
"""Within so many days a calibration is said to be due soon."""


class Entries(NamedTuple):
    """What is known of one instrument, each oldest first: the newest of each kind."""

    records: Sequence[Envelope]
    settings: Sequence[Envelope] = ()
    zeros: Sequence[Envelope] = ()
    """Decisions that are zero checks: these stand as they were made."""
    temperatures: Sequence[Envelope] = ()
    extensions: Sequence[Envelope] = ()
    trouble: Sequence[Envelope] = ()
    """What could not be read, and gaps, of the instrument or of its port."""
    decisions: Sequence[Envelope] = ()
    """Those that count for its newest presses, newest first."""


def standing(calibration: Data | None, today: date) -> Data:
    """Whether a calibration is in force: ``none``, ``overdue``, ``soon`` or ``valid``, and how many
    days are left (below zero: since when). Its due day is the last one on which it is valid."""
    if calibration is None:
        return {"state": "none", "days": None}
    try:
        days = (date.fromisoformat(calibration["due"]) - today).days
    except ValueError:
        return {"state": "unknown", "days": None}
    state = "overdue" if days < 0 else "soon" if days <= SOON_DAYS else "valid"
    return {"state": state, "days": days}


def life(known: Entries) -> Data:
    """Everything that one instrument's entries say of it."""
    return {
        "calibrations": calibrations(known.records),
        "changes": changes(known.records),
        "settings": [_said(one, _OF_SETTING) for one in known.settings],
        "zero_checks": [_zero(one, known.records[-1]["body"]["unit"]) for one in known.zeros],
        "temperatures": [_said(one, _OF_WARMTH) for one in known.temperatures],
        "extensions": [_said(one, _OF_EXTENSION) for one in known.extensions],
        "trouble": [_trouble(one) for one in known.trouble],
        "readings": counts(known.decisions),
    }


def calibrations(records: Iterable[Envelope]) -> list[Data]:
    """Certificates in the order in which they came to be on record; ``until`` is when the next one
    took its place. An instrument without one says so with null."""
    found: list[Data] = []
    for entry in records:
        body = entry["body"]
        calibration = body["calibration"]
        if found and found[-1]["calibration"] == calibration:
            continue
        if found:
            found[-1]["until"] = entry["at"]
        found.append(
            {
                "seq": entry["seq"],
                "at": entry["at"],
                "until": None,
                "calibration": calibration,
                "unit": body["unit"],
            }
        )
    return found


def changes(records: Sequence[Envelope]) -> list[Data]:
    """What else changed in its record, by the names of bench.toml, with its values before and
    after."""
    found = []
    for before, after in pairwise(records):
        one, two = before["body"], after["body"]
        moved = [
            {"name": name, "before": _plain(one.get(name)), "after": _plain(two.get(name))}
            for name in sorted(one.keys() | two.keys())
            if name not in ("calibration", "profile_seq") and one.get(name) != two.get(name)
        ]
        if one.get("profile_seq") != two.get("profile_seq") and one["profile"] == two["profile"]:
            moved.append({"name": "profile text", "before": None, "after": None})
        if moved:
            found.append({"seq": after["seq"], "at": after["at"], "changed": moved})
    return found


def moments(found: Data) -> list[Data]:
    """What ``life`` tells, as one line of time, newest first: certificates, other changes of the
    record, settings, zeros that had moved, extensions, gaps. Each has a ``word``, ``seq``, ``at``
    and, as ``of``, what ``life`` says of it."""
    words: dict[str, list[Data]] = {
        "calibration": [one for one in found["calibrations"] if one["calibration"] is not None],
        "change": found["changes"],
        "setting": found["settings"],
        "drift": [one for one in found["zero_checks"] if one["steady"] is False],
        "extension": found["extensions"],
        "gap": [one for one in found["trouble"] if one["code"] == "gap"],
    }
    made = [
        {"word": word, "seq": one["seq"], "at": one["at"], "of": one}
        for word, some in words.items()
        for one in some
    ]
    return sorted(made, key=lambda one: int(one["seq"]), reverse=True)


def counts(decisions: Sequence[Envelope]) -> Data:
    """Of these readings: how many sizes and torques were judged with which result, how many were
    about the gauge or a tool itself, by their kind, and how many do not count, by the reason."""
    results: Counter[str] = Counter()
    checks: Counter[str] = Counter()
    reasons: Counter[str] = Counter()
    for entry in decisions:
        body = entry["body"]
        kind = "zero" if "zero" in body else None if body["step"] is None else body["step"]["kind"]
        if kind is None:
            reasons[body["reason"]["code"]] += 1
        elif kind in _OF_GAUGES:
            checks[kind] += 1
        else:
            results[body["verdict"]["result"]] += 1
    return {
        "of_last": len(decisions),
        "results": dict(sorted(results.items())),
        "checks": [{"kind": kind, "count": count} for kind, count in sorted(checks.items())],
        "not_counted": [{"reason": code, "count": count} for code, count in reasons.most_common()],
    }


_OF_GAUGES = ("zero", "study", "check")
_OF_SETTING = (
    "standard", "size", "unit", "expanded_uncertainty", "coverage_factor", "from_instrument"
)  # fmt: skip
_OF_WARMTH = ("value", "unit", "expanded_uncertainty", "coverage_factor")
_OF_EXTENSION = ("tool_length", "length", "angle", "unit")


def _who(entry: Envelope) -> Data:
    return {"seq": entry["seq"], "at": entry["at"], "operator": entry["operator"]}


def _said(entry: Envelope, names: Iterable[str]) -> Data:
    return {**_who(entry), **{name: entry["body"].get(name) for name in names}}


def _zero(entry: Envelope, unit: str) -> Data:
    """A zero check in the instrument's unit of now; what was shown in another is converted, and
    stays as it was where the instrument measured something else then."""
    body = entry["body"]
    found = body["zero"]
    names = ("deviation", "opening", "drift", "expanded_uncertainty")
    try:
        sizes = {name: _in_unit(found[name], found["unit"], unit) for name in names}
    except UnitError:
        unit = found["unit"]
        sizes = {name: found[name] for name in names}
    return {
        **_who(entry),
        "reading": body["press"],
        **sizes,
        "unit": unit,
        "steady": found["steady"],
        "opened": found["opened"],
        "readings": found["readings"],
        "build": body["build"],
    }


def _in_unit(said: str | None, unit: str, to: str) -> str | None:
    return None if said is None else text(convert(Decimal(said), unit, to))


def _trouble(entry: Envelope) -> Data:
    body = entry["body"]
    said = {name: body[name] for name in ("code", "detail", "raw")}
    return {"seq": entry["seq"], "at": entry["at"], **said}


def _plain(value: Any) -> str | None:
    """A value of bench.toml as text."""
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "true" if value else "false"
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)

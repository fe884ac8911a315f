"""A QIF document of a set of readings.

Only what the standard calls a result is one here: a reading that answers a step which measures,
tightens or turns the product, with its measured value and its status. Readings that are void, that
wait to be placed, or that say something of a gauge (zero checks, studies, tool checks) are left
out, and how many of each were is told in the document's attributes.
"""

from __future__ import annotations

import hashlib
import uuid
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import ExitStack
from functools import lru_cache
from typing import Any, Final

import orjson

from capture.exports.columns import DECIMAL
from capture.exports.grounds import Grounds
from capture.exports.qif import measurement as m
from capture.exports.qif import subject as s
from capture.exports.qif.markup import attributes, element, ids, opened, said
from capture.exports.qif.spool import Spool
from capture.exports.qif.units import PRIMARY, file_units
from capture.spec.model import Spec

NAMESPACE: Final = uuid.UUID("6ad1e1f0-97c4-5a43-8d0e-3c6e0b6f5a11")
"""Of the identities below: drawn once."""

XML: Final = "http://qifstandards.org/xsd/qif3"
STANDARD: Final = 1
RESULTS: Final = 2
FIRST_FREE: Final = 3
SECTIONS: Final = ("definitions", "nominals", "items", "measurements", "components")
LEFT_OUT: Final = ("void", "not_placed", "of_a_gauge", "without_value", "without_limits")


def chunks(items: Iterable[bytes], grounds: Grounds, created: str) -> Iterator[bytes]:
    """The document. Its first chunk comes once every reading was looked at."""
    with ExitStack() as stack:
        spools = {name: stack.enter_context(Spool()) for name in SECTIONS}
        whole = _Whole(grounds, spools)
        for item in items:
            whole.take(orjson.loads(item))
        yield from whole.chunks(created)


def identity(bench: str, what: str) -> uuid.UUID:
    """The same UUID for the same thing of the same bench, always."""
    return uuid.uuid5(_of_bench(bench), what)


@lru_cache(maxsize=4)
def _of_bench(bench: str) -> uuid.UUID:
    return uuid.uuid5(NAMESPACE, bench)


class _Whole:
    """Everything but the readings themselves: those wait on disk."""

    def __init__(self, grounds: Grounds, spools: dict[str, Spool]) -> None:
        self._grounds = grounds
        self._bench = grounds.bench
        self._spools = spools
        self._last = FIRST_FREE - 1
        self._numbers: dict[tuple[Any, ...], int] = {}
        self._parts: dict[tuple[str, str], tuple[int, s.Subject, Spec | None, list[int]]] = {}
        self._devices: list[str] = []
        self._units = set(PRIMARY)
        self._left_out = dict.fromkeys(LEFT_OUT, 0)
        self._status: Counter[str] = Counter()
        self._selected = 0
        self._simulated = False
        self._span = ("", "")
        self._digest = hashlib.sha256(self._bench.encode())

    def take(self, reading: dict[str, Any]) -> None:
        """One more reading."""
        self._selected += 1
        self._simulated |= reading["simulated"]
        why = _left_out(reading)
        if why:
            self._left_out[why] += 1
            return
        spec = self._grounds.spec_of(reading["placement"]["build"])
        subject = s.subject_of(reading, spec)
        if not s.expressible(subject):
            self._left_out["without_limits"] += 1
            return
        self._measured(reading, subject, spec)

    def _measured(self, reading: dict[str, Any], subject: s.Subject, spec: Spec | None) -> None:
        seq = reading["seq"]
        item = self._item(reading["placement"], subject, spec)
        component = self._component(reading["placement"])
        device = self._device(seq)
        refers = m.Ids(self._next(), item, component, device)
        text = m.measurement(reading, refers, identity(self._bench, f"reading {seq}"))
        self._spools["measurements"].add(text)
        self._digest.update(text.encode())
        self._status[reading["verdict"]["result"]] += 1
        self._units.add(subject.unit)
        at = reading["received_at"]
        first, last = self._span
        self._span = (min(first or at, at), max(last, at))

    def _next(self) -> int:
        self._last += 1
        return self._last

    def _item(self, placement: dict[str, Any], subject: s.Subject, spec: Spec | None) -> int:
        place = (placement["number"], "" if subject.stage else placement["point"])
        key = ("item", subject, place)
        if key not in self._numbers:
            nominal = self._nominal(subject, spec)
            number = self._numbers[key] = self._next()
            self._spools["items"].add(s.item(number, nominal, subject, place))
        return self._numbers[key]

    def _nominal(self, subject: s.Subject, spec: Spec | None) -> int:
        key = ("nominal", subject)
        if key not in self._numbers:
            words = s.said_of(subject, spec)
            definition, number = self._next(), self._next()
            self._numbers[key] = number
            self._spools["definitions"].add(s.definition(definition, subject, words))
            self._spools["nominals"].add(s.nominal(number, definition, subject, words))
            where = (subject.spec, subject.part)
            if where not in self._parts:
                self._parts[where] = (self._next(), subject, spec, [])
            self._parts[where][3].append(number)
        return self._numbers[key]

    def _component(self, placement: dict[str, Any]) -> int:
        build, part = placement["build"], placement["part"] or ""
        piece = placement["piece"] or build
        key = ("piece", f"{build}/{part}/{piece}")
        if key not in self._numbers:
            number = self._numbers[key] = self._next()
            self._spools["components"].add(m.component(number, build, part, piece))
        return self._numbers[key]

    def _device(self, seq: int) -> int | None:
        record = self._grounds.record_of(seq)
        if record is None:
            return None
        key = ("device", record.seq)
        if key not in self._numbers:
            number = self._numbers[key] = self._next()
            self._devices.append(m.device(number, record))
        return self._numbers[key]

    # writing ----------------------------------------------------------------------------------

    def chunks(self, created: str) -> Iterator[bytes]:
        yield self._head(created).encode()
        if self._spools["measurements"].count:
            yield self._resources().encode()
            yield self._product().encode()
            yield opened("Characteristics").encode()
            yield said("FormalStandardId", STANDARD).encode()
            yield from self._section("CharacteristicDefinitions", "definitions")
            yield from self._section("CharacteristicNominals", "nominals")
            yield from self._section("CharacteristicItems", "items")
            yield b"</Characteristics>"
        yield from self._results()
        yield b"</QIFDocument>\n"

    def _section(self, name: str, spool: str) -> Iterator[bytes]:
        kept = self._spools[spool]
        yield opened(name, n=kept.count).encode()
        yield from kept.chunks()
        yield f"</{name}>".encode()

    def _head(self, created: str) -> str:
        own = identity(self._bench, f"document {self._digest.hexdigest()} {self._selected}")
        start = opened("QIFDocument", xmlns=XML, versionQIF="3.0.0", idMax=self._last)
        return "".join(
            (
                '<?xml version="1.0" encoding="UTF-8"?>\n',
                start,
                said("QPId", str(own)),
                attributes(
                    bench=self._bench,
                    simulated=self._simulated,
                    readings_selected=self._selected,
                    results=self._spools["measurements"].count,
                    **{f"left_out_{name}": count for name, count in self._left_out.items()},
                ),
                element("Version", said("TimeCreated", created)),
                self._header(),
                _standards(),
                file_units(self._units),
            )
        )

    def _header(self) -> str:
        counts = ", ".join(f"{self._status[name]} {m.STATUS[name]}" for name in m.STATUS)
        about = (
            f"{m.SIMULATED + ' ' if self._simulated else ''}Readings of bench {self._bench} with "
            f"the decision that counts for each: {counts}. INDETERMINATE is undecided under "
            "the decision rule: it has not passed. combinedUncertainty is the combined standard "
            "uncertainty; a value without one has none established. ledger_seq is the reading's "
            "place in the bench's ledger."
        )
        application = element("Application", said("Name", "witnessmark"))
        return element("Header", application, said("Description", about))

    def _resources(self) -> str:
        if not self._devices:
            return ""
        devices = element("MeasurementDevices", *self._devices, n=len(self._devices))
        return element("MeasurementResources", devices)

    def _product(self) -> str:
        parts = [
            s.part(
                number,
                identity(self._bench, f"part {subject.spec} {subject.part}"),
                subject,
                spec,
                ids("CharacteristicNominalIds", nominals),
            )
            for number, subject, spec, nominals in self._parts.values()
        ]
        return element("Product", element("PartSet", *parts, n=len(parts)))

    def _results(self) -> Iterator[bytes]:
        many = bool(self._spools["measurements"].count)
        yield opened("Results").encode()
        yield opened("MeasurementResultsSet", n=1).encode()
        yield opened("MeasurementResults", id=RESULTS).encode()
        yield attributes(simulated=self._simulated).encode()
        if many:
            first, last = self._span
            span = (said("InspectionStart", first), said("InspectionEnd", last))
            yield element("InspectionTraceability", *span).encode()
            yield opened("MeasuredCharacteristics").encode()
            yield from self._section("CharacteristicMeasurements", "measurements")
            yield b"</MeasuredCharacteristics>"
        status = said("InspectionStatusEnum", "NOT_CALCULATED" if many else "NOT_MEASURED")
        yield element("InspectionStatus", status).encode()
        yield b"</MeasurementResults></MeasurementResultsSet>"
        if many:
            yield opened("ActualComponentSets", n=1).encode()
            yield from self._section("ActualComponentSet", "components")
            yield b"</ActualComponentSets>"
        yield b"</Results>"


def _left_out(reading: dict[str, Any]) -> str:
    """Why a reading is no result of the product; empty where it is one."""
    placement = reading["placement"]
    if placement.get("step") is None:
        voided = (placement.get("reason") or {}).get("code") == "void"
        return "void" if voided else "not_placed"
    if placement["kind"] not in s.RESULTS:
        return "of_a_gauge"
    measured = reading["verdict"].get("measured")
    return "" if measured is not None and DECIMAL.match(measured) else "without_value"


def _standards() -> str:
    """What limits of size mean here."""
    standard = element(
        "Standard",
        element("Organization", said("StandardsOrganizationEnum", "ISO")),
        said("Designator", "ISO 286-1"),
        said("Description", "Limits of size; conformity is decided by the rule at each result."),
        id=STANDARD,
    )
    return element("StandardsDefinitions", standard, n=1)

"""What is known of the instruments of a bench, read for whoever asks: each by index, bounded."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

import orjson
from starlette.requests import Request

from api.answers import service_of, view
from api.service import Service
from api.state import device_body
from capture import view as views
from capture.entry import Kind

if TYPE_CHECKING:
    from capture.archive import Archive
    from capture.desk import Card, Desk, SpecRecord
    from capture.entry import Envelope

Data = dict[str, Any]

MOST = 200
"""Of each list, the newest."""
OF_PORTS = 10 * MOST
"""Newest gaps of all ports that are looked through for those of one."""
READINGS = 1000
"""Newest readings that are counted by their result."""
BUILDS = 100
"""Newest builds that are looked through for studies and tool checks."""


def today() -> date:
    """By the clock of the service, UTC as everything in the record."""
    return datetime.now(UTC).date()


async def shelf(request: Request) -> list[Data]:
    """Every instrument on record, with its connection, calibration and last reading."""
    service = service_of(request)
    known = await view(request, views.instruments)
    last = await asyncio.to_thread(
        _last_readings, service.pipeline.archive, [one["id"] for one in known]
    )
    return [_stand(service, one, last[one["id"]]) for one in known]


async def life_of(request: Request, instrument: str) -> Data:
    """The whole life of one instrument. Raises NotFound."""
    service = service_of(request)
    now, cards, specs = await view(request, lambda desk: _asked(desk, instrument))
    archive = service.pipeline.archive
    found = await asyncio.to_thread(_life, archive, now, cards, specs)
    last = await asyncio.to_thread(_last_readings, archive, [instrument])
    return {
        "instrument": _stand(service, now, last[instrument]),
        "as_of": today().isoformat(),
        "most": MOST,
        "builds": BUILDS,
        **found,
    }


def _stand(service: Service, one: Data, last: Data | None) -> Data:
    """An instrument as it stands now."""
    from capture.inquiry.life import standing

    device = next(
        (each for each in service.pipeline.devices() if each.instrument == one["id"]), None
    )
    return {
        **one,
        "on_bench": any(each.id == one["id"] for each in service.bench.instruments),
        "state": None if device is None else device.state,
        "device": None if device is None else device_body(device),
        "standing": standing(one["calibration"], today()),
        "last": last,
    }


def _last_readings(archive: Archive, instruments: list[str]) -> dict[str, Data | None]:
    return {name: _last_reading(archive, name) for name in instruments}


def _last_reading(archive: Archive, instrument: str) -> Data | None:
    press = archive.last_press(instrument)
    data = None if press is None else archive.reading(press["seq"])
    return None if data is None else orjson.loads(data)


def _asked(desk: Desk, instrument: str) -> tuple[Data, list[Card], dict[str, SpecRecord]]:
    from capture.inquiry.taken_part import may_take_part

    now = views.instrument(desk, instrument)
    cards = [
        replace(card)
        for card in list(desk.cards.values())[-BUILDS:]
        if may_take_part(desk.specs[card.spec].spec, instrument, now["kind"])
    ]
    return now, cards, {card.spec: desk.specs[card.spec] for card in cards}


def _life(archive: Archive, now: Data, cards: list[Card], specs: dict[str, SpecRecord]) -> Data:
    from capture.inquiry.aside import aside
    from capture.inquiry.life import Entries, life
    from capture.inquiry.taken_part import taken_part
    from capture.ledger.record import ZERO

    name = now["id"]

    def newest(kind: str) -> list[Envelope]:
        return archive.records_of(kind, name, limit=MOST)

    records = newest(Kind.INSTRUMENT)
    known = Entries(
        records,
        newest(Kind.SETTING),
        newest(ZERO),
        newest(Kind.TEMPERATURE),
        newest(Kind.EXTENSION),
        _trouble(archive, name, now["port"]),
        archive.decisions_of(name, limit=READINGS),
    )
    studies: list[Data] = []
    checks: list[Data] = []
    own = {entry["seq"] for entry in records}
    for card in cards:
        entries = archive.counted_of_build(card.id)
        desk = aside(card, specs[card.spec], entries)
        one, other = taken_part(desk, card.id, entries, name, own)
        studies += one
        checks += other
    return {**life(known), "studies": studies, "checks": checks}


def _trouble(archive: Archive, name: str, port: str) -> list[Envelope]:
    """What came unreadable from the instrument, and the gaps of its port, which may carry others
    too: the newest of each."""
    kind = Kind.UNDECODABLE.value
    of_port = [
        entry
        for entry in archive.records_of(kind, None, limit=OF_PORTS)
        if entry["body"]["port"] == port
    ]
    found = [*archive.records_of(kind, name, limit=MOST), *of_port]
    return sorted(found, key=lambda entry: int(entry["seq"]))[-MOST:]

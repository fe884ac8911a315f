"""A history searched: every combination of filters against the plain way of finding the same, with
clocks that were set back, in either direction; and the tables that make it quick."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import Any

import orjson
import pytest

from capture.archive import Archive
from capture.entry import Kind
from capture.errors import NotFound, RequestError, StoreError
from capture.exports import chosen
from capture.ledger import moments, schema, search
from capture.ledger.appending import Appending
from capture.ledger.moments import stretches
from capture.ledger.projection import Projection, differences
from capture.ledger.search import Filters
from capture.ledger.store import DATABASE, Store
from capture.reading import Stamp
from capture.rules.order import ORDER, place_of

PEOPLE = ("one", "two", None)
GAUGES = ("mic", "bore")
STANDINGS = ("conforming", "nonconforming", "not_evaluated", "late", "decimal-slip", "void")
COUNT = 240


def moment(number: int) -> str:
    """A minute for each press; twice the clock is set back, once by a day, and now and then a
    device overtakes another by a tenth of a second."""
    second = 60 * number - (86_400 if number >= 100 else 0) - (3000 if number >= 170 else 0)
    day, rest = divmod(second + 10 * 86_400, 86_400)
    microsecond = 0
    if number % 7 == 3:
        day, rest = divmod(second + 10 * 86_400 - 61, 86_400)
        microsecond = 900_000
    clock = f"{rest // 3600:02d}:{rest // 60 % 60:02d}:{rest % 60:02d}.{microsecond:06d}"
    return f"2026-01-{day + 1:02d}T{clock}Z"


def decided(standing: str, build: str | None, press: int) -> dict[str, Any]:
    """The body of a decision, as much of it as the tables look at."""
    placed = standing in ("conforming", "nonconforming", "undecided", "not_evaluated")
    step = None
    if placed:
        step = dict.fromkeys(("characteristic", "part", "number", "piece", "point", "repeat"))
        step["id"] = "measure/1"
    return {
        "press": press,
        "by": "rule",
        "build": build,
        "step": step,
        "reason": None if placed else {"code": standing, "detail": ""},
        "verdict": {"result": standing if placed else "not_evaluated"},
        "derived": [],
    }


def fill(folder: Path, count: int = COUNT) -> None:
    """Readings of every sort, some of them decided again by a person."""
    chance = random.Random(5)
    store = Store(folder)
    for begin in range(0, count, 20):
        writing = Appending(store, 1)
        presses = []
        for number in range(begin, min(begin + 20, count)):
            stamp = Stamp(moment(number), number)
            body: dict[str, Any] = {
                "instrument": chance.choice(GAUGES), "record": None, "raw": "", "digits": "1.000",
                "unit": "mm", "flags": [], "simulated": True, "typed": False, "late": None,
            }  # fmt: skip
            press = writing.press(body, stamp, chance.choice(PEOPLE))
            build = chance.choice(("b1", "b2", None))
            writing.decision(decided(chance.choice(STANDINGS[:5]), build, press["seq"]), press)
            presses.append((press, build))
        for press, build in presses[::6]:
            stamp = Stamp(press["at"], 1)
            corrected = chance.random() < 0.5
            body = decided("conforming" if corrected else "void", build, press["seq"])
            body |= {"by": "person", "first_build": build, "because": "so"}
            if corrected:
                body["corrected"] = {"digits": "2.000", "unit": "mm"}
            entry = writing.record(Kind.DECISION, body, stamp, "two")
            writing.redecided(press, entry, build, None)
        writing.commit(store)
    store.close()


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("history") / "store"
    fill(folder)
    return folder


@pytest.fixture
def archive(store: Path) -> Iterator[Archive]:
    made = Archive(store)
    yield made
    made.close()


def everything(archive: Archive) -> list[dict[str, Any]]:
    found = [orjson.loads(item) for item in archive.readings(limit=10_000).items]
    assert len(found) == COUNT
    builds = {one["seq"]: archive.build_of(one["seq"]) for one in found}
    return [{**one, "build": builds[one["seq"]]} for one in found]


def fits(one: dict[str, Any], filters: Filters) -> bool:
    """What the filters mean, said once more, the plain way."""
    reason = one["placement"].get("reason")
    asked = {
        "build": one["build"],
        "instrument": one["instrument"],
        "operator": one["operator"],
        "result": one["verdict"]["result"],
        "placed": reason is None,
        "reason": None if reason is None else reason["code"],
        "corrected": one["corrected"] is not None,
    }
    if any(getattr(filters, name) not in (None, value) for name, value in asked.items()):
        return False
    at = one["received_at"]
    return (filters.since or at) <= at and (filters.until is None or at < filters.until)


def onwards(archive: Archive, filters: Filters, limit: int) -> list[int]:
    found: list[int] = []
    after = 0
    while True:
        page = archive.readings(after=after, limit=limit, filters=filters)
        found += [orjson.loads(item)["seq"] for item in page.items]
        if page.next == after:
            return found
        assert page.next > after
        after = page.next


def backwards(archive: Archive, filters: Filters, limit: int) -> list[int]:
    found: list[int] = []
    before = None
    while True:
        page = archive.earlier_readings(before=before, limit=limit, filters=filters)
        found += [orjson.loads(item)["seq"] for item in page.items]
        if not page.next:
            return found
        assert before is None or page.next < before
        before = page.next


CHOICES: dict[str, tuple[Any, ...]] = {
    "build": (None, "b1"),
    "instrument": (None, "mic"),
    "operator": (None, "one"),
    "result": (None, "conforming", "not_evaluated"),
    "placed": (None, True, False),
    "reason": (None, "void"),
    "corrected": (None, True, False),
}


def test_every_combination_gives_what_the_plain_way_gives(archive: Archive) -> None:
    readings = everything(archive)
    for values in product(*CHOICES.values()):
        filters = Filters(**dict(zip(CHOICES, values, strict=True)))
        wanted = [one["seq"] for one in readings if fits(one, filters)]
        assert onwards(archive, filters, 500) == wanted, filters
        assert backwards(archive, filters, 500) == wanted[::-1], filters


@pytest.mark.parametrize("scan", [3, 50, 20_000])
def test_pages_of_any_size_looking_at_any_number_of_rows(
    archive: Archive, scan: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    readings = everything(archive)
    monkeypatch.setattr("capture.archive.SCAN_MOST", scan)
    for filters in (
        Filters(),
        Filters(operator="one", result="conforming"),
        Filters(placed=False, build="b2"),
        Filters(corrected=True, instrument="mic"),
        Filters(since=moment(120), until=moment(200), operator="two"),
    ):
        wanted = [one["seq"] for one in readings if fits(one, filters)]
        assert wanted
        for limit in (1, 4, 100):
            assert onwards(archive, filters, limit) == wanted
            assert backwards(archive, filters, limit) == wanted[::-1]


def test_a_period_is_exact_however_the_clock_went(archive: Archive) -> None:
    readings = everything(archive)
    ends = [None, *(moment(number) for number in (3, 99, 100, 169, 170, 185, 239))]
    ends += ["0001-01-01T00:00:00.000000Z", "2020"]
    for since, until in product(ends, ends):
        filters = Filters(since=since, until=until)
        wanted = [one["seq"] for one in readings if fits(one, filters)]
        assert onwards(archive, filters, 1000) == wanted, filters
        assert backwards(archive, filters, 1000) == wanted[::-1], filters


def test_a_period_is_found_by_halves(store: Path) -> None:
    connection = sqlite3.connect(store / DATABASE)
    assert connection.execute("SELECT count(*) FROM clock_back").fetchone() == (2,)
    found = stretches(connection, moment(185), moment(190))
    inside = sum(
        connection.execute(
            "SELECT count(*) FROM reading WHERE press >= ? AND press < ?", stretch
        ).fetchone()[0]
        for stretch in found
    )
    connection.close()
    assert 5 <= inside <= 12  # of 240; earlier in it the clock had shown the same


def test_the_newest_moment_is_that_of_the_last_stretch(store: Path) -> None:
    connection = sqlite3.connect(store / DATABASE)
    assert moments.newest_moment(connection) == moment(COUNT - 1)
    connection.close()
    assert not moments.went_back("2026-01-01T00:00:01.200000Z", "2026-01-01T00:00:01.000000Z")
    assert moments.went_back("2026-01-01T00:00:01.200001Z", "2026-01-01T00:00:01.000000Z")


def test_the_sparsest_index_is_followed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fill(tmp_path / "s")
    connection = sqlite3.connect(tmp_path / "s" / DATABASE, isolation_level=None)
    (press,) = connection.execute("SELECT max(press) FROM reading").fetchone()
    connection.execute("DELETE FROM shift")
    connection.execute("INSERT INTO shift VALUES (1, 'one'), (?, 'seldom')", (press,))
    connection.execute("UPDATE reading SET operator = 'seldom' WHERE press = ?", (press,))
    looked = search.find(
        connection, Filters(operator="seldom", placed=True), (0, 10**6),
        newest_first=True, limit=50, scan=1000,
    ).looked  # fmt: skip
    connection.close()
    assert looked == 1


def test_what_names_nothing_here_is_told(archive: Archive) -> None:
    for filters, word in (
        (Filters(operator="three"), "one, two"),
        (Filters(reason="lat"), "decimal-slip, late, void"),
        (Filters(build="b1"), "builds"),
    ):
        with pytest.raises(NotFound) as raised:
            chosen.known(archive, filters)
        assert word in raised.value.mend
    for filters in (Filters(placed=True, reason="void"), Filters(placed=False, result="undecided")):
        with pytest.raises(RequestError):
            chosen.sensible(filters)
    chosen.sensible(Filters(placed=False, result="not_evaluated", reason="void"))


# the tables ---------------------------------------------------------------------------------------


def as_before(folder: Path) -> None:
    """Makes a store what an older program left."""
    connection = sqlite3.connect(folder / DATABASE, isolation_level=None)
    for index in ("reading_by_standing", "reading_corrected"):
        connection.execute(f"DROP INDEX {index}")
    for table in ("clock_back", "shift"):
        connection.execute(f"DROP TABLE {table}")
    for column in ("operator", "standing", "corrected"):
        connection.execute(f"ALTER TABLE reading DROP COLUMN {column}")
    connection.execute("PRAGMA user_version = 2")
    connection.close()


def wrong_with(folder: Path) -> list[str]:
    connection = sqlite3.connect(folder / DATABASE)
    projection = Projection()
    for (data,) in connection.execute("SELECT bytes FROM entry ORDER BY seq"):
        projection.add(orjson.loads(data))
    found = [message for _, message in differences(connection, projection)]
    connection.close()
    return found


def rows(folder: Path) -> list[tuple[Any, ...]]:
    connection = sqlite3.connect(folder / DATABASE)
    found = connection.execute("SELECT * FROM reading").fetchall()
    found += connection.execute("SELECT * FROM clock_back").fetchall()
    found += connection.execute("SELECT * FROM shift").fetchall()
    connection.close()
    return found


def test_an_older_store_is_filled_in_when_it_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    folder = tmp_path / "store"
    fill(folder)
    before = rows(folder)
    assert wrong_with(folder) == []
    as_before(folder)
    assert wrong_with(folder) == []  # it is verified by what it has
    old = Archive(folder)
    assert len(old.readings(limit=1000, filters=Filters(since=moment(5))).items) > 50
    with pytest.raises(StoreError, match="witnessmark serve"):
        old.readings(filters=Filters(corrected=False))
    for named in (Filters(operator="one"), Filters(reason="void")):
        with pytest.raises(StoreError, match="witnessmark serve"):
            chosen.known(old, named)
    old.close()
    monkeypatch.setattr(schema, "CHUNK", 7)
    monkeypatch.setattr(schema, "MANY", 100)
    Store(folder).close()
    assert rows(folder) == before
    assert wrong_with(folder) == []
    assert caplog.messages[-1].startswith("making the history searchable")


def test_filling_in_goes_on_where_it_was_broken_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "store"
    fill(folder, 60)
    before = rows(folder)
    as_before(folder)
    monkeypatch.setattr(schema, "CHUNK", 7)
    real, done = schema._found_by, []

    def breaks(row: tuple[int, bytes, bytes]) -> tuple[object, ...] | None:
        done.append(row[0])
        if len(done) == 30:
            raise sqlite3.OperationalError("the plug was pulled")
        return real(row)

    monkeypatch.setattr(schema, "_found_by", breaks)
    with pytest.raises(StoreError, match="plug"):
        Store(folder)
    monkeypatch.setattr(schema, "_found_by", real)
    connection = sqlite3.connect(folder / DATABASE)
    left = connection.execute("SELECT count(*) FROM reading WHERE standing IS NULL").fetchone()[0]
    connection.close()
    assert left == 60 - 28
    Store(folder).close()
    assert rows(folder) == before


def test_an_entry_that_cannot_be_read_does_not_keep_the_bench_from_opening(tmp_path: Path) -> None:
    folder = tmp_path / "store"
    fill(folder, 20)
    as_before(folder)
    connection = sqlite3.connect(folder / DATABASE, isolation_level=None)
    connection.execute("UPDATE entry SET bytes = '{' WHERE seq = 5")
    connection.close()
    Store(folder).close()
    connection = sqlite3.connect(folder / DATABASE)
    found = connection.execute("SELECT press FROM reading WHERE standing IS NULL").fetchall()
    connection.close()
    assert found == [(5,)]


def test_the_rules_stand_in_the_order_of_their_table() -> None:
    from capture import place

    table = [
        words[1] for line in (place.__doc__ or "").splitlines() if (words := line.split())[:1]
        and words[0].isdigit()
    ]  # fmt: skip
    assert list(ORDER) == table
    assert (place_of("zero-check"), place_of("void")) == (1, None)

"""The HTTP interface, over the loopback, on a real store."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import httpx
import pytest

from api import state
from api.routes.pages import FILES, KINDS
from tests.running import SPEC, client, opened_build, service, typed


async def test_health_says_ready_and_simulated(http: httpx.AsyncClient) -> None:
    body = (await http.get("/v1/health")).json()
    assert body["status"] == "ready"
    assert body["boot"] == 1
    assert body["simulated"] is True
    assert body["size"] >= 1


async def test_a_spec_is_known_by_its_bytes(http: httpx.AsyncClient) -> None:
    kind = {"Content-Type": "application/toml"}
    first = await http.post("/v1/specs", content=SPEC.encode(), headers=kind)
    again = await http.post("/v1/specs", content=SPEC.encode(), headers=kind)
    assert (first.status_code, again.status_code) == (201, 200)
    digest = hashlib.sha256(SPEC.encode()).hexdigest()
    assert first.json()["id"] == again.json()["id"] == digest
    assert first.headers["location"] == f"/v1/specs/{digest}"
    assert (await http.get(f"/v1/specs/{digest}")).content == SPEC.encode()


async def test_a_wrong_spec_is_refused_with_every_error(http: httpx.AsyncClient) -> None:
    wrong = SPEC.replace('unit = "mm"', 'unit = "parsec"').replace("count = 2", "count = 0")
    answer = await http.post("/v1/specs?file=pump.toml", content=wrong.encode())
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    errors = answer.json()["errors"]
    assert {error["file"] for error in errors} == {"pump.toml"}
    assert len(errors) >= 2
    assert all(error["line"] > 0 and error["mend"] for error in errors)
    assert (await http.get("/v1/specs")).json() == {"specs": []}


async def test_bytes_that_are_not_text_are_no_spec(http: httpx.AsyncClient) -> None:
    answer = await http.post("/v1/specs", content=b'title = "\xff"')
    assert answer.status_code == 422
    assert "UTF-8" in answer.json()["detail"]


async def test_a_reading_goes_from_typing_to_verdict(http: httpx.AsyncClient) -> None:
    build = await opened_build(http)
    reading = await typed(http, "25.000")
    assert reading["value"] == "25.000"
    assert reading["typed"] is True
    assert reading["placement"]["build"] == build
    assert reading["placement"]["point"] == "top"
    assert reading["verdict"]["result"] == "conforming"
    stored = await http.get(f"/v1/readings/{reading['seq']}")
    assert stored.json() == reading
    assert (await http.get(f"/v1/builds/{build}")).json()["steps_done"] == 1


async def test_the_whole_build_by_what_is_next(http: httpx.AsyncClient) -> None:
    build = await opened_build(http)
    for number in range(4):
        coming = (await http.get(f"/v1/builds/{build}/next")).json()
        assert coming["step"]["kind"] == "measure"
        assert coming["step"]["cautions"] == ["Support the sleeve: it rolls."]
        await typed(http, f"25.00{number}")
    step = (await http.get(f"/v1/builds/{build}/next")).json()["step"]
    assert step["kind"] == "confirm"
    body = {"step": step["id"], "operator": "tester"}
    confirmed = await http.post(f"/v1/builds/{build}/confirmations", json=body)
    assert confirmed.status_code == 201
    assert confirmed.json()["operator"] == "tester"
    last = (await http.get(f"/v1/builds/{build}/next")).json()
    assert last["done"] is True
    assert last["step"] is None
    steps = (await http.get(f"/v1/builds/{build}/steps")).json()["steps"]
    assert [one["done"] for one in steps] == [True] * 5


async def test_a_nonconforming_size_is_conceded(http: httpx.AsyncClient) -> None:
    build = await opened_build(http)
    reading = await typed(http, "25.030")
    assert reading["verdict"]["result"] == "nonconforming"
    (hold,) = (await http.get(f"/v1/builds/{build}")).json()["holds"]
    body = {"subject": hold["subject"], "reason": "Only for a test."}
    assert (await http.post(f"/v1/builds/{build}/concessions", json=body)).status_code == 201
    assert (await http.get(f"/v1/builds/{build}")).json()["holds"] == []


async def test_a_nonconforming_size_is_reworked(http: httpx.AsyncClient) -> None:
    build = await opened_build(http)
    await typed(http, "25.030")
    body = {"part": "sleeve", "number": 1, "reason": "Polished."}
    assert (await http.post(f"/v1/builds/{build}/reworks", json=body)).status_code == 201
    reading = await typed(http, "25.001")
    assert reading["placement"]["pass"] == 2
    assert reading["verdict"]["result"] == "conforming"


async def test_void_and_correct_append_and_never_change(http: httpx.AsyncClient) -> None:
    await opened_build(http)
    reading = await typed(http, "25.004")
    seq = reading["seq"]
    before = (await http.get(f"/v1/entries/{seq}")).content
    body = {"value": "25.006", "reason": "Misread."}
    corrected = (await http.post(f"/v1/readings/{seq}/corrections", json=body)).json()
    assert corrected["value"] == "25.004"
    assert corrected["corrected"]["digits"] == "25.006"
    assert corrected["verdict"]["measured"] == "25.006"
    voided = (await http.post(f"/v1/readings/{seq}/voids", json={"reason": "Slipped."})).json()
    assert voided["placement"]["reason"]["code"] == "void"
    assert (await http.get(f"/v1/entries/{seq}")).content == before


async def test_a_stray_reading_is_placed_by_a_person(http: httpx.AsyncClient) -> None:
    stray = await typed(http, "25.001")
    assert stray["placement"]["reason"]["code"] == "no-open-build"
    build = await opened_build(http)
    body = {"build": build, "step": "measure-diameter/2/top", "reason": "It was sleeve 2."}
    placed = await http.post(f"/v1/readings/{stray['seq']}/placements", json=body)
    assert placed.status_code == 201, placed.text
    assert placed.json()["placement"]["number"] == 2
    assert placed.json()["decided_by"] == "person"


async def test_another_open_step_is_chosen(http: httpx.AsyncClient) -> None:
    build = await opened_build(http)
    choice = {"step": "measure-diameter/2/bottom"}
    assert (await http.post(f"/v1/builds/{build}/choose", json=choice)).status_code == 201
    assert (await typed(http, "25.000"))["placement"]["step"] == choice["step"]


async def test_pieces_settings_and_operator_are_recorded(http: httpx.AsyncClient) -> None:
    build = await opened_build(http)
    assert (await http.post("/v1/operator", json={"operator": "tester"})).status_code == 201
    piece = {"part": "sleeve", "number": 1, "piece": "S-1"}
    assigned = await http.post(f"/v1/builds/{build}/assignments", json=piece)
    assert assigned.json()["operator"] == "tester"
    setting = {"instrument": "bore-1", "standard": "ring", "size": "20.000", "unit": "mm"}
    assert (await http.post("/v1/settings", json=setting)).status_code == 201
    instrument = (await http.get("/v1/instruments/bore-1")).json()
    assert instrument["setting"]["size"] == "20.000"
    assert instrument["simulated"] is True


async def test_paging_misses_nothing_and_repeats_nothing(http: httpx.AsyncClient) -> None:
    sent = [(await typed(http, f"25.{number:03d}"))["seq"] for number in range(11)]
    seen: list[int] = []
    after = 0
    for _ in range(8):
        page = (await http.get(f"/v1/readings?after={after}&limit=3")).json()
        seen += [reading["seq"] for reading in page["readings"]]
        after = page["next"]
    assert seen == sent
    late = await typed(http, "24.999")
    page = (await http.get(f"/v1/readings?after={after}")).json()
    assert [reading["seq"] for reading in page["readings"]] == [late["seq"]]


async def test_next_moves_past_what_a_filter_leaves_out(http: httpx.AsyncClient) -> None:
    await typed(http, "25.000")
    size = (await http.get("/v1/health")).json()["size"]
    page = (await http.get("/v1/readings?instrument=bore-1")).json()
    assert page == {"readings": [], "next": size}


async def test_readings_by_time(http: httpx.AsyncClient) -> None:
    reading = await typed(http, "25.000")
    for query, count in (
        ({"since": reading["received_at"]}, 1),
        ({"until": reading["received_at"]}, 0),
        ({"since": "2001-01-01T00:00:00+02:00"}, 1),
    ):
        page = (await http.get("/v1/readings", params=query)).json()
        assert len(page["readings"]) == count, query
    answer = await http.get("/v1/readings", params={"since": "2001-01-01T00:00:00"})
    assert answer.status_code == 422
    assert "offset" in answer.json()["detail"]


async def test_a_key_counts_once(http: httpx.AsyncClient) -> None:
    body = {"instrument": "mic-1", "value": "25.000", "unit": "mm"}
    headers = {"Idempotency-Key": "press-1"}
    first = await http.post("/v1/readings", json=body, headers=headers)
    again = await http.post("/v1/readings", json=body, headers=headers)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    other = await http.post("/v1/readings", json={**body, "value": "25.001"}, headers=headers)
    assert other.status_code == 409
    assert len((await http.get("/v1/readings")).json()["readings"]) == 1


async def test_etag_of_what_has_not_changed(http: httpx.AsyncClient) -> None:
    build = await opened_build(http)
    first = await http.get(f"/v1/builds/{build}")
    held = {"If-None-Match": first.headers["etag"]}
    same = await http.get(f"/v1/builds/{build}", headers=held)
    assert (same.status_code, same.content) == (304, b"")
    await typed(http, "25.000")
    assert (await http.get(f"/v1/builds/{build}", headers=held)).status_code == 200


async def test_proofs_and_checkpoint(http: httpx.AsyncClient) -> None:
    reading = await typed(http, "25.000")
    checkpoint = (await http.get("/v1/ledger/checkpoint")).text
    origin, size, _root = checkpoint.split("\n")[:3]
    key = (await http.get("/v1/ledger/key")).text
    assert key.startswith(origin)
    proof = (await http.get(f"/v1/ledger/proof/inclusion?seq={reading['seq']}&size={size}")).json()
    leaf = b"\x00" + (await http.get(f"/v1/entries/{reading['seq']}")).content
    # RFC 9162 §2.1.1: a leaf's hash is SHA-256 over 0x00 and the entry.
    assert proof["leaf_hash"] == hashlib.sha256(leaf).hexdigest()
    await typed(http, "25.001")
    grown = (await http.get(f"/v1/ledger/proof/consistency?from={size}")).json()
    assert grown["first_root"] == proof["root_hash"]
    too_far = await http.get("/v1/ledger/proof/consistency?from=1&to=100000")
    assert too_far.status_code == 422


async def test_what_waits_says_whether_it_could_be_placed(http: httpx.AsyncClient) -> None:
    await opened_build(http)
    for instrument, value, unit in (
        ("mic-1", "1.000", "mm"),
        ("mic-1", "0.0394", "in"),
        ("mic-1", "12.5", "N·m"),
        ("bore-1", "0.012", "mm"),
    ):
        body = {"instrument": instrument, "value": value, "unit": unit}
        (await http.post("/v1/readings", json=body)).raise_for_status()
    bench = (await http.get("/v1/bench")).json()
    found = {(one["value"], one["unit"]): one["placeable"] for one in bench["unplaced"]}
    assert found[("1.000", "mm")] is True
    assert found[("0.0394", "in")] is True
    assert found[("12.5", "N·m")] is False
    assert found[("0.012", "mm")] is False, "a deviation from no standard is no size"
    assert bench["older"] == 0


@pytest.mark.parametrize(
    ("code", "unit", "step", "fits"),
    [
        ("unit-slip", "in", {"kind": "measure", "unit": "mm"}, True),
        ("gauge-not-set", "mm", {"kind": "measure", "unit": "mm"}, False),
        ("void", "mm", {"kind": "measure", "unit": "mm"}, False),
        ("unknown-unit", "parsec", {"kind": "measure", "unit": "mm"}, False),
        ("unsuitable-instrument", "N·m", {"kind": "tighten", "unit": "lbf·ft"}, True),
        ("unsuitable-instrument", "mm", {"kind": "tighten", "unit": "N·m"}, False),
        ("not-a-measuring-step", "mm", {"kind": "confirm", "unit": None}, False),
        ("no-open-build", "mm", None, False),
    ],
)
def test_which_readings_a_step_could_take(
    code: str, unit: str, step: dict[str, Any] | None, fits: bool
) -> None:
    reading = {"placement": {"reason": {"code": code}}, "corrected": None, "unit": unit}
    reading["instrument"] = "one"
    assert state.placeable(reading, step) is fits
    assert state.placeable(reading, step, {"one"}) is False


async def test_older_ones_that_wait_are_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(state, "RECENT", 4)
    async with service(tmp_path) as listening, client(listening) as http:
        for number in range(6):
            await typed(http, f"25.00{number}")
        bench = (await http.get("/v1/bench")).json()
        assert len(bench["unplaced"]) == 2
        assert bench["older"] == 4


async def test_the_page_is_ours_alone(http: httpx.AsyncClient) -> None:
    page = await http.get("/")
    assert page.status_code == 200
    assert "default-src 'none'" in page.headers["content-security-policy"]
    assert "http://" not in page.text
    assert "https://" not in page.text
    names = [path.name for path in FILES.iterdir() if path.suffix in KINDS]
    assert {"bench.css", "bench.js", "tone.js", "words.js"} <= set(names)
    for name in names:
        found = await http.get(f"/static/{name}")
        assert found.status_code == 200
        assert "https://" not in found.text
        again = await http.get(f"/static/{name}", headers={"If-None-Match": found.headers["etag"]})
        assert again.status_code == 304


async def test_text_of_a_spec_cannot_become_markup(http: httpx.AsyncClient) -> None:
    await opened_build(http, SPEC.replace("Sleeve diameter", "</script><script>x()</script>"))
    page = await http.get("/")
    assert "<script>x()" not in page.text

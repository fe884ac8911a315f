"""The trade's computation over HTTP, on a served store: what it gives, and what it refuses."""

from __future__ import annotations

import asyncio
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.contract import trade
from tests.contract.trade import TORQUE, Bench
from tests.running import client, service
from tests.served import run

SHA = "0" * 64


# zero checks, settings, temperature ------------------------------------------------------------


async def test_a_steady_zero_closes_its_set(bench: Bench) -> None:
    last = await bench.measured()
    assert last["placement"]["step"] == "zero-after/1"
    assert last["zero"]["steady"] is True
    assert last["zero"]["readings"] == 4
    assert last["verdict"]["result"] == "conforming"
    gauge = await bench.get("/v1/instruments/bore-1")
    assert gauge["set"] == {"opened": last["seq"], "readings": 0, "closed": True}


async def test_a_set_without_a_closing_check_is_told(bench: Bench) -> None:
    opened = await bench.zeroed()
    await bench.typed(trade.BORES[0], "bore-1")
    state = await bench.get(bench.build)
    assert state["open_sets"] == [{"instrument": "bore-1", "opened": opened["seq"], "readings": 1}]
    assert [one["kind"] for one in state["operations"]] == [
        "measure", "zero", "measure", "zero", "measure", "measure", "tighten", "turn", "study",
        "check",
    ]  # fmt: skip


async def test_a_drifted_zero_marks_its_set_which_is_measured_again(bench: Bench) -> None:
    last = await bench.measured(closing="0.004")
    assert last["verdict"]["result"] == "nonconforming"
    assert last["zero"]["drift"] == "0.004"
    assert len(last["zero"]["presses"]) == 4
    marked = await bench.get(f"/v1/readings/{last['zero']['presses'][0]}")
    assert marked["decided_by"] == "zero"
    assert marked["drift"]["zero"] == last["seq"]
    assert marked["verdict"]["result"] == "undecided"
    entry = await bench.post(f"{bench.build}/sets", step="zero-after/1", reason="slipped")
    assert len(entry["steps"]) == 6  # four sizes, both checks
    assert (await bench.next())["id"] == "zero-before/1"
    again = await bench.typed("0.000", "bore-1")
    assert again["placement"]["pass"] == 2
    story = (await bench.get(f"{bench.build}/story"))["story"]
    assert [one["kind"] for one in story] == [*["decision"] * 4, "remeasure"]
    assert {one["act"] for one in story[:4]} == {"marked"}
    assert story[-1]["reason"] == "slipped"


async def test_only_a_zero_check_names_a_set(bench: Bench) -> None:
    await bench.measured()
    problem = await bench.refused(f"{bench.build}/sets", 409, step="measure-bore/1/top", reason="x")
    assert "no zero check" in problem["detail"]
    await bench.refused(f"{bench.build}/sets", 404, step="nowhere/1", reason="x")


async def test_an_announced_zero_check_answers_no_step(bench: Bench) -> None:
    await bench.zeroed()
    await bench.typed(trade.BORES[0], "bore-1")
    await bench.post("/v1/zeros", instrument="bore-1")
    assert (await bench.get("/v1/instruments/bore-1"))["zero_due"] is True
    press = await bench.typed("0.005", "bore-1")
    assert press["placement"]["reason"]["code"] == "zero-check"
    assert press["zero"]["steady"] is False
    assert (await bench.get("/v1/instruments/bore-1"))["zero_due"] is False
    assert (await bench.next())["id"] == "measure-bore/1/bottom"


async def test_what_has_no_zero_is_refused(bench: Bench) -> None:
    await bench.refused("/v1/zeros", 409, instrument="mic-1")
    await bench.refused("/v1/zeros", 409, instrument="bore-1")  # not set yet
    await bench.refused("/v1/zeros", 404, instrument="bore-9")
    await bench.refused("/v1/zeros", 422)


async def test_a_zero_check_is_pressed_not_placed(bench: Bench) -> None:
    await bench.zeroed()
    for digits in trade.BORES:
        await bench.typed(digits, "bore-1")
    await bench.post(f"{bench.build}/choose", step="study-mic-study/1/A-1")
    stray = await bench.typed("0.004", "bore-1")
    problem = await bench.refused(
        f"/v1/readings/{stray['seq']}/placements",
        409,
        build=bench.build.rpartition("/")[2],
        step="zero-after/1",
        reason="it was",
    )
    assert "press SEND" in problem["mend"]


async def test_a_gauge_set_from_a_micrometer_takes_its_uncertainty(bench: Bench) -> None:
    setting = await bench.post(
        "/v1/settings",
        instrument="bore-1",
        standard="micrometer at 80",
        size="80.000",
        unit="mm",
        from_instrument="mic-1",
    )
    # k·√((0.001/2)² + (0.001/√12)²), rounded up (JCGM 100, 5.1.2)
    assert setting["expanded_uncertainty"] == "0.0012"
    assert setting["from_instrument"] == "mic-1"
    await bench.refused("/v1/settings", 404, **{**trade.RING, "from_instrument": "mic-9"})


async def test_a_warm_block_is_brought_to_twenty_degrees(bench: Bench) -> None:
    await bench.zeroed(block="30.0")
    warm = await bench.post("/v1/temperatures", instrument="bore-1", value="86", unit="°F")
    assert warm["value"] == "86"
    gauge = await bench.get("/v1/instruments/bore-1")
    assert Decimal(gauge["temperature"]["celsius"]) == 30
    verdict = (await bench.typed("0.020", "bore-1"))["verdict"]
    assert verdict["uncorrected"] == "80.020"
    # Part and ring of one coefficient, equally warm: (80·g + 0.020)/g, so the deviation alone
    # shrinks (ISO 1; exact form).
    growth = 1 + Decimal("11.5e-6") * 10
    wanted = Decimal("80.000") + Decimal("0.020") / growth
    assert abs(Decimal(verdict["measured"]) - wanted) < Decimal("1e-9")
    await bench.refused("/v1/temperatures", instrument="bore-1", value="20", unit="mm")
    await bench.refused("/v1/temperatures", instrument="bore-1", value="2000", unit="°C")
    await bench.refused("/v1/temperatures", instrument="bore-1", value=20, unit="°C")


# brackets ----------------------------------------------------------------------------------------


async def test_a_gap_between_two_leaves(bench: Bench) -> None:
    await bench.measured()
    for digits in ("79.972", "79.957"):
        await bench.typed(digits, "mic-1")
    step = await bench.next()
    assert step["id"] == "measure-ring-gap/1"
    assert step["bracketed"] is True
    assert step["lower"] == "0.320082"  # 0.004 × 80.0205 mm
    reading = await bench.post("/v1/readings", instrument="feeler-1", unit="mm", bracket=trade.GAP)
    assert reading["bracket"] == {
        "lower": "0.35", "upper": "0.40", "leaves": ["0.35"], "beside": ["0.30", "0.40"],
    }  # fmt: skip
    assert reading["verdict"]["bracket"] == ["0.35", "0.40"]
    assert reading["verdict"]["result"] == "conforming"
    wide: Any = {"lower": "0.40", "upper": "0.50", "leaves": ["0.40"], "beside": ["0.35", "0.45"]}
    wide = await bench.post("/v1/readings", instrument="feeler-1", unit="mm", bracket=wide)
    assert wide["placement"]["reason"]["code"] == "finer-step-wanted"
    assert "try 0.45 mm" in wide["placement"]["reason"]["detail"]
    assert (await bench.next())["id"] == "measure-ring-gap/2"  # it stays open for a finer one


async def test_a_leaf_hidden_behind_another_is_kept_and_named(bench: Bench) -> None:
    await bench.measured()
    for digits in ("79.972", "79.957"):
        await bench.typed(digits, "mic-1")
    hidden: Any = {**trade.GAP, "beside": ["0.25", "0.40"]}
    reading = await bench.post("/v1/readings", instrument="feeler-1", unit="mm", bracket=hidden)
    assert reading["placement"]["reason"]["code"] == "hidden-leaf"
    assert (await bench.next())["id"] == "measure-ring-gap/1"


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ({}, "one value"),
        ({"value": "0.35", "bracket": {"lower": "0.35"}}, "one value"),
        ({"bracket": {}}, "one end"),
        ({"bracket": {"lower": "0.45", "upper": "0.40"}}, "lower end"),
        ({"bracket": {"leaves": ["0.10", "0.20"], "lower": "0.40"}}, "do not make"),
        ({"bracket": {"lower": 0.35}}, "bracket.lower"),
        ({"bracket": {"lower": "0.35", "beside": ["0.30"]}}, "beside"),
        ({"bracket": {"lower": "0.35", "below": "0.30"}}, "below"),
    ],
)
async def test_brackets_that_make_no_sense(bench: Bench, body: Any, says: str) -> None:
    problem = await bench.refused("/v1/readings", instrument="feeler-1", unit="mm", **body)
    assert says in problem["detail"], problem


async def test_findings_come_with_what_no_data_shows(bench: Bench) -> None:
    await bench.zeroed()
    await bench.typed(trade.BORES[0], "bore-1")
    found = await bench.get(f"{bench.build}/findings")
    assert all(one["detail"] for one in found["findings"])
    assert any("sister bore" in one["mistake"] for one in found["not_shown"])
    assert (await bench.http.get("/v1/builds/nowhere/findings")).status_code == 404


async def test_the_budget_of_a_reading_line_by_line(bench: Bench) -> None:
    await bench.zeroed()
    reading = await bench.typed(trade.BORES[0], "bore-1")
    budget = await bench.get(f"/v1/readings/{reading['seq']}/budget")
    assert budget["established"] is True
    lines = {one["name"]: one["standard_uncertainty"] for one in budget["lines"]}
    assert lines["calibration"] == pytest.approx(0.0005)
    assert lines["setting standard"] == pytest.approx(0.00025)
    assert lines["resolution"] == pytest.approx(0.001 / 12**0.5)  # GUM F.2.2.1
    assert sum(one["share"] for one in budget["lines"]) == pytest.approx(1)
    assert budget["expanded_uncertainty"] == reading["verdict"]["expanded_uncertainty"]
    stray = await bench.http.get("/v1/readings/1/budget")
    assert stray.status_code == 404
    bare = await bench.typed("21.0", "thermometer-1", "°C")
    answer = await bench.http.get(f"/v1/readings/{bare['seq']}/budget")
    assert answer.status_code == 409
    assert answer.json()["mend"]


@pytest.mark.parametrize(
    "path", ["preloads", "findings", "clearances", "story", "studies/x", "checks/x", "fits/x"]
)
async def test_a_build_that_is_not_there(bench: Bench, path: str) -> None:
    answer = await bench.http.get(f"/v1/builds/nowhere/{path}")
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"


async def test_a_store_of_all_this_is_proved_and_opens_as_it_was(tmp_path: Path) -> None:
    (tmp_path / "bench.toml").write_text(trade.BENCH, "utf-8")
    async with service(tmp_path) as listening, client(listening) as http:
        bench = Bench(http)
        await bench.measured(closing="0.004")
        await bench.post(f"{bench.build}/sets", step="zero-after/1", reason="slipped")
        await bench.post("/v1/temperatures", instrument="bore-1", value="21.0", unit="°C")
        await bench.post("/v1/settings", **trade.RING)
        for digits in ("0.000", *trade.BORES, "0.001"):
            await bench.typed(digits, "bore-1")
        for digits in ("79.972", "79.957"):
            await bench.typed(digits, "mic-1")
        await bench.post(
            f"{bench.build}/fits/piston-clearance", order={"1": "piston-2", "2": "piston-1"}
        )
        await bench.post("/v1/readings", instrument="feeler-1", unit="mm", bracket=trade.GAP)
        await bench.post("/v1/zeros", instrument="bore-1")
        await bench.typed("0.001", "bore-1")
        await bench.post(
            "/v1/extensions", instrument="click-1", tool_length="12", length="2", unit="in"
        )
        pull = {"instrument": "adapter-1", "unit": "N·m", "interval_us": 10_000, "torque": TORQUE}
        await bench.post("/v1/pulls", **pull)
        paths = [bench.build, f"{bench.build}/steps", f"{bench.build}/next", "/v1/readings",
                 "/v1/instruments", f"{bench.build}/findings", f"{bench.build}/story"]  # fmt: skip
        before = [await bench.get(path) for path in paths]
    proved = await asyncio.to_thread(run, "verify", str(tmp_path / "store"))
    assert proved.returncode == 0, proved.stdout + proved.stderr
    async with service(tmp_path) as listening, client(listening) as http:
        bench = Bench(http)
        after = [await bench.get(path) for path in paths]
    for found in (before, after):
        found[3] = found[3]["readings"]  # its next is the ledger's size, which each start adds to
    assert after == before


async def test_rework_scrap_and_concession_are_told_in_order(bench: Bench) -> None:
    await bench.ready()
    await bench.post(f"{bench.build}/reworks", part="cylinder", number=2, reason="Honed.")
    await bench.post(f"{bench.build}/scraps", part="piston", number=1, reason="Cracked.")
    story = (await bench.get(f"{bench.build}/story"))["story"]
    assert [one["kind"] for one in story] == ["rework", "scrap"]
    assert [one.get("reason") for one in story] == ["Honed.", "Cracked."]

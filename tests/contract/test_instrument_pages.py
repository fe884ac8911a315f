"""Instruments and control charts over HTTP: many builds of one pump, and what was done to them."""

from __future__ import annotations

import re
import statistics
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import httpx
import pytest
from pydantic import BaseModel

from api.documents import Charts, ChartState, InstrumentLife
from capture.archive import Archive
from tests.many_builds import BENCH, DRIFTED, FIRST, SECOND, TIGHT, Shop
from tests.served import served

BUILDS = 22


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """22 pumps built and closed, one begun, one whose measuring went wrong in every way."""
    folder = tmp_path_factory.mktemp("many")
    (folder / "bench.toml").write_text(BENCH, "utf-8")
    with served(folder) as up, httpx.Client(base_url=up["url"], timeout=30) as http:
        made = Shop(http, folder)
        made.build_many(BUILDS)
        yield made


def get(shop: Shop, path: str) -> Any:
    answer = shop.http.get(path)
    assert answer.status_code == 200, answer.text
    return answer.json()


def chart(shop: Shop, quantity: str, form: str = "") -> Any:
    return get(shop, f"/v1/charts/many-pump/{quantity}{form and '?form=' + form}")


def test_every_value_of_every_build_is_on_its_chart(shop: Shop) -> None:
    bore = chart(shop, "barrel-bore")
    assert [one["build"] for one in bore["points"]] == shop.builds
    shown = [[value["value"] for value in one["values"]] for one in bore["points"]]
    assert shown == shop.bores
    shaft = chart(shop, "shaft-diameter")
    assert (shaft["together"], shaft["form"]) == ("points", "mean-and-range")
    assert [[v["value"] for v in one["values"]] for one in shaft["points"]] == shop.shafts
    turns = chart(shop, "turns")
    assert [one["mean"] for one in turns["points"]] == shop.torques
    for value in bore["points"][3]["values"]:
        (seq,) = value["readings"]
        reading = get(shop, f"/v1/readings/{seq}")
        assert reading["placement"]["build"] == shop.builds[3]
        assert reading["verdict"]["measured"] == value["value"]
        assert reading["decision_seq"] == value["entry"]


def test_control_limits_by_the_printed_factors(shop: Shop) -> None:
    """A2 0.729, D4 2.282 of 4; d2 1.128, D4 3.267 of 2 (``outside/data/chart_constants.csv``)."""
    bore = chart(shop, "barrel-bore")
    groups = [[float(value) for value in group] for group in shop.bores]
    width = statistics.fmean(max(group) - min(group) for group in groups)
    centre = statistics.fmean(map(statistics.fmean, groups))
    assert float(bore["control"]["upper"]) == pytest.approx(centre + 0.729 * width, abs=2e-5)
    assert float(bore["control"]["lower"]) == pytest.approx(centre - 0.729 * width, abs=2e-5)
    assert float(bore["spread_control"]["upper"]) == pytest.approx(2.282 * width, abs=2e-5)
    torques = [float(one) for one in shop.torques]
    moving = statistics.fmean(abs(b - a) for a, b in pairwise(torques))
    turns = chart(shop, "turns")
    reach = 3 * moving / 1.128
    assert float(turns["control"]["upper"]) == pytest.approx(
        statistics.fmean(torques) + reach, abs=5e-4
    )
    assert float(turns["spread_control"]["upper"]) == pytest.approx(3.267 * moving, abs=5e-4)


def test_the_build_that_turned_hard_stands_out(shop: Shop) -> None:
    turns = chart(shop, "turns")
    assert not turns["trial"]
    out = [one["build"] for one in turns["points"] if "beyond" in one["signals"]]
    assert out == [shop.builds[TIGHT]]
    # beyond a control limit, and conforming all the same
    (value,) = turns["points"][TIGHT]["values"]
    reading = get(shop, f"/v1/readings/{value['readings'][0]}")
    assert reading["verdict"]["result"] == "conforming"


def test_revisions_stand_on_one_chart_with_their_own_limits_of_size(shop: Shop) -> None:
    shaft = chart(shop, "shaft-diameter")
    assert shaft["size_limits"] == [
        {"lower": "11.988", "upper": "12.010", "unit": "mm", "revisions": ["2"]},
        {"lower": "11.988", "upper": "12.012", "unit": "mm", "revisions": ["1"]},
    ]
    assert {one["revision"] for one in shaft["points"]} == {"1", "2"}


def test_another_kind_of_chart_and_one_that_does_not_suit(shop: Shop) -> None:
    means = chart(shop, "barrel-bore", "individuals")
    assert means["form"] == "individuals"
    assert means["points"][0]["mean"] == f"{statistics.fmean(map(float, shop.bores[0])):.5f}"
    answer = shop.http.get("/v1/charts/many-pump/turns?form=mean-and-range")
    assert answer.status_code == 422
    assert "form" in answer.json()["mend"]
    answer = shop.http.get("/v1/charts/many-pump/turns?from=1")
    assert answer.status_code == 422


@pytest.mark.parametrize(
    ("path", "names"),
    [
        ("/v1/charts/no-pump/turns", "many-pump"),
        ("/v1/charts/many-pump/no-size", "barrel-bore"),
        ("/v1/instruments/no-gauge/life", "bore-1"),
    ],
)
def test_what_is_not_there_says_what_is(shop: Shop, path: str, names: str) -> None:
    answer = shop.http.get(path)
    assert answer.status_code == 404
    assert names in answer.json()["mend"]
    page = shop.http.get(path.removeprefix("/v1").removesuffix("/life"), headers=BROWSER)
    assert page.status_code == 404


BROWSER = {"Accept": "text/html"}


@pytest.mark.parametrize(
    ("model", "path"),
    [
        (Charts, "/v1/charts"),
        (ChartState, "/v1/charts/many-pump/barrel-bore"),
        (ChartState, "/v1/charts/many-pump/turns"),
        (InstrumentLife, "/v1/instruments/bore-1/life"),
        (InstrumentLife, "/v1/instruments/adapter-1/life"),
    ],
)
def test_answers_are_of_the_form_that_is_documented(
    shop: Shop, model: type[BaseModel], path: str
) -> None:
    """Nothing more in them, nothing less (but an instrument, which has more, as elsewhere)."""
    found = get(shop, path)
    said = model.model_validate(found, strict=True).model_dump(exclude_unset=True)
    for each in (found, said):
        each.pop("instrument", None)
    assert said == found


def test_the_list_of_charts(shop: Shop) -> None:
    (spec,) = get(shop, "/v1/charts")["specs"]
    assert spec["name"] == "many-pump"
    assert [one["quantity"] for one in spec["charts"]] == [
        "barrel-bore", "shaft-diameter", "shaft-mean", "turns",
    ]  # fmt: skip
    turns = spec["charts"][-1]
    assert turns["builds"] == BUILDS
    assert turns["signals"] >= 1
    assert turns["means"] == shop.torques
    assert TIGHT + 1 in turns["stands_out"]
    assert len(turns["stands_out"]) == turns["signals"]
    page = shop.http.get("/charts").text
    assert page.count('class="signal"') == sum(one["signals"] for one in spec["charts"])
    assert 'data-result="nonconforming"' not in page


def test_the_life_of_a_bore_gauge(shop: Shop) -> None:
    life = get(shop, "/v1/instruments/bore-1/life")
    assert life["instrument"]["standing"]["state"] == "valid"
    moved = [one for one in life["zero_checks"] if one["steady"] is False]
    (drift,) = moved
    assert (drift["drift"], drift["readings"], drift["build"]) == (
        "0.004", 4, shop.builds[DRIFTED],
    )  # fmt: skip
    assert len(life["zero_checks"]) >= 2 * BUILDS
    assert [one["standard"] for one in life["settings"]] == ["ring-20", "ring-20"]
    assert life["readings"]["results"]["undecided"] == 4
    overdue = get(shop, "/v1/instruments/mic-1/life")["instrument"]["standing"]
    assert overdue["state"] == "overdue"
    assert overdue["days"] < 0


def test_charts_follow_void_rework_and_a_change_of_places(shop: Shop) -> None:
    """Whatever was done to a build, its chart holds the readings that its steps hold."""
    build = shop.begin(shop.spec(SECOND), BUILDS)

    def point() -> Any:
        found = chart(shop, "barrel-bore")
        (one,) = [each for each in found["points"] if each["build"] == build]
        return [(value["readings"], value["value"]) for value in one["values"]]

    def steps() -> Any:
        found = get(shop, f"/v1/builds/{build}/steps")["steps"]
        return [[one["reading"]] for one in found if one["characteristic"] == "barrel-bore"]

    pressed = [shop.press("bore-1", digits)["seq"] for digits in ("0.010", "0.011", "0.012")]
    left_out = chart(shop, "barrel-bore")["left_out"]
    assert {"build": build, "title": f"Pump {BUILDS + 1}", "why": "unfinished"} in left_out
    pressed.append(shop.press("bore-1", "0.013")["seq"])
    assert [one for one, _ in point()] == steps() == [[seq] for seq in pressed]
    shop.post(f"/v1/readings/{pressed[1]}/voids", reason="It rocked.")
    shop.press("bore-1", "0.014")
    assert [one for one, _ in point()] == steps()
    assert [value for _, value in point()] == ["20.010", "20.014", "20.012", "20.013"]
    shop.post(f"/v1/builds/{build}/reworks", part="barrel", number=3, reason="Honed.")
    shop.press("bore-1", "0.020")
    assert [one for one, _ in point()] == steps()
    seq = point()[0][0][0]
    shop.post(f"/v1/readings/{seq}/corrections", value="0.009", unit="mm", reason="Misread.")
    assert [one for one, _ in point()] == steps()
    assert [value for _, value in point()] == ["20.009", "20.014", "20.020", "20.013"]
    for name, number in (("B1", 1), ("B4", 4)):
        shop.post(f"/v1/builds/{build}/assignments", part="barrel", number=number, piece=name)
    for digits in ("0.010", "0.015"):
        shop.press("bore-1", digits)
    shop.post(f"/v1/builds/{build}/assignments", part="barrel", number=1, piece="B4")
    assert [one for one, _ in point()] == steps()
    assert [value for _, value in point()] == ["20.015", "20.014", "20.020", "20.010"]
    shop.post(f"/v1/builds/{build}/close", reason="For the test.")


def test_a_lone_spec_has_no_chart_in_the_list(shop: Shop) -> None:
    text = FIRST.replace('id = "many-pump"', 'id = "lone-pump"')
    build = shop.post("/v1/builds", spec=shop.spec(text), title="Alone")["id"]
    names = {spec["name"]: spec["charts"] for spec in get(shop, "/v1/charts")["specs"]}
    assert names["lone-pump"] == []
    answer = shop.http.get("/v1/charts/lone-pump/turns")
    assert answer.status_code == 404
    assert "nothing yet" in answer.json()["mend"]
    shop.post(f"/v1/builds/{build}/close", reason="For the test.")


# pages ----------------------------------------------------------------------------------------


def words(page: str) -> str:
    """What a page says."""
    body = re.sub(r"<(svg|script|style)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body))


@pytest.mark.parametrize(
    "path",
    [
        "/instruments",
        "/instruments/bore-1",
        "/instruments/mic-1",
        "/charts",
        "/charts/many-pump/barrel-bore",
        "/charts/many-pump/turns",
        "/charts/many-pump/shaft-diameter?form=individuals",
        "/charts/many-pump/barrel-bore?form=mean-and-deviation",
    ],
)
def test_pages_speak_both_languages(shop: Shop, path: str) -> None:
    sign = "&" if "?" in path else "?"
    said = {}
    for language in ("en", "de"):
        answer = httpx.get(f"{shop.http.base_url}{path}{sign}language={language}")
        assert answer.status_code == 200, answer.text
        assert f'<html lang="{language}">' in answer.text
        assert " style=" not in answer.text
        said[language] = words(answer.text)
    assert said["en"] != said["de"]


def test_pages_say_it_plainly(shop: Shop) -> None:
    shelf = words(shop.http.get("/instruments").text)
    assert re.search(r"Overdue for \d+ days: it was due 2020-01-31", shelf)
    assert "No certificate: uncertainty not established" in shelf
    assert "Calibration overdue: mic-1" in shelf
    assert "Calibration due within" not in shelf
    page = shop.http.get("/charts/many-pump/turns").text
    assert "beyond a control limit" in words(page)
    assert "Control limits and limits of size are two things" in words(page)
    for link in (f"/builds/{shop.builds[TIGHT]}", "/readings/"):
        assert f'href="{link}' in page
    assert page.count("<svg viewBox") == 2 or page.count("<svg ") >= 3
    life = shop.http.get("/instruments/bore-1").text
    assert 'href="/history?instrument=bore-1"' in life
    assert "Zero moved 0.004 mm, U = 0.0021 mm" in words(life)


def test_pages_link_only_to_readings_and_entries_that_are_there(shop: Shop) -> None:
    page = shop.http.get("/charts/many-pump/shaft-mean").text
    page += shop.http.get("/instruments/bore-1").text
    links = sorted(set(re.findall(r'href="(/(?:readings|entries)/\d+)"', page)))
    assert len(links) > 20
    for link in links[:: len(links) // 12]:
        assert shop.http.get(f"/v1{link}").status_code == 200, link


def test_what_is_asked_goes_by_index(shop: Shop) -> None:
    """Whatever these pages ask the store is found by key: no table is looked through."""
    archive = Archive(shop.folder / "store")
    asked: list[str] = []
    archive._connection().set_trace_callback(asked.append)
    build = shop.builds[0]
    archive.records_of("zero", "bore-1")
    archive.records_of("undecodable", None)
    archive.decisions_of("bore-1")
    archive.counted_of_build(build)
    archive.mark_of_build(build)
    archive._connection().set_trace_callback(None)
    plans = [
        (query, step[-1])
        for query in asked
        for step in archive._connection().execute(f"EXPLAIN QUERY PLAN {query}")
    ]
    archive.close()
    assert len(asked) == 6
    assert [one for one in plans if one[1].startswith("SCAN")] == []

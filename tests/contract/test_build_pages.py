"""The pages of builds say what the interface says: every value, verdict and total on them is held
against ``GET /v1/readings`` and ``GET /v1/builds/{id}``, whose numbers are checked elsewhere."""

from __future__ import annotations

import re
from collections import Counter
from decimal import Decimal
from typing import Any

import httpx
import pytest
from lxml import html

from tests.contract.trade import GAP, RING, SPEC, TORQUE, Bench

Json = dict[str, Any]
PULL = {"instrument": "adapter-1", "unit": "N·m", "torque": TORQUE, "interval_us": 10_000}


async def shown(bench: Bench, path: str, status: int = 200, language: str = "en") -> Any:
    """A page, parsed."""
    answer = await bench.http.get(path, headers={"accept-language": language})
    assert answer.status_code == status, answer.text
    assert answer.headers["cache-control"] == "no-store"
    return html.fromstring(answer.content)


def words(node: Any) -> str:
    return " ".join(node.text_content().split())


def page_of(bench: Bench) -> str:
    return bench.build.removeprefix("/v1")


async def built(bench: Bench, diameters: tuple[str, str] = ("79.972", "79.957")) -> None:
    """A whole twin but for its study and tool check, with a trace."""
    await bench.measured()
    for digits in diameters:
        await bench.typed(digits, "mic-1")
    for _ in range(2):
        await bench.post("/v1/readings", instrument="feeler-1", unit="mm", bracket=GAP)
    await bench.post("/v1/pulls", **PULL)
    await bench.typed("50.2", "adapter-1", "N·m")
    bracket = {"lower": "4.5", "upper": "5.0"}
    await bench.post("/v1/readings", instrument="click-1", unit="N·m", bracket=bracket)


async def readings(bench: Bench) -> list[Json]:
    """Those that answer a step now."""
    name = bench.build.rpartition("/")[2]
    found = (await bench.get(f"/v1/readings?build={name}&limit=1000"))["readings"]
    steps = (await bench.get(f"{bench.build}/steps"))["steps"]
    kept = {step["reading"] for step in steps}
    return [one for one in found if one["seq"] in kept]


async def test_every_reading_stands_on_the_page_with_its_size_and_verdict(bench: Bench) -> None:
    await built(bench)
    page = await shown(bench, page_of(bench))
    state = await bench.get(bench.build)

    assert state["title"] in words(page.find(".//h1"))
    for one in await readings(bench):
        if one["placement"]["kind"] == "zero":
            continue
        links = page.xpath(f'//td[@data-result]//a[@href="/readings/{one["seq"]}"]')
        assert links, one["placement"]["step"]
        cell = links[0].xpath("ancestor::td")[0]
        assert cell.get("data-result") == one["verdict"]["result"]
        assert Decimal(links[0].get("title").split()[-2]) == Decimal(one["verdict"]["measured"])
        if "bracket" in one:
            ends = one["verdict"]["bracket"]
            assert words(links[0]) == "–".join(ends)
        else:
            near = abs(Decimal(words(links[0])) - Decimal(one["verdict"]["measured"]))
            assert near <= Decimal(one["verdict"]["expanded_uncertainty"] or "1") / 10


async def test_the_totals_are_those_of_the_build(bench: Bench) -> None:
    await built(bench)
    page = await shown(bench, page_of(bench))
    state = await bench.get(bench.build)

    counts = state["counts"]
    told: dict[str, Json] = {}
    for line in page.xpath('//div[@id="verdicts"]//p[@class="counted"]'):
        told[line.get("data-of")] = {
            one.xpath(".//@data-result")[0]: int(one.xpath('string(.//span[@class="number"])'))
            for one in line.getnext().xpath("./li[.//*[@data-result]]")
        }
    assert told == {
        name: {word: n for word, n in found.items() if n} for name, found in counts.items()
    }
    # What counts about the engine and about gauges is all that ``results`` counts.
    sums = Counter(counts["readings"]) + Counter(counts["gauge_checks"])
    assert sums == +Counter(state["results"])
    assert sum(counts["gauge_checks"].values()) == sum(
        one["placement"]["kind"] in ("zero", "check", "study") for one in await readings(bench)
    )
    assert Counter(one["verdict"]["result"] for one in state["derived"]) == +Counter(
        counts["derived"]
    )

    sheet = html.fromstring((await bench.http.get(f"{bench.build}/sheet?language=en")).content)
    rows = {words(row[0]): [words(one) for one in row[1:]] for row in sheet.xpath("//tr")}
    for name, called in (
        ("readings", "Readings that count"),
        ("derived", "Derived quantities"),
        ("gauge_checks", "Gauge checks: no sizes"),
    ):
        assert rows[called][:4] == [str(number) for number in counts[name].values()]
    assert f"{state['steps_done']} of {state['steps_total']} steps" in words(page)

    left = sum(not step["done"] for step in (await bench.get(f"{bench.build}/steps"))["steps"])
    assert f"{left} of {state['steps_total']} steps are missing" in words(
        page.get_element_by_id("missing")
    )
    size = (await bench.get("/v1/entries?after=0&limit=1000"))["next"]
    assert f"at entry {size} of the ledger" in words(page)


async def test_derived_quantities_stand_with_what_they_rest_on(bench: Bench) -> None:
    await built(bench)
    page = await shown(bench, page_of(bench))
    bores: dict[int, set[str]] = {
        one["placement"]["number"]: set()
        for one in await readings(bench)
        if one["placement"]["characteristic"] == "bore"
    }
    for one in await readings(bench):
        if one["placement"]["characteristic"] in ("bore", "piston-diameter"):
            bores[one["placement"]["number"]].add(f"/readings/{one['seq']}")
    for derived in (await bench.get(bench.build))["derived"]:
        row = page.xpath(
            f'//article[@id="derived-{derived["id"]}"]//tr[th[normalize-space()="'
            f'{derived["number"]}"]]'
        )[0]
        assert row.xpath(".//td/@title")[0] == derived["verdict"]["measured"]
        assert row.xpath(".//@data-result")[0] == derived["verdict"]["result"]
        assert (
            set(row.xpath('.//a[starts-with(@href, "/readings/")]/@href'))
            == bores[derived["number"]]
        )
        assert row.xpath(f'.//a[@href="/entries/{derived["seq"]}"]')


async def test_the_tightening_record_shows_its_traces_and_the_drawings_are_there(
    bench: Bench,
) -> None:
    await built(bench)
    page = await shown(bench, page_of(bench))
    pulled = next(one for one in await readings(bench) if "trace" in one)
    picture = page.xpath('//section[@id="fasteners"]//img')[0]
    wanted = f"/v1/traces/{pulled['trace']['sha256']}?as=svg&reading={pulled['seq']}"
    assert picture.get("src") == wanted
    drawn = await bench.http.get(wanted)
    assert drawn.headers["content-type"] == "image/svg+xml"
    for section in ("sizes", "derived", "fasteners"):
        assert page.xpath(f'//section[@id="{section}"]//div[contains(@class, "drawing")]//*[@role]')
    about = (await bench.get(f"{bench.build}/preloads"))["preloads"][0]
    assert f"about {about['preload_newton']} N" in words(page.get_element_by_id("fasteners"))


async def test_what_was_reworked_or_voided_is_superseded_and_told(bench: Bench) -> None:
    await bench.measured()
    first = await bench.typed("79.990", "mic-1")
    assert first["verdict"]["result"] == "nonconforming"
    await bench.post(f"{bench.build}/reworks", part="piston", number=1, reason="Turned down.")
    await bench.typed("79.961", "mic-1")
    slip = await bench.typed("79.957", "mic-1")
    voided = await bench.post(f"/v1/readings/{slip['seq']}/voids", reason="Held askew.")

    page = await shown(bench, page_of(bench))
    table = page.get_element_by_id("of-measure-piston-diameter")
    assert words(table.find(".//summary")) == "1 superseded reading"
    assert table.xpath(f'.//details//a[@href="/readings/{first["seq"]}"]')
    assert not table.xpath(f'.//td[@data-result]//a[@href="/readings/{first["seq"]}"]')
    assert "pass 2" in words(table)
    story = words(page.get_element_by_id("story"))
    assert "Turned down." in story
    assert "Held askew." in story
    assert page.xpath(f'//section[@id="story"]//details//a[@href="/readings/{slip["seq"]}"]')
    acts = [one.get("act") for one in (await bench.get(f"{bench.build}/story"))["story"]]
    assert acts == [None, "void"]
    assert voided["placement"]["reason"]["code"] == "void"


async def test_a_superseded_bracket_is_told_by_its_ends(bench: Bench) -> None:
    await bench.ready()
    await bench.post(f"{bench.build}/reworks", part="ring", number=1, reason="Filed.")
    page = await shown(bench, page_of(bench))
    (struck,) = page.get_element_by_id("of-measure-ring-gap").xpath(".//details//s")
    assert words(struck) == "0.35–0.40 mm"


async def test_what_holds_and_what_is_missing_is_said_plainly(bench: Bench) -> None:
    await bench.measured()
    bad = await bench.typed("79.990", "mic-1")
    page = await shown(bench, page_of(bench))
    holds = page.get_element_by_id("holds")
    assert "Piston diameter" in words(holds)
    assert holds.xpath(f'.//a[@href="/readings/{bad["seq"]}"]')
    assert "still open" in words(page)
    missing = page.get_element_by_id("missing")
    rows = {words(row.find("th")): words(row) for row in missing.xpath(".//tbody/tr")}
    assert "waits for" in rows["Cap bolts"]
    assert "open now" in rows["Piston diameter"]
    assert page.xpath('//p[@class="marks"]//span[@class="simulated"]')
    assert page.xpath('//p[@class="marks"]//span[@class="invented"]')

    await bench.post(f"{bench.build}/concessions",
                     subject="measure-piston-diameter/1", reason="Customer knows.")  # fmt: skip
    page = await shown(bench, page_of(bench))
    assert "Customer knows." in words(page.get_element_by_id("of-measure-piston-diameter"))
    # Its clearance is too small too, and still holds.
    holds = words(page.get_element_by_id("holds"))
    assert "Piston clearance" in holds
    assert "Piston diameter" not in holds


async def test_studies_and_tool_checks_stand_with_their_readings(bench: Bench) -> None:
    await bench.open()
    steps = (await bench.get(f"{bench.build}/steps"))["steps"]
    sizes = ("80.001", "80.011", "80.002", "80.012", "80.001", "80.012", "80.003", "80.011")
    torques = ("99", "20.1", "20.2", "104.1", "96.1")
    taken = set()
    for kind, values, gauge, unit in (
        ("study", sizes, "mic-1", "mm"),
        ("check", torques, "adapter-1", "N·m"),
    ):
        wanted = [step["id"] for step in steps if step["kind"] == kind]
        for step, value in zip(wanted, values, strict=True):
            await bench.post(f"{bench.build}/choose", step=step)
            taken.add(f"/readings/{(await bench.typed(value, gauge, unit))['seq']}")
    gauges = (await shown(bench, page_of(bench))).get_element_by_id("gauges")
    assert set(gauges.xpath('.//a[starts-with(@href, "/readings/")]/@href')) == taken
    study = await bench.get(f"{bench.build}/studies/mic-study")
    for sentence in study["result"]["sentences"]:
        assert " ".join(sentence.split()) in words(gauges)
    check = await bench.get(f"{bench.build}/checks/click-check")
    assert check["conforming"] is False
    assert "Nonconforming" in words(gauges)
    assert " · ".join(check["points"][1]["deviations_percent"]) in words(gauges)


async def test_two_builds_side_by_side(bench: Bench) -> None:
    await built(bench)
    one, first = page_of(bench), await readings(bench)
    await built(bench, ("79.973", "79.990"))
    other, second = page_of(bench).rpartition("/")[2], await readings(bench)

    page = await shown(bench, f"{one}/compare/{other}")
    by_step = [{r["placement"]["step"]: r for r in some} for some in (first, second)]
    differ = 0
    for name, reading in by_step[1].items():
        if reading["placement"]["kind"] == "zero":
            continue
        before = by_step[0][name]
        row = page.xpath(f'//tr[.//a[@href="/readings/{reading["seq"]}"]]')[0]
        assert row.xpath(f'.//a[@href="/readings/{before["seq"]}"]'), name
        if "bracket" in reading:  # what lies between two ends is not shown as their middle
            assert words(row.xpath("./td")[0]) == "–".join(before["verdict"]["bracket"])
            assert words(row.xpath("./td[last()]")[0]) == ""
            assert not row.xpath("./td[last()]/@title")
            continue
        exact = Decimal(reading["verdict"]["measured"]) - Decimal(before["verdict"]["measured"])
        # Sizes brought to 20 °C have no end: the interface says twelve digits of them.
        assert abs(Decimal(row.xpath("./td[last()]/@title")[0]) - exact) < Decimal("1e-9")
        changed = reading["verdict"]["result"] != before["verdict"]["result"]
        assert (row.get("class") == "differs") is changed
        differ += changed
    assert differ == 1
    difference = page.xpath('//section[h2[@id="measure-measure-piston-diameter"]]//td[last()]')
    assert words(difference[0]) == "+0.001"  # of sizes as many digits as they have
    assert words(difference[1]).startswith("+0.033 ")
    counted = re.search(r"(\d+) of the (\d+) values", words(page.get_element_by_id("differ")))
    assert counted is not None
    derived = [(await bench.get(f"/v1{each}"))["derived"] for each in (one, f"/builds/{other}")]
    results = [{(d["id"], d["number"]): d["verdict"]["result"] for d in some} for some in derived]
    more = sum(results[1][key] != result for key, result in results[0].items())
    assert int(counted[1]) == differ + more

    back = await shown(bench, f"/builds/{other}/compare/{one.rpartition('/')[2]}")
    cell = back.xpath('//section[h2[@id="measure-measure-piston-diameter"]]//td[last()]')[0]
    assert words(cell) == "−0.001"
    assert f"The verdict differs in {counted[1]} of the {counted[2]} values both have." in words(
        page
    )
    heads = words(page.xpath('//section[h2[@id="measure-measure-bore"]]//thead')[0])
    titles = [(await bench.get(f"/v1{each}"))["title"] for each in (one, f"/builds/{other}")]
    assert all(title in heads for title in titles)
    for row in page.xpath('//section[h2[starts-with(@id, "derived-")]]//tbody/tr'):
        sizes = [words(each).partition(" ")[0] for each in row.xpath("./td[@class='number']")]
        assert len({len(each.partition(".")[2]) for each in sizes}) == 1, sizes
    only = await shown(bench, f"{one}/compare/{other}?only=differ")
    assert len(only.xpath("//tbody/tr")) == int(counted[1])
    chooser = await shown(bench, f"{one}/compare")
    assert chooser.xpath("//select/option/@value") == [other]
    led = await bench.http.get(f"/builds/compare?one={one[8:]}&other={other}")
    assert led.status_code == 303
    assert led.headers["location"] == f"{one}/compare/{other}"


async def test_two_revisions_are_compared_by_what_both_have_and_two_specs_not(
    bench: Bench,
) -> None:
    await built(bench)
    one = page_of(bench)

    async def opened(spec: str) -> str:
        made = await bench.http.post("/v1/specs", content=spec.encode())
        build = await bench.post("/v1/builds", spec=made.json()["id"], title="Other")
        return str(build["id"])

    revised = SPEC.replace('revision = "1"', 'revision = "2"').replace(
        '[[operation]]\nturn = "turns"\nafter', '[[operation]]\nid = "spin"\nturn = "turns"\nafter'
    )
    page = await shown(bench, f"{one}/compare/{await opened(revised)}")
    assert "Two revisions of one spec (1 and 2)" in words(page)
    assert "Only in the first: Turning torque" in words(page)
    assert "Only in the second: Turning torque" in words(page)
    assert page.xpath('//h2[@id="measure-measure-bore"]')
    assert not page.xpath('//h2[@id="turn-turn-turns"]')

    stranger = await opened(SPEC.replace('id = "trade-twin"', 'id = "another-twin"'))
    page = await shown(bench, f"{one}/compare/{stranger}", 409)
    assert "not of one spec" in words(page)
    assert "trade-twin" in words(page)
    assert "another-twin" in words(page)
    assert not page.xpath("//table")


async def test_builds_are_listed_newest_first_and_in_parts(bench: Bench) -> None:
    empty = await shown(bench, "/builds")
    assert "No build was opened" in words(empty)
    await bench.measured()
    spec = (await bench.get("/v1/specs"))["specs"][0]["id"]
    for number in range(12):
        await bench.post("/v1/builds", spec=spec, title=f"Twin {number}")
    ids = [one["id"] for one in (await bench.get("/v1/builds"))["builds"]][::-1]
    page = await shown(bench, "/builds")
    listed = page.xpath("//section/h2/a/@href")
    assert listed == [f"/builds/{one}" for one in ids[:12]]
    older = page.xpath('//a[starts-with(@href, "/builds?before=")]/@href')[0]
    rest = await shown(bench, older)
    assert rest.xpath("//section/h2/a/@href") == [f"/builds/{ids[12]}"]
    assert "simulated" in words(rest.xpath('//p[@class="marks"]')[0])
    paths = rest.xpath('//ul[@class="ways"]//a/@href')
    first = f"/builds/{ids[12]}"
    assert paths == [first, f"/v1{first}/sheet", f"/v1{first}/sheet.pdf", f"{first}/compare"]


async def test_a_page_shows_as_many_rows_as_asked_and_what_needs_a_look_first(
    bench: Bench,
) -> None:
    await bench.ready()
    page = await shown(bench, f"{page_of(bench)}?rows=1")
    table = page.get_element_by_id("of-measure-piston-diameter")
    assert len(table.xpath(".//tbody/tr")) == 1
    assert "1 more" in words(table)
    whole = page.xpath('//a[starts-with(@href, "?rows=")]')
    assert whole
    await bench.typed("79.957", "mic-1")


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/builds/b999", 404),
        ("/builds/b999/compare", 404),
        ("/builds/b999/compare/b998", 404),
        ("/builds/b1/compare/b1", 422),
        ("/builds?before=x", 422),
        ("/builds/b1?rows=0", 422),
        ("/builds/b1?row=10", 422),
    ],
)
async def test_a_mistyped_address_is_answered_clearly(bench: Bench, path: str, status: int) -> None:
    answer = await bench.http.get(path)
    assert answer.status_code == status
    assert answer.json().get("mend") or answer.json()["errors"]


async def test_the_page_speaks_german(bench: Bench) -> None:
    await bench.measured()
    page = await shown(bench, page_of(bench), language="de")
    assert page.get("lang") == "de"
    assert words(page.get_element_by_id("sizes-title")) == "Maße"
    assert httpx.URL(page_of(bench)).path == page_of(bench)


async def test_a_drawing_that_leaves_numbers_out_says_so(bench: Bench) -> None:
    spec = SPEC.replace("count = 2\nposition", "count = 13\nposition").replace(
        'title = "Cylinder"\ncount = 2', 'title = "Cylinder"\ncount = 13'
    )
    made = await bench.http.post("/v1/specs", content=spec.encode())
    build = await bench.post("/v1/builds", spec=made.json()["id"], title="Thirteen")
    bench.build = f"/v1/builds/{build['id']}"
    await bench.post("/v1/settings", **RING)
    await bench.typed("20.0", "thermometer-1", "°C")
    await bench.typed("0.000", "bore-1")
    for _ in range(26):
        await bench.typed("0.010", "bore-1")
    page = await shown(bench, page_of(bench))
    bores = page.get_element_by_id("of-measure-bore")
    assert words(bores.xpath('.//div[@class="drawing"]/p')[0]).startswith("Drawn are the first 12;")

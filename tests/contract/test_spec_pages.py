"""The pages about specs: tried, recorded byte for byte, and a build opened, with plain forms."""

from __future__ import annotations

import hashlib
import html
import re
import tomllib
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import httpx
import jsonschema_rs
import pytest
from lxml import html as markup

from api.labels.catalogue import labels
from api.posted import Field
from api.spec_changes import MOST_COMPARED, MOST_SHOWN, Changes, changes
from api.starter import starter
from tests.running import SPEC, client, service

REVERSED = SPEC.replace('lower_limit_of_size = "24.990"', 'lower_limit_of_size = "25.090"')


@pytest.fixture
async def http(tmp_path: Path) -> AsyncIterator[httpx.AsyncClient]:
    async with service(tmp_path) as listening, client(listening) as made:
        yield made


async def size(http: httpx.AsyncClient) -> int:
    return int((await http.get("/v1/health")).json()["size"])


async def tried(http: httpx.AsyncClient, text: str, **more: Any) -> httpx.Response:
    return await http.post("/specs/try", data={"text": text}, **more)


def words(answer: httpx.Response) -> str:
    """What a person reads of a page, on one line."""
    main = markup.fromstring(answer.text).find(".//main")
    assert main is not None
    return " ".join(" ".join(str(text) for text in main.itertext()).split())


def filled_in(answer: httpx.Response) -> str:
    """What stands in the text area. Its first line end is markup (HTML standard,
    how a textarea is parsed; from memory)."""
    area = markup.fromstring(answer.text).get_element_by_id("text")
    return str(area.text).removeprefix("\n")


def kept(answer: httpx.Response) -> dict[str, str]:
    """The hidden fields of the form that records what was tried."""
    page = markup.fromstring(answer.text)
    (form,) = [one for one in page.forms if one.action == "/specs/record"]
    return {str(name): str(value) for name, value in form.form_values()}


async def recorded(http: httpx.AsyncClient, data: bytes, name: str = "pump.toml") -> str:
    """Tries a file, records it, and gives the address it is shown at."""
    answer = await http.post("/specs/try", files={"file": (name, data, "text/plain")})
    assert answer.status_code == 200, words(answer)
    done = await http.post("/specs/record", data=kept(answer))
    assert done.status_code == 303, done.text
    return done.headers["location"]


async def test_an_empty_bench_leads_to_the_starter(http: httpx.AsyncClient) -> None:
    answer = await http.get("/specs")
    assert answer.status_code == 200
    assert "No spec is on record yet" in words(answer)
    filled = await http.get("/specs?from=starter")
    assert filled_in(filled) == starter().decode()
    assert (await http.get("/specs/starter.toml")).content == starter()
    schema = await http.get("/specs/schema.json")
    valid = jsonschema_rs.validator_for(schema.json()).is_valid(tomllib.loads(SPEC))
    assert (schema.headers["content-type"], valid) == ("application/schema+json", True)


async def test_errors_stand_with_their_line_and_mend_and_nothing_is_stored(
    http: httpx.AsyncClient,
) -> None:
    before = await size(http)
    text = REVERSED.replace('measure = "diameter"', 'measure = "diametre"')
    answer = await tried(http, text.replace("\n", "\r\n"))  # as a browser sends it

    assert answer.status_code == 422
    said = words(answer)
    line = text[: text.index('"25.090"')].count("\n") + 1
    assert re.search(rf"Error Line {line} characteristic\[diameter\]\.lower_limit_of_size", said)
    assert 'lower_limit_of_size = "25.090"' in said
    assert "is above the upper limit" in said
    assert 'Mend: write "diameter"' in said
    assert "Record this spec" not in said
    assert filled_in(answer) == text
    assert await size(http) == before


async def test_a_broken_file_is_shown_as_text(http: httpx.AsyncClient) -> None:
    evil = 'title = "</textarea><script>alert(1)</script>" oops'
    answer = await tried(http, evil)
    assert answer.status_code == 422
    assert "<script>alert" not in answer.text
    assert html.escape(evil, quote=False).replace('"', "&#34;") in answer.text
    assert "TOML" in words(answer)
    binary = await http.post("/specs/try", files={"file": ("a.toml", b"\xff\xfe\x00", "")})
    assert binary.status_code == 422
    assert "UTF-8" in words(binary)


async def test_what_this_bench_cannot_do_is_told_with_the_walk(http: httpx.AsyncClient) -> None:
    answer = await tried(http, starter().decode())
    said = words(answer)

    assert answer.status_code == 200
    assert "On this bench Line" in said
    assert 'nobody can do "measure-ring-gap" on this bench' in said
    assert "nothing on this bench suits" in said
    assert "Steps 2\N{EN DASH}9 Measure: Cylinder bore Part Cylinder 1\N{EN DASH}2" in said
    assert "Step 32 Turn: Torque that turns the crankshaft" in said
    assert "Caution: Keep fingers clear of the counterweights." in said
    assert "Limits 0.0040 … 0.0070 × Cylinder bore, at the widest about 0.269 to 0.481 mm" in said
    assert "Then judged Piston clearance: 0.030 to 0.060 mm" in said
    drawings = markup.fromstring(answer.text).findall(".//div[@class='drawing']/svg")
    assert len(drawings) == 8  # all but the confirmations


async def test_what_is_recorded_is_byte_for_byte_what_was_tried(http: httpx.AsyncClient) -> None:
    data = SPEC.replace("\n", "\r\n").replace("Invented pump", "Erfundene Pümpe").encode()
    where = await recorded(http, data)
    digest = hashlib.sha256(data).hexdigest()
    assert where == f"/specs/{digest}?recorded"
    assert (await http.get(f"/v1/specs/{digest}")).content == data

    page = await http.get(where)
    said = words(page)
    assert "The spec is recorded." in said
    assert "Erfundene Pümpe for tests" in said
    assert digest in said
    assert "Drain the pump before it is opened." in said
    lines = markup.fromstring(page.text).find_class("line")
    assert [str(one.text).rstrip("\n") for one in lines] == data.decode().splitlines()

    again = await http.post("/specs/try", files={"file": ("pump.toml", data, "text/plain")})
    assert "on record already" in words(again)
    listed = await http.get("/specs")
    assert f"/specs/{digest}" in listed.text
    assert "none yet" in words(listed)
    later = await http.get(f"/specs?from={digest}")
    assert filled_in(later) == data.decode().replace("\r\n", "\n")


async def test_one_form_opens_one_build(http: httpx.AsyncClient) -> None:
    where = (await recorded(http, SPEC.encode())).partition("?")[0]
    page = markup.fromstring((await http.get(where)).text)
    (form,) = [one for one in page.forms if one.action == f"{where}/builds"]
    fields = {**dict(form.form_values()), "title": " Pump 7 "}
    first = await http.post(f"{where}/builds", data=fields)
    twice = await http.post(f"{where}/builds", data=fields)

    assert (first.status_code, twice.headers["location"]) == (303, first.headers["location"])
    builds = (await http.get("/v1/builds")).json()["builds"]
    assert [(one["title"], one["active"]) for one in builds] == [("Pump 7", True)]
    shown = await http.get(first.headers["location"])
    assert "The build Pump 7 is open" in words(shown)
    assert f'href="/builds/{builds[0]["id"]}"' in shown.text
    assert "Pump 7" in words(await http.get("/specs"))

    for title in (" ", "a\x07b", "x" * 201):
        refused = await http.post(f"{where}/builds", data={"title": title})
        assert refused.status_code == 422
        assert "This is no title of a build" in words(refused)
    assert len((await http.get("/v1/builds")).json()["builds"]) == 1


async def test_a_new_revision_says_what_changed(http: httpx.AsyncClient) -> None:
    first = (await recorded(http, SPEC.encode())).partition("?")[0]
    assert "Changed since" not in words(await http.get(first))
    text = SPEC.replace('revision = "1"', 'revision = "2"').replace("24.990", "24.992")
    for page in (await tried(http, text), await http.get(await recorded(http, text.encode()))):
        said = words(page)
        assert "Changed since revision 1" in said
        assert f'href="{first}"' in page.text
        line = SPEC[: SPEC.index("24.990")].count("\n") + 1
        assert (
            f'{line} - lower_limit_of_size = "24.990" {line} + lower_limit_of_size = "24.992"'
            in (said)
        )
        (shown,) = markup.fromstring(page.text).find_class("changes")
        assert "Sleeve diameter" not in shown.text_content()  # what has not changed
    assert "Changed since" not in words(await tried(http, SPEC))  # it is on record itself


def test_long_texts_are_not_compared() -> None:
    many = "\n".join(map(str, range(1000)))
    found = changes(many, many.replace("1", "x"))
    assert found is not None
    assert (len(found.lines), found.more > 0) == (MOST_SHOWN, True)
    assert changes("a\n" * (MOST_COMPARED + 1), "b") is None
    assert changes("a\nb\nc\nd", "a\nb\nc\nd") == Changes((), 0)
    two = changes("a\nb\nc\nd\ne\nf", "A\nb\nc\nd\ne")
    assert two is not None
    assert [(one.sign, one.line, one.text) for one in two.lines] == [
        ("-", 1, "a"), ("+", 1, "A"), (" ", 2, "b"), ("…", 0, ""), (" ", 5, "e"), ("-", 6, "f"),
    ]  # fmt: skip


async def test_what_is_not_there_or_comes_from_elsewhere(http: httpx.AsyncClient) -> None:
    before = await size(http)
    for path in ("/specs/nonsense", f"/specs/{'0' * 64}", "/specs?from=nonsense"):
        answer = await http.get(path)
        assert answer.status_code == 404, path
    assert (await http.post(f"/specs/{'0' * 64}/builds", data={"title": "x"})).status_code == 404
    for path in ("/specs/try", "/specs/record", f"/specs/{'0' * 64}/builds"):
        strange = await http.post(path, headers={"Origin": "http://evil.example"}, data={"a": "b"})
        assert strange.status_code == 403, path
        assert (await http.post(path, json={})).status_code == 415
        # where a form led to, asked for again: in another language, say
        back = await http.get(f"{path}?language=de", follow_redirects=path.count("/") == 2)
        assert back.status_code == (200 if path.count("/") == 2 else 303)
        assert path.count("/") > 2 or labels("de").text("spec.about") in words(back)
    assert (await http.post("/specs/try", data={"text": " \n"})).status_code == 303
    for fields in ({}, {"kept": "%%%"}, {"kept": "gA=="}):
        refused = await http.post("/specs/record", data=fields or {"other": "1"})
        assert refused.status_code == 422
        assert "Try the spec again" in refused.json()["mend"]
    assert await size(http) == before


async def test_it_speaks_german(http: httpx.AsyncClient) -> None:
    german = labels("de")
    said = words(await tried(http, starter().decode(), headers={"Accept-Language": "de"}))
    assert german.text("spec.walk.title") in said
    assert "Schritte 2\N{EN DASH}9 Messen: Cylinder bore" in said
    assert "Grenzen 68.000 bis 68.015 mm" in said
    errors = words(await tried(http, REVERSED, headers={"Accept-Language": "de"}))
    assert "1 Fehler" in errors
    assert "Abhilfe:" in errors


def test_a_field_of_a_form() -> None:
    assert Field(b"a\r\nb\nc\xff").text == "a\nb\nc\N{REPLACEMENT CHARACTER}"

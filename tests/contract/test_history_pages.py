"""The auditor's pages and the filters behind them, over HTTP: what stands on them, where they lead,
and what is said to an address that names nothing."""

from __future__ import annotations

import csv
import html
import io
import json
import re
import zipfile
from collections.abc import AsyncIterator
from hashlib import sha256
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.history.proof import steps_of
from capture.ledger import tree
from tests.audited import PROFILE, REASON, Audited, audited
from tests.running import client, service
from tests.served import run

HTML = {"Accept": "text/html"}


@pytest.fixture
async def found(tmp_path: Path) -> Audited:
    return await audited(tmp_path / "store")


@pytest.fixture
async def http(tmp_path: Path, found: Audited) -> AsyncIterator[httpx.AsyncClient]:
    async with service(tmp_path) as listening, client(listening) as made:
        yield made


async def page(http: httpx.AsyncClient, path: str, status: int = 200) -> str:
    answer = await http.get(path, headers=HTML)
    assert answer.status_code == status, answer.text
    return answer.text


def shown(text: str) -> list[int]:
    return [int(seq) for seq in re.findall(r'<tr data-seq="(\d+)"', text)]


def link(text: str, words: str) -> str:
    """Where the link with these words leads."""
    address = re.search(rf'<a [^>]*href="([^"]*)"[^>]*>{re.escape(words)}</a>', html.unescape(text))
    assert address, words
    return address[1]


def plain(text: str) -> str:
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text)))


async def test_filters_of_readings_and_of_exports(http: httpx.AsyncClient, found: Audited) -> None:
    everyone = [found.conforming, found.void, found.corrected, found.held, found.typed]
    for query, wanted in (
        ({}, everyone),
        ({"operator": "first"}, everyone),
        ({"result": "conforming"}, [found.conforming, found.corrected, found.typed]),
        ({"result": "not_evaluated"}, [found.void, found.held]),
        ({"placed": "false"}, [found.void, found.held]),
        ({"placed": "true", "corrected": "false"}, [found.conforming, found.typed]),
        ({"reason": "void"}, [found.void]),
        ({"corrected": "true"}, [found.corrected]),
        ({"build": found.build, "instrument": "mic-1", "since": "2020-01-01T00:00:00Z"}, everyone),
        ({"until": "2020-01-01T00:00:00Z"}, []),
        ({"result": "undecided"}, []),
    ):
        answer = (await http.get("/v1/readings", params=query)).json()
        assert [one["seq"] for one in answer["readings"]] == wanted, query
        text = (await http.get("/v1/exports/readings", params={**query, "as": "csv"})).text
        assert [int(row["seq"]) for row in csv.DictReader(io.StringIO(text))] == wanted
        assert shown(await page(http, f"/history?{httpx.QueryParams(query)}")) == wanted[::-1]


NOTHING = (
    ("result=good", 422, "result", "Urteil: „good“ kann hier nicht stehen"),
    ("placed=perhaps", 422, "placed", "Zuordnung: „perhaps“ kann hier nicht stehen"),
    ("operator=nobody", 404, "There are first.", "heißt „nobody“"),
    ("reason=vod", 404, "There are decimal-slip, void.", "heißt „vod“"),
    ("build=b8", 404, "no build b8", "Aufbau: nichts in diesem Hauptbuch heißt „b8“"),
    ("instrument=mic-2", 404, "no instrument mic-2", "heißt „mic-2“"),
    ("placed=true&reason=void", 422, "placed has no reason", "Zuordnung oder den Grund weglassen"),
    ("placed=false&result=conforming", 422, "never conforming", "Zuordnung oder das Urteil"),
    ("since=soon", 422, "since is not a moment", "Ab: „soon“ ist kein Datum"),
    ("colour=red", 422, "colour", "keinen Filter „colour“"),
)


async def test_filters_that_mean_nothing(http: httpx.AsyncClient) -> None:
    for query, status, says, german in NOTHING:
        for path in ("/v1/readings?limit=5", "/v1/exports/readings?as=jsonl"):
            answer = await http.get(f"{path}&{query}")
            assert answer.status_code == status, query
            assert says in answer.text
            assert "See GET" not in answer.text
        text = await page(http, f"/history?{query}&corrected=false&language=de", status)
        assert german in plain(text)  # in the page's language, and the form is there
        assert shown(text) == []
        assert '<option value="false" selected>' in text
        assert '<select name="build">' in text
    both = await page(http, "/history?colour=red&since=soon&result=good&language=en", 422)
    assert both.count('<li class="outside">') == 3


async def test_the_history_page_by_page(
    http: httpx.AsyncClient, found: Audited, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.history.listed.LIMIT", 2)
    first = await page(http, "/history")
    assert shown(first) == [found.typed, found.held]
    assert ">Newer<" not in first
    second = await page(http, link(first, "Older"))
    assert shown(second) == [found.corrected, found.void]
    third = await page(http, link(second, "Older"))
    assert shown(third) == [found.conforming]
    assert ">Older<" not in third
    assert shown(await page(http, link(third, "Newer"))) == [found.corrected, found.void]
    assert shown(await page(http, link(third, "Newest"))) == [found.typed, found.held]
    again = await page(http, link(second, "Newer"))
    assert shown(again) == [found.typed, found.held]
    assert ">Newer<" not in again
    assert ">Older<" in again
    monkeypatch.setattr("capture.archive.SCAN_MOST", 1)
    sparse = await page(http, "/history?operator=first&corrected=false&until=2020-01-01")
    assert "fits these filters" in sparse
    monkeypatch.setattr("capture.ledger.search._sources", lambda *_: [])
    sparse = await page(http, f"/history?build={found.build}&corrected=true")
    assert shown(sparse) == []
    assert "1 reading was looked at for this page" in sparse
    assert "before=" in link(sparse, "Look further back")


async def test_the_form_keeps_what_was_asked_and_blank_fields_ask_for_nothing(
    http: httpx.AsyncClient, found: Audited
) -> None:
    blank = "since=&until=&build=&instrument=&operator=&result=&placed=&reason=&corrected="
    assert len(shown(await page(http, f"/history?{blank}"))) == 5
    text = await page(
        http,
        f"/history?{blank}&since=2026-01-01T08:00:00&result=conforming".replace("since=&", "", 1),
    )
    assert '<option value="conforming" selected>' in text
    assert 'value="2026-01-01T08:00:00"' in text
    chips = re.findall(r'<a class="chip" href="([^"]*)"', text)
    assert [html.unescape(chip) for chip in chips] == [
        "/history?result=conforming",
        "/history?since=2026-01-01T08%3A00%3A00Z",
        "/history",
    ]
    elsewhere = await page(http, "/history?since=2026-01-01T10:00:00%2B02:00")
    assert 'value="2026-01-01T08:00:00"' in elsewhere
    export = link(text, "JSON Lines")
    lines = (await http.get(export)).text.splitlines()
    assert [json.loads(line)["seq"] for line in lines] == [
        found.conforming, found.corrected, found.typed,
    ]  # fmt: skip
    bundle = await http.get(link(text, "Bundle with the proofs of this page's readings"))
    with zipfile.ZipFile(io.BytesIO(bundle.content)) as unpacked:
        names = unpacked.namelist()
    assert all(f"entries/{seq:09d}.json" in names for seq in (found.conforming, found.corrected))


async def test_one_reading_from_bytes_to_verdict(http: httpx.AsyncClient, found: Audited) -> None:
    text = await page(http, f"/readings/{found.corrected}?corrected=true")
    said = plain(text)
    assert re.search(r"3–10 30 30 32 34 2E 35 30 34 0024.504 number", said)
    assert "0 02 · start 1 4E N flags 2 2B + sign" in said
    assert f"Read with the profile {PROFILE}" in said
    assert "Read again just now 24.504 mm : the same" in said.replace("mm:", "mm :")
    assert "invented, U = 0.002 mm (k = 2), valid until 2099-12-31" in said
    assert "24.990 to 25.010 mm" in said
    assert "guarded acceptance, guard band 0.0021 mm" in said
    for line in ("calibration", "resolution", "Combined"):
        assert line in said
    decided = re.findall(r"<b>(Placed|Not placed|Corrected|Voided|Marked)</b>", text)
    assert decided == ["Not placed", "Placed", "Corrected"]
    assert re.search(r"Question \d\d of the 38", said)
    assert "24.504 mm as sent, corrected to 25.004 mm" in said
    assert REASON in said
    assert "second" in said
    assert "rel=" not in text.split('id="content"')[1].split("<section")[0]  # none beside it


async def test_the_proof_on_a_page_holds(http: httpx.AsyncClient, found: Audited) -> None:
    text = await page(http, f"/readings/{found.void}")
    assert text.count('data-fits="true"') == 2
    assert 'data-fits="false"' not in text
    told = re.search(r'id="proof-data">(.*?)</script>', text)
    assert told
    data: dict[str, Any] = json.loads(told[1])
    entry = (await http.get(f"/v1/entries/{found.void}")).content
    made = sha256(b"\0" + entry).digest()
    for step in data["steps"]:
        pair = (bytes.fromhex(step["given"]), made)
        made = sha256(b"\1" + b"".join(pair if step["side"] == "left" else pair[::-1])).digest()
    assert made.hex() == data["signed_root"]
    proof = (await http.get(link(text, "The proof as JSON"))).json()
    assert proof["root_hash"] == data["signed_root"]


def test_the_steps_of_a_proof_lead_to_the_root_of_every_tree() -> None:
    # against capture.ledger.tree, which tests/outside holds against published vectors
    leaves = [tree.leaf_hash(bytes([number])) for number in range(40)]

    class Kept:
        def leaf_hashes(self, start: int, stop: int) -> list[bytes]:
            return leaves[start:stop]

        def node(self, level: int, index: int) -> bytes:
            raise AssertionError("no whole node of so small a tree is kept")

    for size in range(1, 41):
        for index in range(size):
            path = tree.inclusion_proof(index, size, Kept())
            assert steps_of(leaves[index], index, size, path)[1] == tree.root_of(leaves[:size])
            with pytest.raises(ValueError, match="path"):
                steps_of(leaves[index], index, size, [*path, leaves[0]])
            if path:
                with pytest.raises(ValueError, match="path"):
                    steps_of(leaves[index], index, size, path[:-1])


async def test_readings_of_other_sorts(http: httpx.AsyncClient, found: Audited) -> None:
    typed = plain(await page(http, f"/readings/{found.typed}?language=de"))
    assert "Es kamen keine Bytes an" in typed
    assert "eingetippt" in typed
    held = plain(await page(http, f"/readings/{found.held}?language=en"))
    assert "decimal point may have slipped" in held
    assert "Question 31 of the 38 that every reading has to pass stopped it" in held
    void = plain(await page(http, f"/readings/{found.void}"))
    assert "The sleeve rolled." in void


async def test_entries(http: httpx.AsyncClient, found: Audited) -> None:
    size = (await http.get("/v1/health")).json()["size"]
    text = await page(http, "/entries")
    assert f'<a href="/entries/{size}">' in text
    for kind, seq in (("press", found.held), ("decision", found.void + 2), ("spec", 5)):
        assert f'<a href="/entries/{seq}">' in await page(http, f"/entries?kind={kind}")
    one = await page(http, f"/entries/{found.corrected}")
    shown = re.search(r'id="verbatim">(.*?)</pre>', one, re.S)
    assert shown is not None
    verbatim = html.unescape(shown[1])
    assert verbatim.encode() == (await http.get(f"/v1/entries/{found.corrected}")).content
    assert f'href="/readings/{found.corrected}"' in one
    assert 'data-fits="true"' in one
    assert "0000  02 4E 2B 30 30 32 34 2E 35 30 34 6D 6D 03 37" in one
    decision = await page(http, f"/entries/{found.void + 1}")
    assert f'reading: <a href="/entries/{found.void}">' in decision
    assert f'build: <a href="/entries/{found.build[1:]}">' in decision
    profile = await page(http, "/entries/3")
    assert "Framed text with an exclusive-or check" in profile
    older = await page(http, f"/entries?before={size}")
    assert f'<a href="/entries/{size - 1}">' in older
    assert f'<a href="/entries/{size}">' in await page(http, link(older, "Newer"))


async def test_addresses_of_nothing(http: httpx.AsyncClient) -> None:
    for path, says in (
        ("/readings/9", "Entry 9 is of another kind (decision): see /entries/9."),
        ("/readings/9999", "There is no reading 9999."),
        ("/entries/9999", "The ledger's entries run from 1 to"),
        ("/entries?kind=pres", "There are boot, bench"),
    ):
        assert says in html.unescape(await page(http, path, 404))
    assert "whole number" in html.unescape(await page(http, "/readings/x", 422))


def test_the_command_line_exports_what_filters_leave(tmp_path: Path, found: Audited) -> None:
    store = str(tmp_path / "store")
    filtered: tuple[tuple[tuple[str, ...], list[int]], ...] = (
        (("--result", "conforming", "--not-corrected"), [found.conforming, found.typed]),
        (("--not-placed",), [found.void, found.held]),
        (("--reason", "void", "--operator", "first"), [found.void]),
        (("--corrected", "--placed"), [found.corrected]),
    )
    for words, wanted in filtered:
        said = run("export", store, "--format", "readings", *words)
        assert said.returncode == 0, said.stderr
        assert [json.loads(line)["seq"] for line in said.stdout.splitlines()] == wanted
    refused: tuple[tuple[tuple[str, ...], str], ...] = (
        (("--format", "csv", "--operator", "nobody"), "There are first."),
        (("--format", "csv", "--placed", "--reason", "void"), "Leave out placed"),
        (("--format", "jsonl", "--not-placed"), "for formats of readings"),
        (("--format", "csv", "--result", "good"), "not_evaluated"),
    )
    for words, says in refused:
        said = run("export", store, *words)
        assert said.returncode != 0
        assert says in said.stderr

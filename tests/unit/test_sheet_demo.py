"""The sheet of the whole demo engine: everything that the ledger says about it stands in the PDF
and in the HTML, in both languages; and the PDF is whole for who sees it and who hears it."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import zipfile
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pypdf
import pypdfium2
import pytest
from lxml import html as markup

from api.cli.sheet import taken
from api.labels.catalogue import labels
from api.sheet.blocks import Cell, Figure, Result, Sheet, Table, Verbatim
from api.sheet.compose import compose
from api.sheet.gather import Material
from api.sheet.html import html
from api.sheet.pdf import Paper, pdf
from capture.archive import Archive
from capture.ledger.checkpoint import open_checkpoint
from capture.ledger.note import Verifier
from capture.ledger.search import Filters
from tests.built import Built
from tests.served import ROOT, command, run

Json = dict[str, Any]
MARGIN_PT = 44
"""Nothing is printed nearer to a side: the margins have 17 mm."""
CASES: tuple[tuple[str, Paper], ...] = (("en", "a4"), ("de", "letter"))


class Made(NamedTuple):
    """One sheet, and what the store itself says."""

    material: Material
    sheet: Sheet
    paper: Paper
    data: bytes
    pages: list[str]
    """The text of each page of the PDF, without spaces."""
    text: str
    """All of it."""
    page: str
    """The same sheet as HTML."""
    readings: list[Json]
    """As GET /v1/readings?build= gives them."""


def squeezed(text: str) -> str:
    return "".join(text.replace("\u200b", "").split())


@pytest.fixture(scope="module", params=CASES, ids=[f"{one}-{two}" for one, two in CASES])
def made(request: pytest.FixtureRequest, built: Built) -> Made:
    language, paper = request.param
    assert built.code == 0, built.err
    archive = Archive(built.store)
    opened = [one for one in archive.records() if one["kind"] == "build"]
    build = f"b{opened[-1]['seq']}"
    material = taken(archive, build)
    found = [
        json.loads(one) for one in archive.readings(limit=1000, filters=Filters(build=build)).items
    ]
    archive.close()
    sheet = compose(material, labels(language))
    data = pdf(sheet, paper)
    pages = texts(data)
    page = html(sheet, build, labels(language), [])[0]
    return Made(material, sheet, paper, data, pages, "".join(pages), page, found)


def texts(data: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(data)
    found = []
    for number in range(len(document)):
        page = document[number]
        text = page.get_textpage()
        # That is how this reader gives a hyphen at the end of a line.
        found.append(squeezed(text.get_text_range().replace("\x02", "-").replace("\ufffe", "-")))
        text.close()
        page.close()
    document.close()
    return found


def test_every_reading_stands_there_as_it_was_sent(made: Made) -> None:
    shown = squeezed(markup.fromstring(made.page).text_content())
    cited = {int(link.rpartition("/")[2]) for link in links(made.page)}
    assert len(made.readings) > 200
    for reading in made.readings:
        ends = reading.get("bracket") or {"lower": reading["value"], "upper": reading["value"]}
        for end in filter(None, (ends["lower"], ends["upper"])):
            assert end in made.text, reading["seq"]
            assert end in shown, reading["seq"]
    # A press on a standard, or voided, is cited too.
    assert {reading["seq"] for reading in made.readings} <= cited


def links(page: str) -> list[str]:
    return [str(one) for one in markup.fromstring(page).xpath("//a/@href[contains(., 'readings')]")]


def test_sizes_limits_uncertainty_and_verdicts_are_those_of_the_ledger(made: Made) -> None:
    rows: dict[int, tuple[Table, tuple[Cell, ...]]] = {}
    for block in (one for section in made.sheet.sections[2:3] for one in section.blocks):
        if isinstance(block, Table):
            for row in block.rows:
                cited = row[-1]
                assert isinstance(cited, tuple)
                rows |= dict.fromkeys(cited, (block, row))
    placed = [one for one in made.readings if one["placement"].get("kind") == "measure"]
    checked = 0
    for reading in placed:
        if reading["seq"] not in rows or reading["verdict"].get("because") == "repeats":
            continue
        (block, row), verdict = rows[reading["seq"]], reading["verdict"]
        words = [cell for cell in row if isinstance(cell, str)]
        result = next(cell for cell in row if isinstance(cell, Result))
        assert result.word == verdict["result"]
        assert verdict["expanded_uncertainty"] in words
        if "bracket" not in verdict:
            # Rounded once, and by less than the last digit of its uncertainty.
            sizes = [Decimal(word) for word in words if word.replace(".", "").isdigit()]
            last = Decimal(verdict["expanded_uncertainty"]).as_tuple().exponent
            away = min(abs(one - Decimal(verdict["measured"])) for one in sizes)
            assert away < Decimal(1).scaleb(int(last))
        limits = [verdict[side] for side in ("lower", "upper") if verdict[side] is not None]
        said = block.about + " ".join(words)
        assert all(limit in said for limit in limits if len(limit) < 8), reading["seq"]
        checked += 1
    assert checked > 150


def test_what_happened_is_told_with_its_reasons(made: Made) -> None:
    for one in made.material.glance.story.shown:
        assert squeezed(one.get("reason") or "") in made.text
        # What one zero check marked is told at once, by its first and its last entry.
        assert str(one["reading" if one.get("act") == "marked" else "seq"]) in made.text
    kinds = {one["kind"] for one in made.material.glance.story.shown}
    assert {"rework", "concession", "fit", "remeasure", "decision"} <= kinds
    for caution in made.material.spec.cautions:
        assert squeezed(caution) in made.text


def test_every_instrument_has_its_certificate(made: Made) -> None:
    for one in made.material.glance.instruments.shown:
        assert one.instrument["id"] in made.text
        assert one.instrument["calibration"]["certificate"] in made.text


def test_the_checkpoint_stands_there_whole_and_travels_inside(made: Made) -> None:
    signed = made.material.signed
    assert squeezed(signed) in made.text
    assert signed.rstrip("\n") in markup.fromstring(made.page).text_content()
    inside = pypdf.PdfReader(io.BytesIO(made.data)).attachments
    assert {name: some[0] for name, some in inside.items()} == {
        "checkpoint.txt": signed.encode(),
        "verifier-key.txt": f"{made.material.key}\n".encode(),
    }
    head, _ = open_checkpoint(signed, [Verifier.parse(made.material.key)])
    assert head.size == made.material.head.size >= made.material.glance.size


@pytest.mark.parametrize("made", CASES[:1], indirect=True)
def test_its_commands_verify_it(made: Made, built: Built, tmp_path: Path) -> None:
    """The lines under *How to verify it*, as they stand there, with the files from inside the PDF;
    the last of them runs the bundle's own program, which shares no code with ours."""
    for name, data in pypdf.PdfReader(io.BytesIO(made.data)).attachments.items():
        (tmp_path / name).write_bytes(data[0])
    proof = made.sheet.sections[-1]
    lines = [b.text for b in proof.blocks if isinstance(b, Verbatim)][-1].split("\n")
    assert [line.split()[0] for line in lines] == ["witnessmark", "witnessmark", "GET", "python"]
    for line in lines[:2]:
        words = [str(built.store) if word == "STORE" else word for word in line.split()[1:]]
        done = subprocess.run(
            command(*words), cwd=tmp_path, env={"PYTHONPATH": str(ROOT)}, capture_output=True,
            encoding="utf-8", timeout=60,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
    with zipfile.ZipFile(tmp_path / f"{made.material.glance.state['id']}.zip") as bundle:
        bundle.extractall(tmp_path / "bundle")
    words = [str(tmp_path / word) if word.endswith(".txt") else word for word in lines[3].split()]
    done = subprocess.run(
        [sys.executable, "-I", *words[1:]], cwd=tmp_path / "bundle", capture_output=True,
        encoding="utf-8", timeout=60,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "whole" in done.stdout


def test_marks_stand_on_every_page_and_pages_are_counted(made: Made) -> None:
    said, pages = labels(made.sheet.language), made.pages
    for number, page in enumerate(pages, 1):
        text = page.upper()
        for mark in (said.text("sheet.marks.simulated"), said.text("sheet.marks.invented")):
            assert squeezed(mark).upper() in text
        assert squeezed(said.text("sheet.page_of", page=number, pages=len(pages))).upper() in text


def test_no_page_is_empty_and_nothing_runs_into_the_margins(made: Made) -> None:
    wide, high = {"a4": (595, 842), "letter": (612, 792)}[made.paper]
    document = pypdfium2.PdfDocument(made.data)
    assert len(document) > 10
    for number in range(len(document)):
        page = document[number]
        ink = np.asarray(page.render(scale=1, grayscale=True).to_pil()) < 200
        page.close()
        assert ink.shape[1] in (wide, wide + 1)
        assert ink.shape[0] in (high, high + 1)
        assert ink[:, :MARGIN_PT].sum() == 0
        assert ink[:, wide - MARGIN_PT :].sum() == 0
        assert ink[:28].sum() == ink[high - 20 :].sum() == 0
        assert ink.mean() > 0.005, f"page {number + 1}"
    document.close()


def test_it_is_tagged_for_those_who_hear_it(made: Made) -> None:
    root: Any = pypdf.PdfReader(io.BytesIO(made.data)).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == made.sheet.language
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert b"pdfuaid:part>1<" in root["/Metadata"].get_data()
    tags = list(elements(root["/StructTreeRoot"]))
    count = Counter(tag["/S"] for tag in tags)
    assert count["/H1"] == len(made.sheet.sections)
    assert count["/H2"] > 20
    tables = [b for s in made.sheet.sections for b in s.blocks if isinstance(b, Table) and b.rows]
    assert count["/Table"] >= len(tables)
    assert count["/TH"] >= sum(len(table.columns) for table in tables)
    assert count["/THead"] >= len(tables)
    figures = [b for s in made.sheet.sections for b in s.blocks if isinstance(b, Figure)]
    drawn = [tag for tag in tags if tag["/S"] == "/Figure"]
    assert len(drawn) == len(figures) > 10
    assert {str(tag["/Alt"]) for tag in drawn} == {figure.alt for figure in figures}


def elements(tag: Any) -> Iterator[Any]:
    """Every structure element below one."""
    kids = tag.get("/K")
    for kid in kids if isinstance(kids, list) else [kids]:
        found = kid.get_object() if hasattr(kid, "get_object") else kid
        if isinstance(found, dict) and "/S" in found:
            yield found
            yield from elements(found)


def test_the_command_writes_the_same_bytes(made: Made, built: Built, tmp_path: Path) -> None:
    build, file = made.material.glance.state["id"], tmp_path / "sheet.pdf"
    words = ("sheet", str(built.store), "--build", build, "--save", str(file))
    done = run(*words, "--paper", made.paper, "--language", made.sheet.language)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert file.read_bytes() == made.data


def test_the_command_says_what_is_wrong(built: Built, tmp_path: Path) -> None:
    done = run("sheet", str(built.store), "--build", "b99")
    assert done.returncode == 2
    assert "There is no build b99." in done.stderr
    done = run("sheet", str(tmp_path / "nowhere"), "--build", "b1")
    assert done.returncode == 2
    assert "there is no store" in done.stderr


def test_html_and_pdf_say_the_same(made: Made) -> None:
    tree = markup.fromstring(made.page)
    assert tree.xpath("//script | //link[@rel='stylesheet'] | //img") == []
    for cell in tree.xpath("//main//td | //main//th | //main//h2 | //main//h3 | //main//h4"):
        assert squeezed(cell.text_content()) in made.text, cell.text_content()
    assert len(tree.xpath("//main//table")) > 40

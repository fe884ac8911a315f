"""The build sheet over HTTP: of a build that is not finished, with a title that means something to
whoever sets documents."""

from __future__ import annotations

import io
from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pypdf
import pytest
from lxml import html as markup

from tests.running import SPEC, client, opened_build, service, typed

WILD = (
    r"""#panic("x") *bold* _it_ $x^2$ ] [ \ C:\bin\fit\u0041 " ' `raw` // /* @ref """
    "<b>& </style><script>1</script>"
)
LONG = "W" * 180


@pytest.fixture
async def http(tmp_path: Path) -> AsyncIterator[httpx.AsyncClient]:
    async with service(tmp_path) as listening, client(listening) as made:
        yield made


def squeezed(text: str) -> str:
    """Without what setting a line changes: spaces and line ends."""
    return "".join(text.replace("\u200b", "").split())


def text_of(pdf: bytes) -> str:
    return squeezed("".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages))


async def wild_build(http: httpx.AsyncClient) -> str:
    """Half measured, one size far out, one reading voided; everything said in wild words."""
    spec = SPEC.replace('title = "Sleeve diameter"', "title = '''#eval(\"1\") *Sleeve*'''")
    stored = await http.post("/v1/specs", content=spec.encode())
    body = {"spec": stored.json()["id"], "title": WILD, "operator": f"{WILD[:40]} {LONG[:150]}"}
    build = str((await http.post("/v1/builds", json=body)).json()["id"])
    await typed(http, "25.000")
    await typed(http, "25.050")
    spare = await typed(http, "25.001")
    reason = {"reason": f"{WILD} {LONG}"}
    answer = await http.post(f"/v1/readings/{spare['seq']}/voids", json=reason)
    assert answer.status_code == 201, answer.text
    return build


async def test_any_text_stays_text_in_both_forms(http: httpx.AsyncClient) -> None:
    build = await wild_build(http)
    checkpoint = (await http.get("/v1/ledger/checkpoint")).text
    pdf = await http.get(f"/v1/builds/{build}/sheet.pdf")
    assert pdf.status_code == 200, pdf.text
    assert pdf.headers["content-type"] == "application/pdf"
    about = pypdf.PdfReader(io.BytesIO(pdf.content)).metadata
    assert about is not None
    assert str(about["/Title"]).startswith(WILD)
    page = await http.get(f"/v1/builds/{build}/sheet")
    tree = markup.fromstring(page.text)
    assert tree.xpath("string(//h1)") == WILD
    assert tree.xpath("//script") == []
    shown = squeezed(tree.text_content())
    for found in (text_of(pdf.content), shown):
        for said in (
            WILD,
            LONG[:150],
            "NOT FINISHED",
            '#eval("1") *Sleeve*',
            "25.000 mm",
            "25.050 mm",
        ):
            assert squeezed(said) in found, said
        assert squeezed(checkpoint) in found
        for word in ("Conforming", "Nonconforming", "Missing", "Voided"):
            assert word in found
    policy = page.headers["content-security-policy"]
    assert "script-src" not in policy
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy


async def test_the_same_ledger_gives_the_same_bytes(http: httpx.AsyncClient) -> None:
    build = await wild_build(http)
    path = f"/v1/builds/{build}/sheet.pdf"
    first, again = await http.get(path), await http.get(path)
    assert first.content == again.content
    held = {"If-None-Match": first.headers["etag"]}
    assert (await http.get(path, headers=held)).status_code == 304
    other = await http.get(path, headers=held, params={"language": "de"})
    assert other.status_code == 200
    await typed(http, "25.002")
    assert (await http.get(path, headers=held)).status_code == 200


async def test_what_people_decided_is_told_in_order(http: httpx.AsyncClient) -> None:
    build = await opened_build(http)

    async def post(path: str, **body: object) -> None:
        answer = await http.post(path, json=body)
        assert answer.status_code == 201, answer.text

    first = await typed(http, "25.006")
    await post(
        f"/v1/readings/{first['seq']}/corrections", value="25.002", unit="mm", reason="Misread."
    )
    await typed(http, "25.003")
    await typed(http, "25.030")
    path = f"/v1/builds/{build}"
    await post(f"{path}/reworks", part="sleeve", number=1, reason="Polished.")
    await post(f"{path}/concessions", subject="measure-diameter/2/top", reason="It will do.")
    await post(f"{path}/scraps", part="sleeve", number=2, reason="Cracked.")
    await post(f"{path}/assignments", part="sleeve", number=2, piece="sleeve-9")
    await post(f"{path}/close", reason="Given up.")
    page = await http.get(f"{path}/sheet?language=en")
    tree = markup.fromstring(page.text)
    table = tree.xpath("//section[h2[@id='story']]//table")[0]
    told = [[" ".join(cell.text_content().split()) for cell in row] for row in table.iter("tr")]
    assert [(row[3], row[4]) for row in told[1:]] == [
        (f"Reading {first['seq']} corrected to 25.002 mm", "Misread."),
        ("Rework: Sleeve 1 (sleeve-1)", "Polished."),
        ("Concession: Sleeve diameter, Sleeve 2, top", "It will do."),
        ("Scrapped: Sleeve 2 (sleeve-2)", "Cracked."),
        ("sleeve-9 put at Sleeve 2, instead of sleeve-2.2", ""),
        ("Build closed", "Given up."),
    ]
    once = squeezed(tree.xpath("//section[h2[@id='story']]")[0].text_content())
    assert "25.006mm,correctedto25.002mm" in once


@pytest.mark.parametrize(
    ("asked", "accepted", "width"),
    [({}, "de-DE,de;q=0.9", 595), ({}, "en-US,en;q=0.8", 612), ({"paper": "a4"}, "en-US", 595)],
)
async def test_paper_and_language_follow_who_asks(
    http: httpx.AsyncClient, asked: dict[str, str], accepted: str, width: int
) -> None:
    build = await opened_build(http)
    answer = await http.get(
        f"/v1/builds/{build}/sheet.pdf", params=asked, headers={"Accept-Language": accepted}
    )
    reader = pypdf.PdfReader(io.BytesIO(answer.content))
    assert round(float(reader.pages[0].mediabox.width)) == width
    assert reader.trailer["/Root"]["/Lang"] == accepted[:2]  # type: ignore[index] # a dictionary
    word = "Prüfpunkt" if accepted.startswith("de") else "Checkpoint"
    assert word in text_of(answer.content)


async def test_signs_that_the_sheet_s_fonts_lack_do_not_stop_it(http: httpx.AsyncClient) -> None:
    spec = (await http.post("/v1/specs", content=SPEC.encode())).json()["id"]
    title = "エンジン 1 \U0001f527"
    build = (await http.post("/v1/builds", json={"spec": spec, "title": title})).json()["id"]
    answer = await http.get(f"/v1/builds/{build}/sheet.pdf")
    assert answer.status_code == 200
    assert len(pypdf.PdfReader(io.BytesIO(answer.content)).pages) > 1


async def test_what_is_wrong_is_said(http: httpx.AsyncClient) -> None:
    build = await opened_build(http)
    for form in ("sheet", "sheet.pdf"):
        answer = await http.get(f"/v1/builds/b99/{form}")
        assert answer.status_code == 404
        assert answer.json()["detail"] == "There is no build b99."
        answer = await http.get(f"/v1/builds/{build}/{form}", params={"language": "xx"})
        assert answer.status_code == 422
        assert "en, de" in answer.text
    assert (await http.get(f"/v1/builds/{build}/sheet.pdf?paper=a5")).status_code == 422

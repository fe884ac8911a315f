"""What a sheet says in a line, what a picture of a pull shows, and what its setter is given."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from api.labels.catalogue import labels
from api.pictures.marks import marks_of
from api.pictures.pull import BOTTOM, TOP, Limited, pull
from api.sheet import typeset
from api.sheet.blocks import Column, Result, Section, Sheet, Table, Text
from api.sheet.html import html
from api.sheet.pdf import ROWS_MOST, pdf
from api.sheet.say import Say
from capture.errors import RequestError
from capture.inquiry.glance.shape import Limited as Limits
from capture.inquiry.glance.shape import Some
from capture.spec.load import load
from capture.trace.samples import Trace
from tests.contract.trade import TORQUE
from tests.paper import SPEC

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def say() -> Say:
    return Say(labels("en"), load(SPEC.encode(), "pump.toml"))


@pytest.mark.parametrize(
    ("lower", "upper", "unit", "said"),
    [
        ("1.0", "2.0", "mm", "1.0 to 2.0 mm"),
        (None, "2.0", "mm", "at most 2.0 mm"),
        ("9.80", None, "1", "at least 9.80"),
        (None, None, "mm", "no limits"),
        ("19.23076923077", "20", "N·m", "≈ 19.2308 to 20 N·m"),
    ],
)
def test_limits_in_words(
    say: Say, lower: str | None, upper: str | None, unit: str, said: str
) -> None:
    assert say.limits(Limits(lower, upper), unit) == said


def test_limits_that_are_not_known_yet_are_not_none(say: Say) -> None:
    assert say.limits(None, "mm") == "not known yet"


def test_a_conceded_verdict_keeps_its_word(say: Say) -> None:
    assert say.result("undecided", "worn, accepted") == Result("undecided", "Undecided, accepted")
    assert say.result("") == Result("", "Missing")


def test_entries_in_a_row_are_told_by_their_ends(say: Say) -> None:
    assert say.seqs([3, 4, 5, 6, 9, 11, 12]) == "3–6, 9, 11, 12"
    assert say.seqs([]) == ""


def test_a_note_of_every_row_is_said_once_for_all(say: Say) -> None:
    both = [("1", "warm"), ("2", "warm"), ("2", "late")]
    assert say.notes(both, 2) == ("warm", "2: late")
    assert say.notes([("", "only one row")], 1) == ("only one row",)


def test_a_part_is_numbered_where_there_are_several(say: Say) -> None:
    assert say.place("barrel", 3) == "Barrel 3"
    assert say.place(None, 1) == "1"
    assert say.place("of-tomorrow", 2) == "2"


def test_what_is_left_out_is_said(say: Say) -> None:
    assert say.more(Some(("a",)), Some(())) == ()
    assert say.more(Some(("a",), 2), Some((), 3)) == (
        Text("5 more are left out here; the service lists them."),
    )


def drawn(limited: Limited) -> Any:
    seconds = [0.01 * number for number in range(len(TORQUE))]
    trace = Trace(seconds, [float(one) for one in TORQUE], None, "N·m")
    svg = pull(trace, marks_of(trace), limited, labels=labels("de"), title="A & <B>", about="x < 1")
    return ElementTree.fromstring(svg)


def test_a_pull_is_drawn_between_its_limits() -> None:
    root = drawn(Limited(45.0, 55.0))
    assert [one.text for one in root.iter(f"{SVG}title")] == ["A & <B>"]
    click = next(iter(root.iter(f"{SVG}circle")))
    dashed = [
        float(one.get("y1")) for one in root.iter(f"{SVG}line") if one.get("stroke-dasharray")
    ]
    assert len(dashed) == 2
    assert min(dashed) < float(click.get("cy")) < max(dashed)  # it clicked at 50
    ys = [float(p.split(",")[1]) for p in next(root.iter(f"{SVG}polyline")).get("points").split()]
    assert min(ys) >= TOP
    assert max(ys) <= BOTTOM + 1
    assert not any("style" in one.attrib for one in root.iter())


def test_a_pull_without_limits_has_no_band() -> None:
    assert not any(one.get("stroke-dasharray") for one in drawn(Limited(None, None)).iter())


def test_signs_that_no_page_can_hold_are_replaced() -> None:
    assert pdf(sheet_of(Section("x", "One\x00\x1b two", (Text("three\u2028\x85"),))), "a4")


def test_a_title_cannot_turn_round_what_stands_behind_it() -> None:
    """U+202E, right-to-left override (UAX 9): the id would read 134b."""
    sheet = sheet_of(Section("x", "One", (Text("Pump \u202eb431 \u2066and"),)))
    said = PdfReader(io.BytesIO(pdf(sheet, "a4"))).pages[0].extract_text()
    page, _ = html(sheet, "b431", labels("en"), [])
    for one in (said, page):
        assert "b431" in one
        assert not set(one) & {"\u202e", "\u2066"}


def sheet_of(section: Section) -> Sheet:
    return Sheet(
        language="en",
        title="T",
        kind_of="Build sheet",
        marks=(),
        head="h",
        foot="f",
        page_of="{page}/{pages}",
        at="2026-01-31T08:00:00.000000Z",
        sections=(section,),
        attached=(),
    )


def test_a_sheet_that_no_machine_could_set_is_refused_with_a_mend() -> None:
    table = Table((Column("a"),), (("x",),) * (ROWS_MOST + 1))
    with pytest.raises(RequestError, match="8001 rows") as found:
        pdf(sheet_of(Section("x", "One", (table,))), "a4")
    assert "HTML" in found.value.mend


def test_the_setter_fails_loudly_where_its_data_is_no_sheet(tmp_path: Path) -> None:
    import typst

    source = Path(typeset.__file__).with_name("sheet.typ")
    (tmp_path / "sheet.typ").write_bytes(source.read_bytes())
    (tmp_path / "sheet.json").write_text(json.dumps({"fonts": []}))
    with pytest.raises(typst.TypstError):
        typeset.typeset(tmp_path, 0)

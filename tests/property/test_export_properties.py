"""Any text survives an export, and none of it is a formula."""

from __future__ import annotations

import csv
import io
from xml.etree import ElementTree

from hypothesis import given
from hypothesis import strategies as st

from capture.exports import comma
from capture.exports.columns import Sort
from capture.exports.qif import markup
from tests.exported import file, reading

TEXTS = st.text(st.characters(exclude_categories=["Cs"]))
DECIMALS = st.decimals(allow_nan=False, allow_infinity=False).map(lambda value: f"{value:f}")
FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What starts a formula in common spreadsheets: OWASP, "CSV Injection"."""


def cells(data: bytes) -> dict[str, str]:
    (found,) = csv.DictReader(io.StringIO(data.decode("utf-8"), newline=""))
    return found


@given(TEXTS, TEXTS)
def test_any_text_comes_back_from_csv(one: str, other: str) -> None:
    found = cells(file("csv", [reading(operator=one, placement={"piece": other})]))
    assert comma.original(found["operator"]) == one
    assert comma.original(found["piece"]) == other
    assert found["decision_seq"] == "11"


@given(st.sampled_from([*FORMULA, "'", ""]), TEXTS)
def test_no_text_starts_a_formula(start: str, rest: str) -> None:
    text = comma.cell(start + rest, Sort.TEXT)
    assert not text.startswith(FORMULA)
    assert not text.lstrip().startswith(FORMULA)
    assert comma.original(text) == start + rest


@given(DECIMALS)
def test_any_number_stays_as_it_is(digits: str) -> None:
    assert comma.cell(digits, Sort.DECIMAL) == digits


@given(st.sampled_from(FORMULA), TEXTS)
def test_a_column_of_numbers_lets_no_formula_through(start: str, rest: str) -> None:
    text = comma.cell(start + rest, Sort.DECIMAL)
    assert text.startswith("'") or float(text) <= 0


XML_TEXTS = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="\ufffe\uffff")
    | st.sampled_from("\t\r\n<>&\"']]>")
)
"""Text of the characters that XML 1.0 (2.2) allows."""


@given(XML_TEXTS)
def test_any_text_that_xml_can_hold_comes_back_from_it(text: str) -> None:
    found = ElementTree.fromstring(markup.said("e", text, a=text))
    assert (found.text or "") == text
    assert found.get("a") == text


@given(TEXTS)
def test_no_text_breaks_the_markup(text: str) -> None:
    found = ElementTree.fromstring(markup.element("e", markup.said("f", text, a=text)))
    assert [one.tag for one in found] == ["f"]
    assert set(found[0].attrib) == {"a"}

"""Calculations over HTTP: every one is reached, gives its source's value, and refuses nonsense."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from api.calculations import CALCULATIONS
from api.calculations.run import calculate, form_of, listed
from api.routes.calculations import AT_ONCE
from capture.errors import NotFound, RequestError, UnitError
from tests.contract.calculation_values import Case, cases
from tests.running import client, service

Json = dict[str, Any]
CASES = list(cases())


@pytest.fixture
async def http(tmp_path: Path) -> AsyncIterator[httpx.AsyncClient]:
    async with service(tmp_path) as listening, client(listening) as made:
        yield made


def at(found: Any, path: str) -> Any:
    for word in path.split("."):
        found = found[int(word)] if isinstance(found, list) else found[word]
    return found


async def test_each_gives_what_its_source_says(http: httpx.AsyncClient) -> None:
    size = (await http.get("/v1/health")).json()["size"]
    wrong = []
    for case in CASES:
        answer = await http.post(f"/v1/calculations/{case.calculation}", json=case.given)
        assert answer.status_code == 200, (case.source, answer.text)
        body = answer.json()
        assert body["calculation"] == case.calculation
        assert body["method"]
        wrong += list(_wrong(case, body["result"]))
    assert wrong == []
    assert (await http.get("/v1/health")).json()["size"] == size  # nothing was recorded


def _wrong(case: Case, result: Json) -> Iterator[tuple[str, str, Any]]:
    for path, wanted in case.wanted.items():
        found = at(result, path)
        if isinstance(wanted, tuple):
            value, within = wanted
            good = found is not None and abs(float(found) - value) <= within
        else:
            good = found == wanted
        if not good:
            yield case.source, path, found


def test_every_calculation_is_held_against_a_source() -> None:
    assert {case.calculation for case in CASES} == set(CALCULATIONS)


async def test_the_list_says_what_each_takes(http: httpx.AsyncClient) -> None:
    found = (await http.get("/v1/calculations")).json()["calculations"]
    assert [one["name"] for one in found] == list(CALCULATIONS)
    for one in found:
        assert one["sentence"].endswith("."), one
        assert one["input"]["type"] == "object"
        assert set(one["example"]) <= set(one["input"]["properties"])
        answer = await http.post(f"/v1/calculations/{one['name']}", json=one["example"])
        assert answer.status_code == 200, answer.text


@pytest.mark.parametrize(
    ("name", "body", "status", "says"),
    [
        ("oil-clearence", {}, 404, "Did you mean oil-clearance?"),
        ("oil-clearance", {}, 422, "body.housing"),
        ("oil-clearance", {"housing": 60}, 422, "in quotes"),
        ("convert", {"value": "1", "unit": "mm", "to": "N·m"}, 422, "cannot be converted"),
        ("convert", {"value": "1", "unit": "mil", "to": "mm"}, 422, "write thou or mm"),
        ("convert", {"value": "1e9", "unit": "in", "to": "mm"}, 422, "no decimal number"),
        ("convert", {"value": "1", "unit": "in", "to": "mm", "too": "m"}, 422, "body.too"),
        ("chart", {"unit": "mm", "kind": "pie"}, 422, "'mean-range'"),
        ("extension", {"tool_length": "1", "length": "2", "unit": "in", "wanted": "1",
                       "angle": "180"}, 422, "shorter extension"),
        ("end-float", {"unit": "mm", "forward": [], "rearward": ["1"]}, 422, "Too few are given"),
        ("bracket", {"unit": "mm", "lower": "2", "upper": "1"}, 422, "enter the bracket anew"),
        ("flatness", {"unit": "mm"}, 422, "Give gaps"),
        ("flatness", {"unit": "N"}, 422, "N measures force, not length."),
        ("displacement", {"bore": {"value": "4", "unit": "cm³"}}, 422, "body.bore.unit"),
        ("extension", {"angle": "180.5"}, 422, "-180 to 180 degrees"),
        ("extension", {"angle": "-181"}, 422, "-180 to 180 degrees"),
        ("thermal-correction", {"part": {"coefficient": "0.0000115"}}, 422, "not in 10⁻⁶ per °C"),
        ("thermal-correction", {"scale": {"coefficient": "1000.1"}}, 422, "body.scale.coefficient"),
    ],
)  # fmt: skip
async def test_errors_say_what_where_and_how_to_mend_it(
    http: httpx.AsyncClient, name: str, body: Json, status: int, says: str
) -> None:
    answer = await http.post(f"/v1/calculations/{name}", json=body)
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert says in json.dumps(answer.json(), ensure_ascii=False)
    problem = answer.json()
    assert problem.get("mend") or problem["type"] == "/problems/unit" or problem["errors"]


@pytest.mark.parametrize(
    ("formula", "says", "mend"),
    [
        ("a + ", "stops short (at character", "Write what comes next."),
        ("a + b", "not among the inputs: b", "Correct the input"),
        ("a * a", "gives", "Correct the unit"),
        ("a / (a - a) * a", "gives", "Correct the input"),
        ("tan(a)", "no function", "parenthesis"),
    ],
)
async def test_a_formula_that_will_not_do(
    http: httpx.AsyncClient, formula: str, says: str, mend: str
) -> None:
    a = {"name": "a", "value": "2", "unit": "mm", "standard_uncertainty": "0.1"}
    body = {"formula": formula, "unit": "mm", "inputs": [a]}
    answer = await http.post("/v1/calculations/propagation", json=body)
    assert answer.status_code == 422, answer.text
    assert says in answer.json()["detail"]
    assert mend in answer.json()["mend"]


@pytest.mark.parametrize("angle", ["180", "-180", "0", "-90.5"])
def test_every_angle_of_half_a_turn_is_taken(angle: str) -> None:
    given = {"tool_length": "16", "length": "2", "unit": "in", "wanted": "50", "angle": angle}
    assert calculate("extension", json.dumps(given).encode())["result"]["fastener"] == "50"


@pytest.mark.parametrize("coefficient", ["0.1", "1000"])
def test_a_coefficient_at_the_ends_is_taken(coefficient: str) -> None:
    part = {"temperature": "20", "coefficient": coefficient}
    given = {"unit": "mm", "size": "10.000", "part": part}
    assert calculate("thermal-correction", json.dumps(given).encode())["result"]["correction"]


def test_a_preload_never_stands_without_its_scatter() -> None:
    example = form_of("preload").example
    bare = {key: value for key, value in example.items() if key != "scatter_percent"}
    found = calculate("preload", json.dumps(bare).encode())
    assert found["cautions"][0].startswith("Scatter not stated")
    assert found["method"] == "By nut factor, scatter not stated."
    assert next(iter(found["result"].items())) == ("scatter", "scatter not stated")
    for name in ("preload", "share_of_proof", "stretch"):
        value = found["result"][name]
        assert (value["lower"], value["upper"]) == (None, None)
        assert value["scatter"] == "scatter not stated"
    stated = calculate("preload", json.dumps(example).encode())
    assert stated["result"]["preload"]["scatter"] == "± 25 %"
    assert not any("not stated" in caution for caution in stated["cautions"])


def test_honing_is_told_in_digits_that_can_be_measured() -> None:
    """A middle of the band far finer than the sizes: two places more than theirs are shown."""
    given = {
        "unit": "mm",
        "outers": {"1": "87.208", "2": "87.250"},
        "inners": {"A": "87.180", "B": "87.190"},
        "lower": "0.0300001",
        "upper": "0.0500000",
    }
    found = calculate("select-fit", json.dumps(given).encode())["result"]
    one, two = found["honing"]["cuts"]
    assert (one["amount"], one["hone_to"]) == ("0.01200", "87.22000")
    assert one["says"] == "Take 0.01200 mm, to 87.22000 mm."
    assert (two["amount"], two["hone_to"]) == ("0", None)
    assert two["says"].startswith("Too large already by 0.02000 mm: the clearance is 0.060 mm")


async def test_inputs_are_bounded(http: httpx.AsyncClient) -> None:
    sizes = {f"part {at}": "86.000" for at in range(1001)}
    fit = {"unit": "mm", "outers": sizes, "inners": sizes, "lower": "0", "upper": "1"}
    answer = await http.post("/v1/calculations/select-fit", json=fit)
    assert "Give at most 1000" in answer.text
    fine = {f"part {at}": f"86.{at:030d}" for at in range(100)}
    answer = await http.post(
        "/v1/calculations/select-fit", json={**fit, "outers": fine, "inners": fine}
    )
    assert "too many digits" in answer.text
    draws = {**form_of("propagation").example, "trials": 1_000_000}
    draws["inputs"] = [*draws["inputs"], {**draws["inputs"][0], "name": "more"}]
    draws["formula"] += " - more"
    answer = await http.post("/v1/calculations/propagation", json=draws)
    assert "fewer trials" in answer.text
    answer = await http.post("/v1/calculations/form", content=b" " * 2_000_000)
    assert answer.status_code == 413


async def test_another_kind_of_body_is_refused(http: httpx.AsyncClient) -> None:
    answer = await http.post(
        "/v1/calculations/form", content=b"unit: mm", headers={"Content-Type": "text/yaml"}
    )
    assert answer.status_code == 415


async def test_many_at_once_are_all_answered(http: httpx.AsyncClient) -> None:
    body = form_of("flatness").example
    asked = [http.post("/v1/calculations/flatness", json=body) for _ in range(4 * AT_ONCE)]
    assert {answer.status_code for answer in await asyncio.gather(*asked)} == {200}


def test_the_draws_of_a_word_are_always_the_same() -> None:
    one, again = (_of("propagation", {}) for _ in range(2))
    assert one == again
    assert _of("propagation", {"word": "others"})["drawn"] != one["drawn"]


def _of(name: str, changed: Json) -> Json:
    data = {**form_of(name).example, **changed}
    result: Json = calculate(name, json.dumps(data).encode())["result"]
    return result


# whatever comes ----------------------------------------------------------------------------------

NUMBERS = st.sampled_from(
    ["0", "-1", "1", "0.000000000000000000000000000000000001", "9" * 40, "-" + "9" * 39, "1.5", "x"]
)


@st.composite
def spoiled(draw: st.DrawFn) -> tuple[str, Any]:
    """A calculation's example with some of its values exchanged or left out."""
    name = draw(st.sampled_from(list(CALCULATIONS)))
    return name, _spoil(draw, form_of(name).example)


def _spoil(draw: st.DrawFn, value: Any) -> Any:
    if isinstance(value, dict):
        return {
            key: _spoil(draw, inner) for key, inner in value.items() if draw(st.integers(0, 30))
        }
    if isinstance(value, list):
        kept = value[: draw(st.sampled_from([len(value), len(value), len(value), 1, 0]))]
        return [_spoil(draw, inner) for inner in kept[:12]] + kept[12:]
    spoil = not draw(st.integers(0, 7))
    if isinstance(value, str) and spoil:
        return draw(NUMBERS)
    if isinstance(value, int) and spoil:
        return draw(st.sampled_from([0, 1, 2, -1, 10**9]))
    return value


@settings(max_examples=400, deadline=None, derandomize=True, database=None)
@given(spoiled())
def test_whatever_comes_is_answered_or_refused(case: tuple[str, Any]) -> None:
    """Never another error, never a number that JSON has not."""
    name, given = case
    refused: Exception | None = None
    try:
        json.dumps(calculate(name, json.dumps(given).encode()), allow_nan=False)
    except (RequestError, UnitError, ValidationError) as error:
        refused = error
    if isinstance(refused, RequestError):
        assert str(refused).endswith((".", "!", "?"))
        assert refused.mend


def test_an_unknown_name_lists_those_there_are() -> None:
    with pytest.raises(NotFound) as found:
        calculate("zzz", b"{}")
    assert "form, clearance" in found.value.mend


def test_forms_are_described_whole() -> None:
    """Every key of an input has a type, and each refuses keys that it does not know."""
    for one in listed():
        assert one["input"]["additionalProperties"] is False
        assert one["input"]["required"], one["name"]

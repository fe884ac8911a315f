"""What the HTTP interface answers to what is wrong: one shape, with the mend."""

from __future__ import annotations

from typing import Any

import httpx
import pytest

from tests.running import opened_build, typed


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/v1/readings/999999", 404),
        ("GET", "/v1/builds/b999", 404),
        ("GET", "/v1/specs/00", 404),
        ("GET", "/v1/instruments/none", 404),
        ("POST", "/v1/instruments/none/ask", 404),
        ("GET", "/v1/entries/999999", 404),
        ("GET", "/v1/readings?limit=0", 422),
        ("GET", "/v1/readings?after=99999999999999999999", 422),
        ("GET", "/v1/no-such-address", 404),
        ("DELETE", "/v1/readings", 405),
        ("GET", "/static/..%2Frender.py", 404),
        ("GET", "/static/%C3%BC.js", 404),
    ],
)
async def test_errors_have_one_shape(
    http: httpx.AsyncClient, method: str, path: str, status: int
) -> None:
    answer = await http.request(method, path)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    body = answer.json()
    assert {"type", "title", "status", "detail"} <= body.keys()
    assert body["status"] == status
    assert (await http.get(body["type"])).text.endswith(body["title"] + "\n")


async def test_a_number_as_number_is_refused_with_the_mend(http: httpx.AsyncClient) -> None:
    body = {"instrument": "mic-1", "value": "25,4", "unit": "mm", "operater": "x"}
    answer = await http.post("/v1/readings", json=body)
    assert answer.status_code == 422
    keys = {error["key"]: error["mend"] for error in answer.json()["errors"]}
    assert "decimal point" in keys["body.value"]
    assert "typing mistake" in keys["body.operater"]
    answer = await http.post("/v1/readings", json={**body, "value": 25.4})
    assert answer.status_code == 422


NO_SPEC_ID = "GET /v1/specs"
NO_TEXT = "Write some text"
NO_NUMBER = "with a decimal point"


@pytest.mark.parametrize(
    ("path", "body", "key", "mend"),
    [
        ("/v1/builds", {"spec": "engine.toml", "title": "x"}, "spec", NO_SPEC_ID),
        ("/v1/builds", {"spec": "0" * 64, "title": "  "}, "title", NO_TEXT),
        ("/v1/readings/1/voids", {"reason": " \t"}, "reason", NO_TEXT),
        ("/v1/readings/1/voids", {"reason": ""}, "reason", NO_TEXT),
        ("/v1/readings/1/voids", {"reason": "x" * 2001}, "reason", "2000"),
        ("/v1/readings/1/voids", {"reason": 3}, "reason", "Send text"),
        ("/v1/operator", {"operator": "\n"}, "operator", NO_TEXT),
        ("/v1/readings/1/corrections", {"value": "1,5", "reason": "x"}, "value", NO_NUMBER),
        ("/v1/readings/1/corrections", {"value": 1.5, "reason": "x"}, "value", NO_NUMBER),
        (
            "/v1/settings",
            {"instrument": "bore-1", "standard": "r", "size": "-2", "unit": "mm"},
            "size",
            NO_NUMBER,
        ),
        (
            "/v1/builds/b1/scraps",
            {"part": "sleeve", "number": 0, "reason": "x"},
            "number",
            "at least 1",
        ),
    ],
)
async def test_the_mend_fits_the_field(
    http: httpx.AsyncClient, path: str, body: dict[str, Any], key: str, mend: str
) -> None:
    answer = await http.post(path, json=body)
    assert answer.status_code == 422
    (error,) = answer.json()["errors"]
    assert error["key"] == f"body.{key}"
    assert mend in error["mend"]
    assert "pattern" not in error["message"]
    assert ("number as text" in error["mend"]) is (mend == NO_NUMBER)


@pytest.mark.parametrize("path", ["/v1/readings", "/v1/entries", "/v1/events"])
async def test_a_place_beyond_the_end_is_of_another_store(
    http: httpx.AsyncClient, path: str
) -> None:
    size = (await http.get("/v1/health")).json()["size"]
    answer = await http.get(f"{path}?after={size + 1}")
    assert answer.status_code == 409
    assert answer.json()["type"] == "/problems/conflict"
    assert f"ends at {size}" in answer.json()["detail"]
    assert "another store" in answer.json()["mend"]
    if path != "/v1/events":
        assert (await http.get(f"{path}?after={size}")).status_code == 200


@pytest.mark.parametrize("query", ["build=b999", "instrument=none", "build=b999&limit=1"])
async def test_a_filter_by_what_is_not_there(http: httpx.AsyncClient, query: str) -> None:
    await typed(http, "25.000")
    answer = await http.get(f"/v1/readings?{query}")
    assert answer.status_code == 404
    assert answer.json()["type"] == "/problems/not-found"
    assert answer.json()["mend"]


async def test_a_filter_by_what_has_no_readings_yet(http: httpx.AsyncClient) -> None:
    build = await opened_build(http)
    for query in (f"build={build}", "instrument=bore-1"):
        answer = await http.get(f"/v1/readings?{query}")
        assert answer.status_code == 200
        assert answer.json()["readings"] == []


async def test_too_large_a_body_is_refused(http: httpx.AsyncClient) -> None:
    answer = await http.post("/v1/specs", content=b"#" * 1_100_000)
    assert answer.status_code == 413
    assert answer.headers["content-type"] == "application/problem+json"

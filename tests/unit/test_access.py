"""Who may reach the bench."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest

from api.access import COOKIE, cookie_value
from api.server import Listening
from api.settings import is_loopback, refusal, url_of
from tests.running import TOKEN, client, service


@pytest.fixture
async def open_bench(tmp_path: Path) -> AsyncIterator[Listening]:
    async with service(tmp_path) as listening:
        yield listening


@pytest.fixture
async def closed_bench(tmp_path: Path) -> AsyncIterator[Listening]:
    async with service(tmp_path, token=TOKEN) as listening:
        yield listening


@pytest.mark.parametrize(
    ("host", "local"),
    [
        ("127.0.0.1", True),
        ("127.8.8.8", True),
        ("::1", True),
        ("[::1]", True),
        ("localhost", True),
        ("0.0.0.0", False),
        ("::", False),
        ("192.0.2.1", False),
        ("bench.example", False),
        ("localhost.example", False),
        ("", False),
    ],
)
def test_loopback_names(host: str, local: bool) -> None:
    assert is_loopback(host) is local


def test_addresses_to_type() -> None:
    assert url_of("127.0.0.1", 8700) == "http://127.0.0.1:8700"
    assert url_of("::1", 8700) == "http://[::1]:8700"
    assert url_of("0.0.0.0", 8700) == "http://127.0.0.1:8700"


def test_off_the_loopback_a_token_is_needed() -> None:
    assert refusal("127.0.0.1", None) is None
    assert "--token-file" in (refusal("0.0.0.0", None) or "")
    assert refusal("0.0.0.0", TOKEN) is None
    assert "16" in (refusal("0.0.0.0", "short") or "")
    assert refusal("127.0.0.1", "with a blank in it ") is not None


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 200),
        ({"Host": "localhost:9"}, 200),
        ({"Host": "[::1]:9"}, 200),
        ({"Host": "elsewhere.example"}, 403),
        ({"Host": "127.0.0.1.elsewhere.example"}, 403),
        ({"Host": ""}, 403),
        ({"Origin": "http://elsewhere.example"}, 403),
        ({"Origin": "http://localhost:1", "Host": "localhost:2"}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": "http://localhost:2", "Host": "localhost:2"}, 200),
        ({"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}, 403),
        ({"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "cors"}, 403),
        ({"Sec-Fetch-Site": "same-origin"}, 200),
        ({"Sec-Fetch-Site": "none"}, 200),
    ],
)
async def test_a_page_elsewhere_does_not_reach_the_bench(
    open_bench: Listening, headers: dict[str, str], status: int
) -> None:
    async with client(open_bench) as http:
        answer = await http.get("/v1/health", headers=headers)
        assert answer.status_code == status
        if status == 403:
            assert answer.json()["type"] == "/problems/forbidden"


async def test_a_link_elsewhere_may_lead_here_but_not_post(open_bench: Listening) -> None:
    walk = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}
    async with client(open_bench) as http:
        assert (await http.get("/", headers=walk)).status_code == 200
        post = await http.post("/v1/operator", json={"operator": "x"}, headers=walk)
        assert post.status_code == 403


async def test_no_answer_may_be_embedded(open_bench: Listening) -> None:
    async with client(open_bench) as http:
        for path in ("/", "/v1/health", "/v1/nothing"):
            headers = (await http.get(path)).headers
            assert headers["cross-origin-resource-policy"] == "same-origin"
            assert headers["x-content-type-options"] == "nosniff"
            assert "access-control-allow-origin" not in headers
        assert "frame-ancestors 'none'" in (await http.get("/")).headers["content-security-policy"]


async def test_with_a_token_nothing_goes_without_it(closed_bench: Listening) -> None:
    async with client(closed_bench) as http:
        for path in ("/v1/health", "/v1/events", "/openapi.json", "/static/bench.js"):
            answer = await http.get(path)
            assert answer.status_code == 401, path
            assert answer.headers["www-authenticate"].startswith("Bearer")
        wrong = {"Authorization": "Bearer " + TOKEN[:-1]}
        assert (await http.get("/v1/health", headers=wrong)).status_code == 401
        assert (await http.get("/v1/health", headers={"Cookie": f"{COOKIE}=x"})).status_code == 401
    async with client(closed_bench, TOKEN) as http:
        assert (await http.get("/v1/health")).status_code == 200


async def test_a_browser_gets_a_form_and_then_a_cookie(closed_bench: Listening) -> None:
    async with client(closed_bench) as http:
        form = await http.get("/", headers={"Accept": "text/html"})
        assert form.status_code == 401
        assert 'action="/access"' in form.text
        refused = await http.post("/access", data={"token": "not-the-token-at-all"})
        assert refused.status_code == 401
        assert "set-cookie" not in refused.headers
        given = await http.post("/access", data={"token": TOKEN})
        cookie = given.headers["set-cookie"]
        assert "HttpOnly" in cookie
        assert "SameSite=strict" in cookie
        assert TOKEN not in cookie
        assert cookie_value(TOKEN) in cookie
        assert (await http.get("/v1/health")).status_code == 200


async def test_a_token_in_the_address_is_used_once(closed_bench: Listening) -> None:
    async with client(closed_bench) as http:
        answer = await http.get(f"/?token={TOKEN}")
        assert answer.status_code == 200
        assert "url=/" in answer.text
        assert TOKEN not in answer.text
        assert (await http.get("/v1/health")).status_code == 200


async def test_a_cookie_does_not_help_another_site(closed_bench: Listening) -> None:
    headers = {"Cookie": f"{COOKIE}={cookie_value(TOKEN)}"}
    async with httpx.AsyncClient(base_url=closed_bench.url, headers=headers, timeout=30) as http:
        assert (await http.get("/v1/health")).status_code == 200
        strange = {"Origin": "http://elsewhere.example"}
        assert (await http.post("/v1/operator", headers=strange)).status_code == 403

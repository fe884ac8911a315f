"""Whoever asks for a page and mistypes gets a page; a program gets the problem document."""

from __future__ import annotations

import httpx
import pytest

from api.labels.catalogue import labels
from api.problems import TITLES


@pytest.mark.parametrize(
    ("language", "title"), [("en", "There is no such thing"), ("de", "So etwas")]
)
async def test_a_page_that_there_is_not(http: httpx.AsyncClient, language: str, title: str) -> None:
    headers = {"Accept": "text/html", "Accept-Language": language}
    answer = await http.get("/nothing/<here>", headers=headers)
    assert answer.status_code == 404
    assert answer.headers["content-type"].startswith("text/html")
    assert title in answer.text
    assert f'<html lang="{language}">' in answer.text
    assert "<here>" not in answer.text
    assert "There is no page and no address /nothing/&lt;here&gt;." in answer.text
    assert "/history" in answer.text
    asked = await http.get("/builds?verdict=1", headers=headers)
    assert asked.status_code == 422
    assert "This address takes no “verdict” behind its question mark." in asked.text
    assert "query." not in asked.text


async def test_a_program_gets_the_document(http: httpx.AsyncClient) -> None:
    for path, accept in (("/nothing", "*/*"), ("/v1/readings/999", "text/html")):
        answer = await http.get(path, headers={"Accept": accept})
        assert answer.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_problem_has_a_title(language: str) -> None:
    assert all(f"problem.title.{code}" in labels(language).texts for code in TITLES)
    if language == "en":
        assert all(labels("en").texts[f"problem.title.{code}"] == TITLES[code] for code in TITLES)

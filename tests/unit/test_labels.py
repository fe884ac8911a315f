"""Every word of every page stands in the catalogue, in every language, and none in vain."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import api
from api.labels.catalogue import PLACE, Label, Labels, labels, languages

HOME = Path(api.__file__).parent
SOURCES = [
    path
    for kind in ("*.py", "*.js", "*.html", "*.typ")
    for path in sorted(HOME.rglob(kind))
    if "labels" not in path.parts or path.name == "labels.js"
]
KEY = re.compile(r"""\b(?:t|text|named)\(\s*["'`]([a-z]+(?:\.[A-Za-z0-9_-]+)+\.?)""")


def forms(label: Label) -> dict[str, str]:
    return {"": label} if isinstance(label, str) else dict(label)


def asked() -> Iterator[tuple[str, str, Path]]:
    for path in SOURCES:
        for found in KEY.finditer(path.read_text("utf-8")):
            yield found[0], found[1], path


def test_there_is_more_than_one_language_and_english_is_the_first() -> None:
    assert languages()[0] == "en"
    assert len(languages()) > 1


@pytest.mark.parametrize("language", languages())
def test_every_language_says_what_english_says(language: str) -> None:
    english, other = labels("en").texts, labels(language).texts
    assert set(other) == set(english)


@pytest.mark.parametrize("language", languages())
def test_every_language_fills_in_the_same_values(language: str) -> None:
    for key, label in labels("en").texts.items():
        wanted = {name for form in forms(label).values() for name in PLACE.findall(form)}
        other = labels(language).texts[key]
        found = {name for form in forms(other).values() for name in PLACE.findall(form)}
        assert found == wanted, key
        assert isinstance(other, str) == isinstance(label, str), key
        assert all(form.strip() for form in forms(other).values()), key


def test_every_label_that_a_page_asks_for_is_there() -> None:
    texts = labels("en").texts
    for call, key, path in asked():
        group = key.rstrip(".") + "."
        whole = call.startswith("named") or key.endswith(".")
        there = any(one.startswith(group) for one in texts) if whole else key in texts
        assert there, f"{path.name} asks for {key}"


def test_no_label_stands_there_in_vain() -> None:
    # A whole key may also stand in a table that a call looks it up in, so any quoted key counts.
    quoted = set()
    for path in SOURCES:
        quoted |= set(
            re.findall(r"""["'`]([a-z]+(?:\.[A-Za-z0-9_-]+)+)\.?["'`$]""", path.read_text())
        )
    for key in labels("en").texts:
        parts = key.split(".")
        heads = {".".join(parts[:length]) for length in range(2, len(parts) + 1)}
        assert heads & quoted, key


def test_a_label_counts_by_the_rules_of_its_language() -> None:
    made = Labels("en", {"x.y.n": {"one": "{count} reading", "other": "{count} readings"}})
    assert [made.text("x.y.n", count=n) for n in (0, 1, 2)] == [
        "0 readings", "1 reading", "2 readings"
    ]  # fmt: skip


def test_a_word_that_no_label_calls_is_made_readable() -> None:
    assert labels("en").named("common.reason", "of-tomorrow") == "of tomorrow"

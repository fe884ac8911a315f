"""The worked examples of FORMAT.md, whole and edited as a user would edit them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from capture.errors import Problem, SpecError
from capture.spec.load import load
from capture.spec.model import Spec

FORMAT = Path(__file__).parents[2] / "capture/spec/FORMAT.md"
VOLUME = '"pi / 4 * bore ^ 2 * stroke"'
RATIO = '"stroke / max(bore)"'
"""Formulas of the example page, as they stand there."""


def page() -> str:
    """The small example with every further example added to it."""
    text = FORMAT.read_text(encoding="utf-8")
    return "\n".join(re.findall(r"^```toml\n(.*?)^```", text, re.DOTALL | re.MULTILINE))


def edited(*changes: tuple[str, str]) -> str:
    """The page with each ``old`` (which stands there once) replaced by ``new``."""
    text = page()
    for old, new in changes:
        assert text.count(old) == 1, f"{text.count(old)} places to edit: {old!r}"
        text = text.replace(old, new)
    return text


def loaded(text: str) -> Spec:
    return load(text.encode(), "pump.toml")


def problems(text: str) -> tuple[Problem, ...]:
    with pytest.raises(SpecError) as caught:
        load(text.encode(), "pump.toml")
    return caught.value.problems


def line_of(text: str, mark: str) -> int:
    assert text.count(mark) == 1, f"{text.count(mark)} places called {mark!r}"
    return text[: text.index(mark)].count("\n") + 1

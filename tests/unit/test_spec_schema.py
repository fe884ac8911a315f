"""The JSON Schema of the spec format: it takes what the loader takes, and knows the same keys."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from typing import Any

import jsonschema_rs
import pytest

from capture.errors import SpecError
from capture.spec import (
    load,
    plausible,
    read_checks,
    read_decision,
    read_derived,
    read_expansion,
    read_fasteners,
    read_gauges,
    read_given,
    read_joint,
    read_order,
    read_parts,
    read_sizes,
)
from capture.spec.schema import schema
from tests.running import SPEC
from tests.served import ROOT, run
from tests.unit import twin
from tests.unit.spec_page import page

SHIPPED = sorted(ROOT.glob("simulators/scenarios/*/*.toml"))
SPECS = {path.name: path.read_text("utf-8") for path in SHIPPED if path.name != "scenario.toml"}


def valid(text: str) -> bool:
    return bool(jsonschema_rs.validator_for(schema()).is_valid(tomllib.loads(text)))


@pytest.mark.parametrize("text", [page(), SPEC, twin.SPEC, *SPECS.values()])
def test_it_takes_every_spec_that_loads(text: str) -> None:
    load.load(text.encode(), "spec.toml")
    assert valid(text)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("format = 1", "format = 2"),
        ('title = "Barrel"', 'titel = "Barrel"'),
        ('title = "Barrel"', ""),
        ("count = 4", 'count = "four"'),
        ("order = [1, 3, 2, 4]", 'order = ["first"]'),
        ('nominal_size = "20.000"', 'nominal_size = "20,000"'),
        ('quantity = "clearance"', 'quantity = "gap"'),
        ('confirm = "faces-clean"', 'confirm = "faces-clean"\nmeasure = "bore"'),
        ('plausible = { lower = "0", upper = "10" }', 'plausible = { lower = "0" }'),
    ],
)
def test_it_marks_what_the_loader_refuses(old: str, new: str) -> None:
    text = page()
    assert old in text
    wrong = text.replace(old, new, 1)
    with pytest.raises(SpecError):
        load.load(wrong.encode(), "spec.toml")
    assert not valid(wrong)


def tables(part: Any, name: str = "") -> Iterator[tuple[str, set[str]]]:
    """Every table of the schema with its keys."""
    if "properties" in part:
        yield name, set(part["properties"])
        for key, inner in part["properties"].items():
            yield from tables(inner, f"{name}.{key}".strip("."))
    elif "items" in part:
        yield from tables(part["items"], name)


def test_it_knows_the_very_keys_that_the_loader_knows() -> None:
    known = {
        "": load.KEYS,
        "decision": read_decision.KEYS,
        "part": read_parts.KEYS,
        "given": read_given.KEYS,
        "characteristic": read_sizes.KEYS,
        "characteristic.expansion": read_expansion.KEYS,
        "derived": read_derived.KEYS,
        "fastener": read_fasteners.KEYS,
        "fastener.joint": read_joint.KEYS,
        "fastener.stage": read_fasteners.STAGE_KEYS,
        "confirmation": read_checks.CONFIRMATION_KEYS,
        "turning_test": read_checks.TURNING_KEYS,
        "zero_check": read_gauges.ZERO_KEYS,
        "study": read_gauges.STUDY_KEYS,
        "tool_check": read_gauges.TOOL_KEYS,
        "operation": read_order.KEYS,
    }
    found = {name: keys for name, keys in tables(schema()) if not name.endswith(".plausible")}
    assert found == {name: set(keys) for name, keys in known.items()}
    bands = {frozenset(keys) for name, keys in tables(schema()) if name.endswith(".plausible")}
    assert bands == {frozenset(plausible.KEYS)}


def test_it_is_a_schema_and_is_printed() -> None:
    said = run("spec", "schema")
    assert said.returncode == 0
    assert json.loads(said.stdout) == schema()
    jsonschema_rs.meta.validate(schema())

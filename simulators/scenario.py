"""A scenario file, read: which bench, which parts, and what goes wrong.

Scenarios are TOML files in ``simulators/scenarios/NAME/scenario.toml``, beside the engine's spec.
Keys are explained where the shipped one uses them; anything misspelt is an error that names it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, fields
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from simulators.plan import (
    Assignment,
    InstrumentPlan,
    Mistake,
    PortPlan,
    Reach,
    Remedy,
    Scenario,
    ScenarioError,
    Standard,
    Traced,
    Turning,
    Zero,
)
from simulators.workshop import Feature, Follow

SCENARIOS = Path(__file__).with_name("scenarios")


def load(name: str, folder: Path = SCENARIOS) -> Scenario:
    """The scenario of this name. ScenarioError lists the names there are."""
    path = folder / name / "scenario.toml"
    if not path.is_file():
        there = sorted(file.parent.name for file in folder.glob("*/scenario.toml"))
        raise ScenarioError(
            f"There is no scenario '{name}' in {folder}. Give one of: {', '.join(there) or 'none'}."
        )
    try:
        data = tomllib.loads(path.read_text("utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise ScenarioError(f"{path}: {error}. Mend the TOML at that line.") from None
    return _scenario(data, name, path)


_LISTS: dict[str, type[Any]] = {
    "port": PortPlan,
    "instrument": InstrumentPlan,
    "standard": Standard,
    "feature": Feature,
    "turning": Turning,
    "remedy": Remedy,
    "mistake": Mistake,
    "assign": Assignment,
    "zero": Zero,
    "traced": Traced,
    "extension": Reach,
}
_WORDS = ("title", "spec", "lot", "operator", "part_temperature", "gauge_temperature")


def _scenario(data: Mapping[str, Any], name: str, path: Path) -> Scenario:
    unknown = sorted(set(data) - set(_LISTS) - set(_WORDS))
    missing = [word for word in _WORDS if word not in data]
    if unknown or missing:
        raise ScenarioError(
            f"{path}: unknown: {', '.join(unknown) or 'none'}; missing: "
            f"{', '.join(missing) or 'none'}. Top-level keys are {', '.join(_WORDS)} and the lists "
            f"{', '.join(f'[[{word}]]' for word in _LISTS)}."
        )
    made: dict[str, tuple[Any, ...]] = {
        word: tuple(
            _record(kind, table, f"{path}: [[{word}]] number {place}")
            for place, table in enumerate(data.get(word, ()), 1)
        )
        for word, kind in _LISTS.items()
    }
    scenario = Scenario(
        name=name,
        title=str(data["title"]),
        spec=path.parent / str(data["spec"]),
        lot=str(data["lot"]),
        operator=str(data["operator"]),
        part_temperature=float(data["part_temperature"]),
        gauge_temperature=float(data["gauge_temperature"]),
        ports=made["port"],
        instruments=made["instrument"],
        standards=made["standard"],
        features=made["feature"],
        turnings=made["turning"],
        remedies=made["remedy"],
        mistakes=made["mistake"],
        assignments=made["assign"],
        zeros=made["zero"],
        traced=made["traced"],
        reaches=made["extension"],
    )
    _check_ports(scenario, path)
    return scenario


def _record(kind: type[Any], table: Mapping[str, Any], where: str) -> Any:
    known = {each.name: each for each in fields(kind)}
    unknown = sorted(set(table) - set(known))
    missing = [
        word
        for word, each in known.items()
        if each.default is MISSING and each.default_factory is MISSING and word not in table
    ]
    if unknown or missing:
        raise ScenarioError(
            f"{where}: unknown: {', '.join(unknown) or 'none'}; missing: "
            f"{', '.join(missing) or 'none'}. Its keys are {', '.join(known)}."
        )
    values = {
        word: tuple(value) if isinstance(value, list) else value for word, value in table.items()
    }
    if "resolution" in values:
        values["resolution"] = _decimal(values["resolution"], where)
    if "follows" in values:
        values["follows"] = tuple(
            _record(Follow, each, f"{where}: follows") for each in values["follows"]
        )
    return kind(**values)


def _decimal(text: object, where: str) -> Decimal:
    try:
        if isinstance(text, str):  # a TOML number would lose its trailing zeros
            return Decimal(text)
    except InvalidOperation:
        pass
    raise ScenarioError(f'{where}: resolution must be a decimal in quotes, such as "0.001".')


def _check_ports(scenario: Scenario, path: Path) -> None:
    ports = {port.id for port in scenario.ports}
    for instrument in scenario.instruments:
        if instrument.port not in ports and instrument.port != "typed":
            raise ScenarioError(
                f"{path}: instrument '{instrument.id}' is on port '{instrument.port}', which is "
                f"not there. Add a [[port]] with that id, or use one of {', '.join(sorted(ports))}."
            )

"""A scenario file, read: which bench, which parts, and what goes wrong.

Scenarios are TOML files in ``simulators/scenarios/NAME/scenario.toml``, beside the engine's spec.
Keys are explained where the shipped one uses them; anything misspelt is an error that names it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from simulators.workshop import Feature

SCENARIOS = Path(__file__).with_name("scenarios")


class ScenarioError(ValueError):
    """A scenario file is wrong: says which, where and how to mend it."""


@dataclass(frozen=True, slots=True)
class PortPlan:
    """A cable: its name and the settings written to bench.toml."""

    id: str
    baud: int = 9600
    data_bits: int = 8
    parity: str = "none"
    stop_bits: str = "1"


@dataclass(frozen=True, slots=True)
class InstrumentPlan:
    """An instrument: what bench.toml says of it, and the errors only the workshop knows."""

    id: str
    kind: str
    port: str
    profile: str
    unit: str
    resolution: Decimal
    channel: str | None = None
    range: tuple[str, str] | None = None
    comparative: bool = False
    sends_unit: bool = True
    """False: its line has no unit word, and a pressed unit key goes unnoticed."""
    calibration: Mapping[str, str] | None = None
    errors: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Standard:
    """A setting standard for comparative gauges. ``size`` in ``unit`` as engraved."""

    id: str
    size: str
    unit: str
    expanded_uncertainty: str | None = None
    coverage_factor: str | None = None
    instruments: tuple[str, ...] = ()
    """Ids of the gauges that reach it; none given: every one."""


@dataclass(frozen=True, slots=True)
class Turning:
    """What torque (N·m) turns the assembly at a test, and by how much that varies."""

    test: str
    torque: float
    spread: float = 0.0


@dataclass(frozen=True, slots=True)
class Remedy:
    """What the builder does about a result that holds the work.

    ``about`` is the id of an operation or derived quantity, as the hold's subject begins. With
    ``rework`` (a part's id) the piece is worked on and measured again: ``machines`` (a
    characteristic) changes by ``change`` mm. Without it the result is accepted as a concession.
    """

    about: str
    reason: str
    number: int | None = None
    rework: str | None = None
    machines: str | None = None
    change: float = 0.0


MISTAKES = (
    "double-press",
    "wrong-unit",
    "wrong-cylinder",
    "wrong-part",
    "unset-gauge",
    "noise",
    "split",
    "merge",
    "stall",
    "vanish",
)


@dataclass(frozen=True, slots=True)
class Mistake:
    """One thing that goes wrong, once, at the first step it fits."""

    kind: str
    """One of MISTAKES."""
    about: str | None = None
    """Id of the operation or characteristic; None fits any."""
    number: int | None = None
    point: str | None = None
    measures: str | None = None
    """For ``wrong-part``: the characteristic that is really under the gauge."""
    measures_number: int = 1
    """For ``wrong-part`` and ``wrong-cylinder``: the number that is really under the gauge."""
    measures_point: str = ""

    def __post_init__(self) -> None:
        if self.kind not in MISTAKES:
            raise ScenarioError(
                f"There is no mistake '{self.kind}'. Use one of {', '.join(MISTAKES)}."
            )


@dataclass(frozen=True, slots=True)
class Assignment:
    """Which piece is fitted where."""

    part: str
    number: int
    piece: str


@dataclass(frozen=True, slots=True)
class Scenario:
    """A whole scenario."""

    name: str
    title: str
    spec: Path
    lot: str
    operator: str
    part_temperature: float
    gauge_temperature: float
    ports: tuple[PortPlan, ...]
    instruments: tuple[InstrumentPlan, ...]
    standards: tuple[Standard, ...]
    features: tuple[Feature, ...]
    turnings: tuple[Turning, ...]
    remedies: tuple[Remedy, ...]
    mistakes: tuple[Mistake, ...]
    assignments: tuple[Assignment, ...]


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

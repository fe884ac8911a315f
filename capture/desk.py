"""Everything known on a bench at one moment, folded from ledger entries in order.

``apply`` is the only way in: live entries, a restart and ``verify`` go through the same code, so
the state can never be anything but what the ledger says.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, NamedTuple

from capture.build import Build, DerivedFill, Fill
from capture.entry import Envelope, Kind
from capture.errors import NotFound, StoreDamaged
from capture.evaluate import Evaluator, measured_of
from capture.instrument import Instrument
from capture.quantity import Number
from capture.spec.load import load
from capture.spec.model import Spec
from capture.uncertainty import Setting
from capture.way import Key, Way


class Record(NamedTuple):
    """An instrument's current record."""

    seq: int
    instrument: Instrument


class SettingRecord(NamedTuple):
    """A comparative gauge's current setting."""

    seq: int
    setting: Setting
    at: str


class SpecRecord(NamedTuple):
    """A spec on record."""

    seq: int
    spec: Spec


class ProfileRecord(NamedTuple):
    """A profile on record."""

    seq: int
    hash: str


@dataclass(slots=True)
class Card:
    """What is known of a build without folding its decisions in."""

    id: str
    seq: int
    spec: str
    title: str
    opened_at: str
    closed: bool = False


Loader = Callable[[str], Iterable[Envelope]]
"""Gives, in order of seq, the entries of a build that is not in memory."""


LOADED_MOST = 16
"""Builds kept in memory beside the active one."""
WAYS_MOST = 4096


class Desk:
    """The folded state. ``loader`` fetches a build's entries when it is first asked for; without
    one, every build is folded from the start (as ``verify`` does)."""

    def __init__(self, loader: Loader | None = None) -> None:
        self._loader = loader
        self.evaluator = Evaluator()
        self.bench_title = ""
        self.boot = 0
        self.operator: str | None = None
        self.instruments: dict[str, Record] = {}
        self.profiles: dict[str, ProfileRecord] = {}
        self.specs: dict[str, SpecRecord] = {}
        self.settings: dict[str, SettingRecord] = {}
        self.records_by_seq: dict[int, Record] = {}
        self.settings_by_seq: dict[int, SettingRecord] = {}
        """Earlier ones too: what is decided later on a press goes by those at the press."""
        self.cards: dict[str, Card] = {}
        self.loaded: dict[str, Build] = {}
        self.active: str | None = None
        self.presses: dict[str, tuple[int, int, str, str]] = {}
        """Instrument → (boot, mono, digits, unit) of its last press."""
        self.corrections: dict[int, dict[str, Any]] = {}
        """Press → the corrected digits and unit a person gave it."""
        self.ways: dict[Key, Way] = {}
        """Kept by ``capture.decide``; emptied when an instrument or a setting changes."""
        self._handlers: dict[str, Callable[[Envelope, dict[str, Any]], None]] = {
            kind.value: getattr(self, f"_on_{kind.value}") for kind in Kind
        }

    def apply(self, entry: Envelope) -> None:
        """Folds one entry in. Raises KeyError on a kind this version does not know."""
        self._handlers[entry["kind"]](entry, entry["body"])

    # asking -----------------------------------------------------------------------------------

    def active_build(self) -> Build | None:
        """The active build, if one is open."""
        active = self.active
        if active is None:
            return None
        build = self.loaded.get(active)
        return self.build(active) if build is None else build

    def build(self, build_id: str) -> Build:
        """A build by id, its entries folded in. Raises NotFound."""
        build = self.loaded.get(build_id)
        if build is None:
            card = self.cards.get(build_id)
            if card is None:
                raise NotFound(
                    f"There is no build {build_id}.", mend="See GET /v1/builds for those there are."
                )
            build = self._make(card)
            if self._loader is not None:
                for entry in self._loader(build_id):
                    self._fold(build, entry, entry["body"])
            self.loaded[build_id] = build  # only whole: a load can fail half-way
        return build

    def trim(self) -> None:
        """Forgets builds that nobody has asked for lately; they are loaded again when needed.

        Only between transactions: what a build owes to entries not yet on disk would be lost.
        """
        if self._loader is None:
            return
        spare = [name for name in self.loaded if name != self.active]
        for name in spare[: max(0, len(spare) - LOADED_MOST)]:
            del self.loaded[name]

    def _make(self, card: Card) -> Build:
        record = self.specs[card.spec]
        build = Build(card.id, card.seq, record.spec, record.seq, card.title)
        build.closed = card.closed
        return build

    # what the bench is ------------------------------------------------------------------------

    def _on_boot(self, entry: Envelope, body: dict[str, Any]) -> None:
        self.boot = entry["boot"]

    def _on_bench(self, entry: Envelope, body: dict[str, Any]) -> None:
        self.bench_title = body["title"]

    def _on_profile(self, entry: Envelope, body: dict[str, Any]) -> None:
        self.profiles[body["name"]] = ProfileRecord(entry["seq"], body["hash"])

    def _on_instrument(self, entry: Envelope, body: dict[str, Any]) -> None:
        record = Record(entry["seq"], Instrument.from_body(body))
        self.instruments[body["id"]] = self.records_by_seq[record.seq] = record
        self.ways.clear()

    def _on_spec(self, entry: Envelope, body: dict[str, Any]) -> None:
        data = body["text"].encode()
        spec = load(data, body["file"])
        if spec.hash != body["hash"]:
            raise StoreDamaged(f"The spec in entry {entry['seq']} does not fit its hash.")
        self.specs[spec.hash] = SpecRecord(entry["seq"], spec)

    def _on_operator(self, entry: Envelope, body: dict[str, Any]) -> None:
        self.operator = body["operator"]

    def _on_setting(self, entry: Envelope, body: dict[str, Any]) -> None:
        expanded, coverage = body["expanded_uncertainty"], body["coverage_factor"]
        setting = Setting(
            body["standard"],
            Decimal(body["size"]),
            body["unit"],
            None if expanded is None else Decimal(expanded),
            None if coverage is None else Decimal(coverage),
        )
        record = SettingRecord(entry["seq"], setting, entry["at"])
        self.settings[body["instrument"]] = self.settings_by_seq[record.seq] = record
        self.ways.clear()

    # builds -----------------------------------------------------------------------------------

    def _on_build(self, entry: Envelope, body: dict[str, Any]) -> None:
        card = Card(f"b{entry['seq']}", entry["seq"], body["spec"], body["title"], entry["at"])
        self.cards[card.id] = card
        self.active = card.id
        if self._loader is None:
            self.loaded[card.id] = self._make(card)

    def _on_activate(self, entry: Envelope, body: dict[str, Any]) -> None:
        self.active = body["build"]

    def _on_close(self, entry: Envelope, body: dict[str, Any]) -> None:
        self.cards[body["build"]].closed = True
        if self.active == body["build"]:
            self.active = None
        self._fold_loaded(entry, body)

    def _fold_loaded(self, entry: Envelope, body: dict[str, Any]) -> None:
        build = self.loaded.get(body["build"])
        if build is not None:
            self._fold(build, entry, body)

    _on_choose = _on_confirmation = _on_assign = _fold_loaded
    _on_rework = _on_concession = _on_scrap = _fold_loaded

    # presses ----------------------------------------------------------------------------------

    def _on_press(self, entry: Envelope, body: dict[str, Any]) -> None:
        name = body["instrument"]
        self.presses[name] = (entry["boot"], int(entry["mono"]), body["digits"], body["unit"])

    def _on_undecodable(self, entry: Envelope, body: dict[str, Any]) -> None:
        """Bytes without a meaning change nothing."""

    def _on_decision(self, entry: Envelope, body: dict[str, Any]) -> None:
        if body["by"] == "rule":
            if body["step"] is not None:
                build = self.loaded.get(body["build"])
                if build is not None:
                    _fill(build, entry, body)
            return
        corrected = body.get("corrected")
        if corrected is not None:
            self.corrections[body["press"]] = corrected
        for build in self.loaded.values():
            self._fold(build, entry, body)

    def _fold(self, build: Build, entry: Envelope, body: dict[str, Any]) -> None:
        """Folds an entry into one build; entries of other builds leave it as it is."""
        kind = entry["kind"]
        if kind == "decision":
            at = build.press_at.get(body["press"])
            if at is not None:
                build.clear(at)
            if body["step"] is not None and body["build"] == build.id:
                _fill(build, entry, body)
        elif kind in _ACTS and body["build"] == build.id:
            _ACTS[kind](build, entry, body)
            build.opened_mono = (entry["boot"], int(entry["mono"]))


def _fill(build: Build, entry: Envelope, body: dict[str, Any]) -> None:
    verdict = body["verdict"]
    at = build.index[body["step"]["id"]]
    this = verdict.get("this")
    value: Number = measured_of(verdict) if this is None else _number(this)
    build.fill(
        at,
        Fill(
            body["press"],
            entry["seq"],
            value,
            verdict["expanded_uncertainty"],
            verdict["coverage_factor"],
            verdict["result"],
        ),
    )
    if body["derived"]:
        _derive(build, entry["seq"], body["derived"])
    if body["by"] == "rule":
        build.opened_mono = (entry["boot"], int(entry["mono"]))


def _number(exact: str) -> Number:
    return measured_of({"measured": exact, "measured_exact": exact if "/" in exact else None})


def _derive(build: Build, seq: int, results: list[dict[str, Any]]) -> None:
    for result in results:
        build.set_derived(result["id"], result["number"], DerivedFill(seq, result["verdict"]))


def _confirm(build: Build, entry: Envelope, body: dict[str, Any]) -> None:
    at = build.index[body["step"]]
    build.fill(at, Fill(None, entry["seq"], None, None, None, "conforming"))


def _choose(build: Build, entry: Envelope, body: dict[str, Any]) -> None:
    step = body["step"]
    build.chosen = None if step is None else build.index[step]


def _assign(build: Build, entry: Envelope, body: dict[str, Any]) -> None:
    build.assign(body["part"], body["number"], body["piece"])
    _derive(build, entry["seq"], body["derived"])


def _rework(build: Build, entry: Envelope, body: dict[str, Any]) -> None:
    build.rework(body["part"], body["number"])


def _scrap(build: Build, entry: Envelope, body: dict[str, Any]) -> None:
    build.scrap(body["part"], body["number"])


def _concede(build: Build, entry: Envelope, body: dict[str, Any]) -> None:
    build.concede(body["subject"], body["reason"])


def _close(build: Build, entry: Envelope, body: dict[str, Any]) -> None:
    build.closed = True


_ACTS: dict[str, Callable[[Build, Envelope, dict[str, Any]], None]] = {
    "confirmation": _confirm,
    "choose": _choose,
    "assign": _assign,
    "rework": _rework,
    "scrap": _scrap,
    "concession": _concede,
    "close": _close,
}

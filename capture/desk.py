"""Everything known on a bench at one moment, folded from ledger entries in order.

``apply`` is the only way in: live entries, a restart and ``verify`` go through the same code, so
the state can never be anything but what the ledger says.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

from capture import rework
from capture.build import Build, DerivedFill, Fill
from capture.entry import Envelope, Kind
from capture.errors import NotFound, StoreDamaged
from capture.evaluate import Evaluator, bracket_in, own_size
from capture.shelf import Shelf
from capture.spec.load import load
from capture.spec.model import Spec
from capture.step import Step
from capture.zero import drift_note, drift_of


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


class Desk(Shelf):
    """The folded state. ``loader`` fetches a build's entries when it is first asked for; without
    one, every build is folded from the start (as ``verify`` does)."""

    def __init__(self, loader: Loader | None = None) -> None:
        super().__init__()
        self._loader = loader
        self.evaluator = Evaluator()
        self.bench_title = ""
        self.boot = 0
        self.operator: str | None = None
        self.profiles: dict[str, ProfileRecord] = {}
        self.specs: dict[str, SpecRecord] = {}
        self.cards: dict[str, Card] = {}
        self.loaded: dict[str, Build] = {}
        self.active: str | None = None
        self.presses: dict[str, tuple[int, int, str, str]] = {}
        """Instrument → (boot, mono, digits, unit) of its last press."""
        self.corrections: dict[int, dict[str, Any]] = {}
        """Press → the corrected digits and unit a person gave it."""
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
                    f"There is no build {build_id}.",
                    mend="List the builds: GET /v1/builds, or /builds in a browser.",
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

    def _on_spec(self, entry: Envelope, body: dict[str, Any]) -> None:
        data = body["text"].encode()
        spec = load(data, body["file"])
        if spec.hash != body["hash"]:
            raise StoreDamaged(f"The spec in entry {entry['seq']} does not fit its hash.")
        self.specs[spec.hash] = SpecRecord(entry["seq"], spec)

    def _on_operator(self, entry: Envelope, body: dict[str, Any]) -> None:
        self.operator = body["operator"]

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
    _on_rework = _on_concession = _on_scrap = _on_fit = _on_remeasure = _fold_loaded

    # presses ----------------------------------------------------------------------------------

    def _on_press(self, entry: Envelope, body: dict[str, Any]) -> None:
        name = body["instrument"]
        self.presses[name] = (entry["boot"], int(entry["mono"]), body["digits"], body["unit"])
        kept = self.zeros.get(name)
        if kept is not None:
            kept.presses.append(entry["seq"])
        if self.zeros_due.get(name, entry["seq"]) < entry["seq"]:
            del self.zeros_due[name]

    def _on_undecodable(self, entry: Envelope, body: dict[str, Any]) -> None:
        """Bytes without a meaning change nothing."""

    def _on_decision(self, entry: Envelope, body: dict[str, Any]) -> None:
        if body["by"] == "rule":
            if "zero" in body:
                self._on_zero(body)
                for press in body["zero"]["presses"]:
                    # Also those that do not count now: a person may place them later.
                    self.drifted[press] = drift_of(body["press"], body["zero"])
            if body["step"] is not None:
                build = self.loaded.get(body["build"])
                if build is not None:
                    self._fill(build, entry, body)
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
                self._fill(build, entry, body)
        elif kind in _ACTS and body["build"] == build.id:
            _ACTS[kind](build, entry, body)
            build.opened_mono = (entry["boot"], int(entry["mono"]))

    def _fill(self, build: Build, entry: Envelope, body: dict[str, Any]) -> None:
        verdict, cites = body["verdict"], body["cites"]
        at = build.index[body["step"]["id"]]
        step = build.steps[at]
        bracket = verdict.get("bracket")
        fill = Fill(
            body["press"],
            entry["seq"],
            own_size(verdict),
            verdict["expanded_uncertainty"],
            verdict["coverage_factor"],
            verdict["result"],
            self.shared(cites["instrument"] or 0, cites["setting"] or 0, step.unit),
        )
        if "drift" in body:
            fill = fill._replace(drift=drift_note(body["drift"]))
        if bracket is not None:
            fill = fill._replace(bracket=bracket_in(bracket))
        build.fill(at, fill)
        if step.kind == "tighten":
            _note_yield(build, step, body["press"])
        if body["derived"]:
            _derive(build, entry["seq"], body["derived"])
        if body["by"] == "rule":
            build.opened_mono = (entry["boot"], int(entry["mono"]))


def _note_yield(build: Build, step: Step, press: int) -> None:
    """A fastener tightened into yield is spent, whatever is decided on that reading later; moved
    to another fastener, the reading spends that one."""
    group = build.spec.fasteners[step.subject]
    if group.torque_to_yield and step.point == group.stages[-1].id and step.part is not None:
        piece = build.pieces.at(step.part, step.number)
        assert piece is not None
        for key in [key for key, by in build.yielded.items() if by == press]:
            del build.yielded[key]
        build.yielded[step.part, piece] = press


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
    rework.assign(build, body["part"], body["number"], body["piece"])
    _derive(build, entry["seq"], body["derived"])


def _rework(build: Build, entry: Envelope, body: dict[str, Any]) -> None:
    rework.rework(build, body["part"], body["number"])


def _scrap(build: Build, entry: Envelope, body: dict[str, Any]) -> None:
    rework.scrap(build, body["part"], body["number"])


def _fit(build: Build, entry: Envelope, body: dict[str, Any]) -> None:
    rework.move(build, body["part"], dict(body["order"]))
    _derive(build, entry["seq"], body["derived"])


def _remeasure(build: Build, entry: Envelope, body: dict[str, Any]) -> None:
    rework.remeasure(build, body["steps"])


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
    "fit": _fit,
    "remeasure": _remeasure,
}

"""What a sheet says, taken from the ledger: all of it under one signed checkpoint."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from capture import resource
from capture.archive import Archive
from capture.entry import Envelope, Kind
from capture.errors import RequestError
from capture.inquiry.glance import Glance, Most, Still, glance
from capture.ledger.checkpoint import Checkpoint, open_checkpoint_text
from capture.ledger.note import base64_text
from capture.spec.model import Spec

Data = dict[str, Any]

LARGEST: Final = 20_000
"""Readings of one sheet; a build of more is no engine any more."""
MOST: Final = Most(rows=5000, points=500, traces=120)


@dataclass(frozen=True, slots=True)
class Material:
    """Everything that a sheet is composed of. Nothing of it changes any more."""

    glance: Glance
    spec: Spec
    bench: str
    """The bench's display name; may be empty."""
    opened: Envelope
    readings: dict[int, Data]
    """Press → the reading as ``GET /v1/readings`` gives it, with the decision that counted then."""
    decisions: dict[int, Envelope]
    """Press → that decision."""
    counting: frozenset[int]
    """Presses that answer a step."""
    cited: dict[int, Envelope]
    """Records that decisions cite: temperatures, extensions."""
    operators: tuple[str, ...]
    """Who took readings and decided, in the order they first did."""
    traces: dict[int, bytes]
    """Press → its torque trace, compressed as it is stored: several at once could be large."""
    last_at: str
    """When the last entry about this build was made."""
    signed: str
    """The checkpoint, verbatim."""
    key: str
    """The bench's verifier key."""
    head: Checkpoint

    @property
    def root(self) -> str:
        """The tree's root as the checkpoint has it."""
        return base64_text(self.head.root)


def gather(archive: Archive, kept: Still, signed: str) -> Material:
    """What the sheet of a build rests on. Reads the archive; for a thread of its own.

    ``signed`` covers at least the ``kept.size`` entries that the state was folded from. Raises
    RequestError where the build has more readings than one sheet takes.
    """
    build = kept.build
    entries = [entry for entry in archive.entries_of_build(build.id) if entry["seq"] <= kept.size]
    decisions = _decisions(entries)
    if len(decisions) > LARGEST:
        raise RequestError(
            f"Build {build.id} has {len(decisions)} readings, more than one sheet takes.",
            mend=f"Take them with GET /v1/exports/readings?build={build.id}&as=csv.",
        )
    presses = archive.envelopes(decisions)
    last = archive.envelope(kept.size)
    looked = glance(kept, entries, presses, "" if last is None else last["at"], MOST)
    readings = {seq: resource.reading(presses[seq], decisions[seq]) for seq in presses}
    own = [entry for entry in entries if _about(entry, build.id, decisions)]
    opened = archive.envelope(build.seq)
    assert opened is not None
    involved = sorted([opened, *presses.values(), *own], key=lambda entry: entry["seq"])
    newest = archive.newest(Kind.BOOT)[-1]["body"]
    titles = archive.newest(Kind.BENCH)
    return Material(
        glance=looked,
        spec=build.spec,
        bench=titles[-1]["body"]["title"] if titles else "",
        opened=opened,
        readings=readings,
        decisions=decisions,
        counting=frozenset(build.press_at),
        cited=archive.envelopes(_cited(decisions.values())),
        operators=tuple(dict.fromkeys(e["operator"] for e in involved if e["operator"])),
        traces=_traces(archive, looked),
        last_at=involved[-1]["at"],
        signed=signed,
        key=newest["key"],
        head=open_checkpoint_text(signed)[0],
    )


def _decisions(entries: Iterable[Envelope]) -> dict[int, Envelope]:
    """The newest decision on each press that a rule ever placed, or that was moved, here."""
    found: dict[int, Envelope] = {}
    for entry in entries:
        if entry["kind"] == Kind.DECISION:
            press = entry["body"]["press"]
            # People's decisions on any build are among the entries; their presses are not.
            if entry["body"]["by"] == "rule" or press in found:
                found[press] = entry
    return dict(sorted(found.items()))


def _about(entry: Envelope, build: str, decisions: dict[int, Envelope]) -> bool:
    body = entry["body"]
    if entry["kind"] == Kind.DECISION:
        return body["press"] in decisions
    return bool(body.get("build") == build)


def _cited(decisions: Iterable[Envelope]) -> list[int]:
    """Seqs of the temperatures and extensions that decisions rest on."""
    found: dict[int, None] = {}
    for decision in decisions:
        for name in ("temperature", "extension"):
            seq = (decision["body"].get("cites") or {}).get(name)
            if seq is not None:
                found[seq] = None
    return sorted(found)


def _traces(archive: Archive, looked: Glance) -> dict[int, bytes]:
    """The torque traces behind the readings that count."""
    wanted = {
        one.reading: one.sha256
        for one in (
            *(trace for table in looked.fasteners.shown for trace in table.traces),
            *(turned.trace for turned in looked.turning.shown if turned.trace is not None),
        )
    }
    found = {}
    for reading, digest in wanted.items():
        blob = archive.blob(digest)
        if blob is not None:
            found[reading] = blob
    return found

"""What a disk may hold after a power cut at any point of a recording.

The model, which promises a program less than any file system in use does:

- A file's bytes are certain once a sync of that file, begun after they were written, has ended.
  Of what is newer, any sector of 512 bytes may be there or not, in any combination, and so may
  each truncation.
- A name (made, renamed, linked or unlinked) is certain once its folder was synced afterwards. Of
  newer changes of names, any number from the front may be there.
- What was written before a sync that *failed* is adrift: the kernel may count it as written while
  it is not, so a later sync does not bring it to the disk. Only writing to the same sector again
  does, for the sector is then written from memory, where all of it stands.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from tests.soak.faults.trace import Record, Trace

SECTOR = 512


class Change(NamedTuple):
    """Bytes written at an offset, or, without bytes, a truncation to it."""

    order: int
    offset: int
    data: bytes | None

    def apply(self, content: bytearray) -> None:
        """Make the change."""
        if len(content) < self.offset:
            content.extend(bytes(self.offset - len(content)))
        if self.data is None:
            del content[self.offset :]
        else:
            content[self.offset : self.offset + len(self.data)] = self.data

    def sectors(self) -> Iterator[Change]:
        """The same in parts that reach the disk whole or not at all."""
        if self.data is None:
            yield self
            return
        at = 0
        while at < len(self.data):
            place = self.offset + at
            stop = min(len(self.data), at + SECTOR - place % SECTOR)
            yield Change(self.order, place, self.data[at:stop])
            at = stop


@dataclass
class _File:
    """One inode: its certain bytes, and what may or may not be there, oldest first."""

    certain: bytearray = field(default_factory=bytearray)
    waiting: list[Change] = field(default_factory=list)
    adrift: list[Change] = field(default_factory=list)  # a failed sync had them; by sector
    begun: dict[int, int] = field(default_factory=dict)  # sync number → len(waiting) then

    def taken(self, sync: int) -> list[Change]:
        """What this sync covers; it waits no longer."""
        done = self.begun.pop(sync)
        covered = self.waiting[:done]
        del self.waiting[:done]
        self.begun = {other: max(0, n - done) for other, n in self.begun.items()}
        return covered

    def settle(self, covered: list[Change]) -> None:
        """A sync succeeded."""
        for change in covered:
            if self.adrift:
                self._catch_up(change)
            change.apply(self.certain)

    def _catch_up(self, change: Change) -> None:
        """Adrift changes that this newer one brings to the disk with it, or makes void."""
        left = []
        first = change.offset // SECTOR
        last = first if change.data is None else (change.offset + len(change.data) - 1) // SECTOR
        for old in self.adrift:
            if change.data is None and old.offset >= change.offset:
                continue
            if old.order < change.order and first <= old.offset // SECTOR <= last:
                old.apply(self.certain)
            else:
                left.append(old)
        self.adrift = left

    def uncertain(self) -> list[Change]:
        """All that may or may not be on the disk, oldest first."""
        return sorted((*self.adrift, *self.waiting), key=lambda change: change.order)


@dataclass
class Disk:
    """The disk under a recorded program, fed one record after another."""

    files: dict[int, _File] = field(default_factory=dict)
    names: dict[str, int] = field(default_factory=dict)  # as the program sees them
    certain_names: dict[str, int] = field(default_factory=dict)
    waiting_names: list[dict[str, int]] = field(default_factory=list)
    folders: dict[int, int] = field(default_factory=dict)  # inode → names certain at sync begin
    version: int = 0  # grows whenever what is certain changes
    _order: int = 0
    _numbers: Iterator[int] = field(default_factory=lambda: iter(range(1 << 60)))
    _current: dict[int, int] = field(default_factory=dict)  # kernel's inode → ours

    def feed(self, record: Record) -> None:
        """Take in what the program did next."""
        self._order += 1
        if record.op == "O":
            self._opened(record)
        elif record.op == "P":
            self.folders.setdefault(record.inode, 0)
        elif record.op in "WT":
            data = record.data if record.op == "W" else None
            self._file(record).waiting.append(Change(self._order, record.offset, data))
        elif record.op in "BSF":
            self._synced(record)
        elif record.op in "URL":
            self._renamed(record)

    def _file(self, record: Record) -> _File:
        return self.files[self._current[record.inode]]

    def _opened(self, record: Record) -> None:
        known = self.names.get(record.name)
        if known is not None and self._current.get(record.inode) == known:
            return
        # A new file; the kernel may have given it the number of one that is gone.
        number = next(self._numbers)
        self._current[record.inode] = number
        self.files[number] = _File()
        self.names = self.names | {record.name: number}
        self.waiting_names.append(self.names)

    def _renamed(self, record: Record) -> None:
        old, _, new = record.name.partition("\0")
        names = dict(self.names)
        if old not in names:
            return  # a folder, or a file of no interest
        if record.op != "U":
            names[new] = names[old]
        if record.op != "L":
            del names[old]
        self.names = names
        self.waiting_names.append(names)

    def _synced(self, record: Record) -> None:
        if record.inode in self.folders:
            if record.op == "B":
                self.folders[record.inode] = len(self.waiting_names)
            elif record.op == "S":
                done = self.folders[record.inode]
                if done:
                    self.certain_names = self.waiting_names[done - 1]
                    del self.waiting_names[:done]
                    self.folders = dict.fromkeys(self.folders, 0)
                    self.version += 1
            return
        file = self._file(record)
        if record.op == "B":
            file.begun[record.offset] = len(file.waiting)
            return
        covered = file.taken(record.offset)
        if record.op == "S":
            file.settle(covered)
            self.version += bool(covered)
            return
        # Lengths are not adrift: the file system's journal writes them with the next sync.
        lengths = [change for change in covered if change.data is None]
        file.waiting[:0] = lengths
        file.begun = {sync: n + len(lengths) for sync, n in file.begun.items()}
        file.adrift.extend(s for c in covered if c.data is not None for s in c.sectors())

    # what may be found afterwards -------------------------------------------------------------

    def least(self) -> dict[str, bytes]:
        """Only what is certain."""
        return {name: bytes(self.files[n].certain) for name, n in self.certain_names.items()}

    def most(self) -> dict[str, bytes]:
        """Everything the program wrote, as the kernel sees it: what a killed program leaves."""
        found = {}
        for name, number in self.names.items():
            file = self.files[number]
            content = bytearray(file.certain)
            for change in file.uncertain():
                change.apply(content)
            found[name] = bytes(content)
        return found

    def some(self, rng: random.Random) -> dict[str, bytes]:
        """What is certain and any part of the rest."""
        choices = [self.certain_names, *self.waiting_names]
        names = rng.choice(choices)
        # A whole transaction appears only if all of its sectors do, hence 1.0; and a truncation
        # may be missing where all that was written is there, hence a coin of its own.
        share = rng.choice((0.1, 0.5, 0.9, 1.0))
        found = {}
        for name, number in names.items():
            file = self.files[number]
            content = bytearray(file.certain)
            for change in file.uncertain():
                for sector in change.sectors():
                    if rng.random() < (0.5 if sector.data is None else share):
                        sector.apply(content)
            found[name] = bytes(content)
        return found


@dataclass(frozen=True)
class Cut:
    """A power cut after ``position`` records: what the disk holds, and what had been sent."""

    position: int
    kind: str
    files: dict[str, bytes]
    sent: Trace

    def write(self, folder: Path) -> None:
        """Put the files where a program can look at them."""
        for name, content in self.files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)


def cuts(trace: Trace, rng: random.Random, share: float = 1.0) -> Iterator[Cut]:
    """Every point of the trace: the least a disk may hold there, and a random part of the rest.

    Where neither what is certain nor what was sent has changed since the last point, the least is
    the same and is not given again. ``share`` below 1 takes the random parts at that share of the
    points only.
    """
    disk, sent = Disk(), Trace()
    last = (-1, -1)
    for position, record in enumerate(trace, 1):
        disk.feed(record)
        if record.op in "NA":
            sent.append(record)
        if (disk.version, len(sent)) != last:
            last = (disk.version, len(sent))
            yield Cut(position, "least", disk.least(), sent[:])
        if rng.random() < share:
            yield Cut(position, "some", disk.some(rng), sent[:])


def everything(trace: Trace) -> dict[str, bytes]:
    """What the program left, by its recording; must equal what stands in the real folder."""
    disk = Disk()
    for record in trace:
        disk.feed(record)
    return disk.most()

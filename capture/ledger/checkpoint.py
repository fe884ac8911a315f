"""Checkpoints (C2SP tlog-checkpoint) and proofs to take away (C2SP tlog-proof).

A checkpoint is a signed note whose text is three lines: the origin (which log), the tree's size
in decimal, the root in base64. A proof is a text file that holds a leaf's index, its inclusion
proof and a checkpoint, so that anyone can check one entry on a machine of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from capture.ledger import note, tree
from capture.ledger.note import Note, NoteError, Signature, Verifier

_PROOF_HEAD: Final = "c2sp.org/tlog-proof@v1"
_LONGEST_PATH: Final = 64


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """The head of one log's tree: its origin, number of leaves and root (32 bytes)."""

    origin: str
    size: int
    root: bytes

    def __post_init__(self) -> None:
        if not self.origin or "\n" in self.origin:
            raise NoteError("a checkpoint's origin is one line of text")
        if self.size < 0 or len(self.root) != tree.HASH_SIZE:
            raise NoteError("a checkpoint needs a size of 0 or more and a root of 32 bytes")

    def text(self) -> str:
        """The text that is signed."""
        return f"{self.origin}\n{self.size}\n{note.base64_text(self.root)}\n"

    @classmethod
    def parse(cls, text: str) -> Checkpoint:
        """Read a note's text; extension lines after the third are allowed and ignored."""
        lines = text.split("\n")
        if len(lines) < 4 or lines[-1] or not all(lines[:-1]):
            raise NoteError("a checkpoint is three lines: origin, size, root")
        origin, size, root = lines[:3]
        return cls(origin, _decimal(size, "the tree size"), _hash(root, "the root"))


@dataclass(frozen=True, slots=True)
class Proof:
    """What shows that an entry is in a log: its leaf index, the path, the signed checkpoint.

    ``extra`` is data of the writer's choice that nothing vouches for.
    """

    index: int
    path: tuple[bytes, ...]
    checkpoint: str
    extra: bytes | None = None

    def text(self) -> str:
        """The content of a ``.tlog-proof`` file."""
        lines = [_PROOF_HEAD]
        if self.extra is not None:
            lines.append(f"extra {note.base64_text(self.extra)}")
        lines.append(f"index {self.index}")
        lines.extend(note.base64_text(value) for value in self.path)
        return "\n".join(lines) + "\n\n" + self.checkpoint

    @classmethod
    def parse(cls, text: str) -> Proof:
        """Read a ``.tlog-proof`` file; ``NoteError`` says what is wrong. Verifies nothing."""
        head, gap, checkpoint = text.partition("\n\n")
        lines = head.split("\n")
        if lines.pop(0) != _PROOF_HEAD:
            raise NoteError(f"a proof begins with the line {_PROOF_HEAD}")
        extra = None
        if lines and lines[0].startswith("extra "):
            extra = note.unbase64(lines.pop(0).removeprefix("extra "), "the extra data")
        if not lines or not lines[0].startswith("index "):
            raise NoteError("the proof does not say which index it is for")
        index = _decimal(lines.pop(0).removeprefix("index "), "the index")
        if len(lines) > _LONGEST_PATH:
            raise NoteError(f"a proof of more than {_LONGEST_PATH} hashes is refused")
        if not gap:
            raise NoteError("the proof holds no checkpoint")
        path = tuple(_hash(line, "a hash of the proof") for line in lines)
        note.parse(checkpoint)
        return cls(index, path, checkpoint, extra)

    def verify(self, entry: bytes, verifiers: Sequence[Verifier]) -> Checkpoint:
        """The checkpoint, once the entry's bytes are shown to be in the tree it signs.

        Raises ``NoteError`` if the signature or the path fails.
        """
        head, _ = open_checkpoint(self.checkpoint, verifiers)
        leaf = tree.leaf_hash(entry)
        if not tree.verify_inclusion(leaf, self.index, head.size, self.path, head.root):
            raise NoteError(f"the entry is not leaf {self.index} of {head.origin}'s tree")
        return head


def open_checkpoint(
    text: str | bytes, verifiers: Sequence[Verifier]
) -> tuple[Checkpoint, tuple[Signature, ...]]:
    """The checkpoint of a signed note and the known keys' signatures on it.

    Raises ``NoteError`` unless a known key named like the origin (the log itself) signed it: a
    witness alone does not speak for the log.
    """
    opened = note.parse(text)
    signatures = note.verify(opened, verifiers)
    head = Checkpoint.parse(opened.text)
    if not any(signature.name == head.origin for signature in signatures):
        raise NoteError(f"{head.origin} did not sign this checkpoint itself")
    return head, signatures


def open_checkpoint_text(text: str | bytes) -> tuple[Checkpoint, Note]:
    """The checkpoint of a note and the note itself, verifying nothing.

    For checkpoints this bench keeps of its own, and for a first look at someone else's. Raises
    ``NoteError`` where the format is broken.
    """
    opened = note.parse(text)
    return Checkpoint.parse(opened.text), opened


def _decimal(text: str, what: str) -> int:
    if not (text.isascii() and text.isdigit()) or (text[0] == "0" and text != "0"):
        raise NoteError(f"{what} is not a decimal number without leading zeros")
    if len(text) > 19:
        raise NoteError(f"{what} is too large")
    return int(text)


def _hash(text: str, what: str) -> bytes:
    value = note.unbase64(text, what)
    if len(value) != tree.HASH_SIZE:
        raise NoteError(f"{what} is not {tree.HASH_SIZE} bytes long")
    return value

"""An entry's proof, carried out step by step, so that a reader can follow it.

The hashing is written out here once more, after RFC 9162, 2.1.3.2, instead of being asked of the
ledger: what made the tree does not vouch for it.
"""

from __future__ import annotations

from hashlib import sha256
from typing import Any, NamedTuple

from capture.archive import Archive
from capture.errors import CaptureError
from capture.ledger import checkpoint, note


class Step(NamedTuple):
    """One hash more."""

    side: str
    """On which side the given hash stands: ``left`` or ``right``."""
    given: str
    made: str


class Shown(NamedTuple):
    """A proof as a page shows it. Hashes are hexadecimal."""

    seq: int
    size: int
    leaf: str
    steps: list[Step]
    root: str
    """What the steps end with."""
    signed_root: str
    """What the checkpoint says."""
    fits: bool
    signature: bool
    """Whether the bench's key signed the checkpoint."""
    origin: str
    note: str

    @property
    def steps_data(self) -> list[dict[str, str]]:
        """The steps as plain data, for the page's script."""
        return [{"side": step.side, "given": step.given} for step in self.steps]


def steps_of(leaf: bytes, index: int, size: int, path: list[bytes]) -> tuple[list[Step], bytes]:
    """From a leaf's hash up to the root. Raises ValueError for a path of the wrong length."""
    found: list[Step] = []
    here, last, made = index, size - 1, leaf
    for given in path:
        if not last:
            raise ValueError("the path is longer than the tree is high")
        if here % 2 or here == last:
            made = sha256(b"\x01" + given + made).digest()
            found.append(Step("left", given.hex(), made.hex()))
            while here and not here % 2:
                here, last = here // 2, last // 2
        else:
            made = sha256(b"\x01" + made + given).digest()
            found.append(Step("right", given.hex(), made.hex()))
        here, last = here // 2, last // 2
    if last:
        raise ValueError("the path ends below the root")
    return found, made


def shown(archive: Archive, seq: int, signed: str) -> Shown | None:
    """The proof of an entry in the tree of a signed checkpoint; None where that does not cover it
    yet."""
    head, _ = checkpoint.open_checkpoint_text(signed)
    if not 1 <= seq <= head.size:
        return None
    proof: dict[str, Any] = archive.inclusion(seq, head.size)
    leaf = sha256(b"\x00" + proof["entry"].encode()).digest()
    path = [bytes.fromhex(each) for each in proof["inclusion_path"]]
    try:
        steps, root = steps_of(leaf, seq - 1, head.size, path)
    except ValueError:
        steps, root = [], b""
    return Shown(
        seq=seq,
        size=head.size,
        leaf=leaf.hex(),
        steps=steps,
        root=root.hex(),
        signed_root=head.root.hex(),
        fits=root == head.root,
        signature=_signed(archive, signed),
        origin=head.origin,
        note=signed,
    )


def _signed(archive: Archive, signed: str) -> bool:
    try:
        checkpoint.open_checkpoint(signed, [note.Verifier.parse(archive.verifier_key())])
    except (note.NoteError, CaptureError):
        return False
    return True

"""Checks a bundle of ledger entries. Needs Python 3.9 or newer and the package `cryptography`.

    python check_bundle.py [FOLDER]             the bundle in this folder, or another
    python check_bundle.py --checkpoint FILE    hold it against a checkpoint you kept elsewhere
    python check_bundle.py --key FILE           with the bench's key as you got it elsewhere

It shares no code with the program that wrote the bundle. Exit code: 0 whole, 1 not, 2 misused.
Sources: RFC 9162, 2.1.1, 2.1.3.2, 2.1.4.2; C2SP signed-note, tlog-checkpoint, tlog-proof.
"""

import argparse
import base64
import hashlib
import json
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey


def sha256(data: bytes) -> bytes:
    return hashlib.sha256(data).digest()


def node(left: bytes, right: bytes) -> bytes:
    return sha256(b"\x01" + left + right)


def opened(note: str, key: str) -> tuple[int, bytes]:
    """Size and root of a checkpoint that the key has signed."""
    name, key_id, key = key.strip().split("+", 2)
    public = base64.b64decode(key, validate=True)
    if public[0] != 1 or key_id != sha256(name.encode() + b"\n" + public)[:4].hex():
        raise ValueError("the key is no Ed25519 key, or its id is not its own")
    text, _, signatures = note.replace("\n\n", "\n\0", 1).partition("\0")
    for line in signatures.splitlines():
        dash, signer, blob = line.split(" ")
        raw = base64.b64decode(blob, validate=True)
        if (dash, signer, raw[:4].hex()) == ("\u2014", name, key_id):
            Ed25519PublicKey.from_public_bytes(public[1:]).verify(raw[4:], text.encode())
            origin, size, root = text.splitlines()[:3]
            if origin != name:
                raise ValueError(f"the checkpoint is of {origin}, the key is of {name}")
            return int(size), base64.b64decode(root, validate=True)
    raise ValueError(f"no signature of the checkpoint is by the key {name}+{key_id}")


def steps(at: int, last: int, path: list[bytes]) -> Iterator[tuple[bytes, bool]]:
    """Each hash of a path from node `at` of `last` + 1, and whether it stands to the left."""
    for other in path:
        if last == 0:
            raise ValueError("a proof is too long")
        left = at % 2 == 1 or at == last
        yield other, left
        while left and at and not at & 1:
            at, last = at >> 1, last >> 1
        at, last = at >> 1, last >> 1
    if last:
        raise ValueError("a proof is too short")


def includes(leaf: bytes, index: int, size: int, path: list[bytes], root: bytes) -> bool:
    for other, left in steps(index, size - 1, path):
        leaf = node(other, leaf) if left else node(leaf, other)
    return leaf == root


def continues(first: int, first_root: bytes, size: int, root: bytes, path: list[bytes]) -> bool:
    if first == size:
        return first_root == root
    path = path if first & (first - 1) else [first_root, *path]
    at, last = first - 1, size - 1
    while at & 1:
        at, last = at >> 1, last >> 1
    old = new = path[0]
    for other, left in steps(at, last, path[1:]):
        old = node(other, old) if left else old
        new = node(other, new) if left else node(new, other)
    return (old, new) == (first_root, root)


def check_entry(file: Path, checkpoint: str, key: str, traces: list[str]) -> None:
    """One entry: its bytes are leaf seq - 1 of the signed tree, its trace is the one it cites."""
    head, _, note = file.with_suffix(".tlog-proof").read_text("utf-8").partition("\n\n")
    lines = head.split("\n")
    if lines[0] != "c2sp.org/tlog-proof@v1" or note != checkpoint:
        raise ValueError("its proof is of another kind, or for another checkpoint")
    lines = [line for line in lines[1:] if not line.startswith("extra ")]
    index, path = int(lines[0].split(" ")[1]), [base64.b64decode(line) for line in lines[1:]]
    size, root = opened(note, key)
    data = file.read_bytes()
    if index >= size or not includes(sha256(b"\0" + data), index, size, path, root):
        raise ValueError("its bytes are not what the checkpoint covers")
    entry = json.loads(data)
    if not entry["seq"] == index + 1 == int(file.stem):
        raise ValueError(f"it says it is entry {entry['seq']}, the proof is for entry {index + 1}")
    trace = entry["body"].get("trace")
    if trace and trace["sha256"] not in traces:
        raise ValueError("its trace is missing or was changed")


def check_kept(checkpoint: str, kept: str, key: str, consistency: dict[str, list[str]]) -> None:
    """The checkpoint is by the key, and continues the one that was kept elsewhere."""
    size, root = opened(checkpoint, key)
    first, first_root = opened(kept, key)
    path = [base64.b64decode(line) for line in consistency.get(str(first), [])]
    known = first == size or (first < size and path)
    if not known or not continues(first, first_root, size, root, path):
        raise ValueError(f"the checkpoint of {first} entries, kept elsewhere, does not fit")


def trouble(where: str, check: Callable[..., None], *facts: object) -> list[str]:
    try:
        check(*facts)
    except (InvalidSignature, OSError, ValueError, LookupError) as error:
        return [f"NOT WHOLE: {where}: {str(error) or 'the signature does not fit the text'}"]
    return []


def main() -> int:
    ask = argparse.ArgumentParser(description="Checks a bundle of ledger entries.")
    ask.add_argument("folder", nargs="?", type=Path, default=Path(__file__).parent)
    ask.add_argument("--checkpoint", type=Path, help="one that you kept elsewhere")
    ask.add_argument("--key", type=Path, help="the bench's key, as you got it elsewhere")
    said = ask.parse_args()
    try:
        key = (said.key or said.folder / "verifier-key.txt").read_text("utf-8")
        checkpoint = (said.folder / "checkpoint.txt").read_text("utf-8")
        listed = json.loads((said.folder / "contents.json").read_text("utf-8"))
        kept = said.checkpoint.read_text("utf-8") if said.checkpoint else checkpoint
    except (OSError, ValueError) as error:
        print(f"error: {error}{'. Unpack it first.' * said.folder.is_file()}", file=sys.stderr)
        return 2
    found = {file.stem: file.read_bytes() for file in (said.folder / "traces").glob("*.trace")}
    traces = [name for name in found if sha256(found[name]).hex() == name]
    problems = trouble("checkpoint", check_kept, checkpoint, kept, key, listed["consistency"])
    seqs = {*listed["entries"], *(int(f.stem) for f in (said.folder / "entries").glob("*.json"))}
    for seq in sorted(seqs):
        file = said.folder / "entries" / f"{seq:09d}.json"
        problems += trouble(f"entry {seq}", check_entry, file, checkpoint, key, traces)
    print("\n".join(problems) or f"whole: {len(seqs)} entries, under checkpoint\n{checkpoint}")
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())

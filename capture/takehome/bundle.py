"""Writes the bundle: a ZIP file that unpacks to

::

    README.txt                      what this is, how to check it, what it proves and what not
    check_bundle.py                 checks it, with standard Python and one signature library
    checkpoint.txt                  the signed tree head all proofs lead to (C2SP tlog-checkpoint)
    verifier-key.txt                the bench's public key
    contents.json                   which entries are here; consistency proofs by tree size
    entries/000000031.json          an entry, in the very bytes that the tree hashes
    entries/000000031.tlog-proof    its proof (C2SP tlog-proof)
    traces/<SHA-256>.trace          a torque trace that an entry cites, uncompressed
"""

from __future__ import annotations

import json
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from importlib.resources import files
from typing import IO, Final

from capture.archive import Archive
from capture.entry import Envelope, Kind
from capture.errors import RequestError, StoreDamaged
from capture.ledger import note
from capture.ledger.checkpoint import Proof, open_checkpoint_text

MOST: Final = 20_000
"""Entries in one bundle; a larger one is taken in parts."""
_WHEN: Final = (1980, 1, 1, 0, 0, 0)
"""The time of every file inside: the same bundle has the same bytes."""


def write(
    out: IO[bytes], archive: Archive, entries: Sequence[Envelope], signed: str, since: Sequence[int]
) -> None:
    """Writes the entries and their proofs under the checkpoint ``signed``.

    ``since``: sizes of the tree whose checkpoints others hold; for each there is a consistency
    proof, so that they can be compared. Raises RequestError where an entry is not covered yet or
    there are too many, NotFound where the tree never had such a size.
    """
    head, _ = open_checkpoint_text(signed)
    if len(entries) > MOST:
        raise RequestError(f"{len(entries)} entries are too many at once.", mend="Ask for fewer.")
    if entries and entries[-1]["seq"] > head.size:
        raise RequestError(
            f"Entry {entries[-1]['seq']} is under no signed checkpoint yet.",
            mend="Ask again in a few seconds: the running service signs when it is idle.",
        )
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as bundle:

        def add(name: str, data: str | bytes) -> None:
            bundle.writestr(zipfile.ZipInfo(name, _WHEN), data, zipfile.ZIP_DEFLATED)

        add("README.txt", _packaged("README.txt").format(origin=head.origin, size=head.size))
        add("check_bundle.py", _packaged("check_bundle.py"))
        add("checkpoint.txt", signed)
        add("verifier-key.txt", archive.newest(Kind.BOOT)[-1]["body"]["key"] + "\n")
        listed = {
            "checkpoint_size": head.size,
            "consistency": {str(size): _since(archive, size, head.size) for size in since},
            "entries": [entry["seq"] for entry in entries],
        }
        add("contents.json", json.dumps(listed, indent=1) + "\n")
        for entry in entries:
            name = f"entries/{entry['seq']:09d}"
            found = archive.inclusion(entry["seq"], head.size)
            add(f"{name}.json", found["entry"])
            path = tuple(map(bytes.fromhex, found["inclusion_path"]))
            add(f"{name}.tlog-proof", Proof(found["leaf_index"], path, signed).text())
        for digest in sorted(set(_traces(entries))):
            blob = archive.blob(digest)
            if blob is None:
                raise StoreDamaged(f"The torque trace {digest} is missing from the store.")
            add(f"traces/{digest}.trace", zlib.decompress(blob))


def _since(archive: Archive, first: int, second: int) -> list[str]:
    """What shows that the tree of ``second`` entries begins with that of ``first``."""
    path = archive.consistency(first, second)["consistency_path"]
    return [note.base64_text(bytes.fromhex(value)) for value in path]


def _traces(entries: Sequence[Envelope]) -> Iterator[str]:
    for entry in entries:
        if entry["kind"] == Kind.PRESS and "trace" in entry["body"]:
            yield entry["body"]["trace"]["sha256"]


def _packaged(name: str) -> str:
    return files(__package__).joinpath(name).read_text("utf-8")

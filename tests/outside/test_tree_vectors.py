"""The hash tree against published roots and proofs and a second implementation.

Sources: transparency-dev/merkle testonly/constants.go and testdata/ (Apache-2.0), read from the
folder OUTSIDE_DATA names; RFC 6962 §2.1.3's worked example, from memory; the ``pymerkle``
package as a judge that shares no code with ours (GPL: used by this test only).
"""

from __future__ import annotations

import base64
import json
import os
from pathlib import Path
from typing import Any

import pytest
from pymerkle import InmemoryTree

from capture.ledger.tree import (
    consistency_proof,
    inclusion_proof,
    leaf_hash,
    node_hash,
    root_of,
    verify_consistency,
    verify_inclusion,
)


@pytest.fixture(scope="module")
def vectors() -> Any:
    folder = os.environ.get("OUTSIDE_DATA")
    if not folder:
        pytest.skip("OUTSIDE_DATA does not name the folder of published test data")
    return json.loads((Path(folder) / "rfc6962_vectors.json").read_text("utf-8"))


class Held:
    def __init__(self, leaves: list[bytes]) -> None:
        self.leaves = leaves

    def leaf_hashes(self, start: int, stop: int) -> list[bytes]:
        return self.leaves[start:stop]

    def node(self, level: int, index: int) -> bytes:
        return root_of(self.leaves[index << level : (index + 1) << level])


def _hashes(proof: list[str] | None) -> list[bytes]:
    return [base64.b64decode(value) for value in proof or []]


def test_roots_of_0_to_8_leaves(vectors: Any) -> None:
    """transparency-dev/merkle testonly/constants.go."""
    leaves = [leaf_hash(bytes.fromhex(text)) for text in vectors["leaf_inputs_hex"]]
    roots = [root_of(leaves[:size]).hex() for size in range(9)]
    assert roots == vectors["root_by_size_hex"]


def test_published_inclusion_proofs(vectors: Any) -> None:
    """transparency-dev/merkle testdata/: accept exactly those that shall be accepted."""
    for vector in vectors["inclusion"]:
        accepted = verify_inclusion(
            base64.b64decode(vector["leafHash"]),
            vector["leafIdx"],
            vector["treeSize"],
            _hashes(vector["proof"]),
            base64.b64decode(vector["root"]),
        )
        assert accepted != vector["wantErr"], vector["desc"]


def test_published_consistency_proofs(vectors: Any) -> None:
    """transparency-dev/merkle testdata/: accept exactly those that shall be accepted."""
    for vector in vectors["consistency"]:
        accepted = verify_consistency(
            vector["size1"],
            vector["size2"],
            base64.b64decode(vector["root1"]),
            base64.b64decode(vector["root2"]),
            _hashes(vector["proof"]),
        )
        assert accepted != vector["wantErr"], vector["desc"]


def test_our_proofs_are_the_published_ones(vectors: Any) -> None:
    leaves = [leaf_hash(bytes.fromhex(text)) for text in vectors["leaf_inputs_hex"]]
    compared = 0
    for vector in vectors["inclusion"]:
        if not vector["wantErr"]:
            size = vector["treeSize"]
            proof = inclusion_proof(vector["leafIdx"], size, Held(leaves[:size]))
            assert proof == _hashes(vector["proof"])
            compared += 1
    for vector in vectors["consistency"]:
        if not vector["wantErr"]:
            size = vector["size2"]
            proof = consistency_proof(vector["size1"], size, Held(leaves[:size]))
            assert proof == _hashes(vector["proof"])
            compared += 1
    assert compared == 4


def test_the_standards_worked_example() -> None:
    """RFC 6962 §2.1.3 (from memory): proofs in a tree of seven leaves, by the RFC's letters."""
    a, b, c, d, e, f, j = leaves = [leaf_hash(bytes([n])) for n in range(7)]
    g, h, i = node_hash(a, b), node_hash(c, d), node_hash(e, f)
    k, last = node_hash(g, h), node_hash(i, j)  # "last" is the RFC's l
    source = Held(leaves)
    assert root_of(leaves) == node_hash(k, last)
    assert inclusion_proof(0, 7, source) == [b, h, last]
    assert inclusion_proof(3, 7, source) == [c, g, last]
    assert inclusion_proof(4, 7, source) == [f, j, k]
    assert inclusion_proof(6, 7, source) == [i, k]
    assert consistency_proof(3, 7, source) == [c, d, g, last]
    assert consistency_proof(4, 7, source) == [last]
    assert consistency_proof(6, 7, source) == [i, j, k]


def test_a_second_implementation_agrees() -> None:
    """pymerkle: every root, and every inclusion proof, of trees up to 70 leaves and at 300."""
    judge = InmemoryTree(algorithm="sha256")
    entries = [b"entry %d" % n for n in range(300)]
    judge.append_entries(entries)
    leaves = [leaf_hash(entry) for entry in entries]
    for size in [*range(1, 71), 255, 256, 257, 300]:
        root = root_of(leaves[:size])
        assert root == judge.get_root(size)
        source = Held(leaves[:size])
        for index in range(0, size, 1 if size < 71 else 37):
            proof = inclusion_proof(index, size, source)
            # The judge counts leaves from one and puts the leaf itself before its path.
            assert [leaves[index], *proof] == judge.prove_inclusion(index + 1, size).path
        for first in range(1, size, 1 if size < 71 else 37):
            proof = consistency_proof(first, size, source)
            assert verify_consistency(first, size, judge.get_root(first), root, proof)

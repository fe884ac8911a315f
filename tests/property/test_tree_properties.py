"""The tree against the recursive definitions of RFC 9162 §2.1, written here a second time."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

from hypothesis import given
from hypothesis import strategies as st

from capture.ledger.tree import (
    Edge,
    consistency_proof,
    inclusion_proof,
    root_from,
    verify_consistency,
    verify_inclusion,
)


def mth(leaves: Sequence[bytes]) -> bytes:
    """§2.1.1 over leaf hashes."""
    if not leaves:
        return sha256(b"").digest()
    if len(leaves) == 1:
        return leaves[0]
    k = split(len(leaves))
    return sha256(b"\x01" + mth(leaves[:k]) + mth(leaves[k:])).digest()


def split(n: int) -> int:
    k = 1
    while k * 2 < n:
        k *= 2
    return k


def path(m: int, leaves: Sequence[bytes]) -> list[bytes]:
    """§2.1.3.1."""
    if len(leaves) == 1:
        return []
    k = split(len(leaves))
    if m < k:
        return [*path(m, leaves[:k]), mth(leaves[k:])]
    return [*path(m - k, leaves[k:]), mth(leaves[:k])]


def subproof(m: int, leaves: Sequence[bytes], whole: bool) -> list[bytes]:
    """§2.1.4.1."""
    if m == len(leaves):
        return [] if whole else [mth(leaves)]
    k = split(len(leaves))
    if m <= k:
        return [*subproof(m, leaves[:k], whole), mth(leaves[k:])]
    return [*subproof(m - k, leaves[k:], False), mth(leaves[:k])]


class Plain:
    """A source over leaf hashes alone; nodes are computed when asked for."""

    def __init__(self, leaves: Sequence[bytes]) -> None:
        self.leaves = leaves

    def leaf_hashes(self, start: int, stop: int) -> list[bytes]:
        return list(self.leaves[start:stop])

    def node(self, level: int, index: int) -> bytes:
        return mth(self.leaves[index << level : (index + 1) << level])


HASHES = [sha256(b"%d" % n).digest() for n in range(1100)]
sizes = st.integers(1, 40) | st.integers(200, 1100)


@st.composite
def pairs(draw: st.DrawFn) -> tuple[int, int]:
    size = draw(sizes)
    return draw(st.integers(0, size - 1)), size


@given(pairs())
def test_inclusion_proofs_are_those_of_the_definition(pair: tuple[int, int]) -> None:
    index, size = pair
    leaves = HASHES[:size]
    proof = inclusion_proof(index, size, Plain(leaves))
    assert proof == path(index, leaves)
    assert verify_inclusion(leaves[index], index, size, proof, mth(leaves))


@given(pairs())
def test_consistency_proofs_are_those_of_the_definition(pair: tuple[int, int]) -> None:
    first, size = pair[0] + 1, pair[1]
    leaves = HASHES[:size]
    proof = consistency_proof(first, size, Plain(leaves))
    assert proof == subproof(first, leaves, True)
    assert verify_consistency(first, size, mth(leaves[:first]), mth(leaves), proof)


@given(pairs(), st.data())
def test_a_changed_proof_is_refused(pair: tuple[int, int], data: st.DataObject) -> None:
    index, size = pair
    leaves, root = HASHES[:size], mth(HASHES[:size])
    proof = inclusion_proof(index, size, Plain(leaves))
    broken = data.draw(st.sampled_from(["flip", "drop", "add", "swap", "leaf", "root"]))
    leaf = leaves[index]
    if broken in ("flip", "drop", "swap") and not proof:
        broken = "add"
    at = data.draw(st.integers(0, max(len(proof) - 1, 0)))
    if broken == "flip":
        value = bytearray(proof[at])
        value[data.draw(st.integers(0, 31))] ^= 1 << data.draw(st.integers(0, 7))
        proof[at] = bytes(value)
    elif broken == "drop":
        del proof[at]
    elif broken == "add":
        proof.insert(at, HASHES[-1])
    elif broken == "swap":
        proof[at] = leaf
    elif broken == "leaf":
        leaf = sha256(leaf).digest()
    else:
        root = sha256(root).digest()
    assert not verify_inclusion(leaf, index, size, proof, root)


@given(st.lists(st.integers(0, 300), max_size=6), st.booleans())
def test_any_way_of_appending_gives_the_defined_root(groups: list[int], restore: bool) -> None:
    edge, size = Edge(), 0
    for wanted in groups:
        group = min(wanted, len(HASHES) - size)
        for level, index, value in edge.append_many(HASHES[size : size + group]):
            assert value == mth(HASHES[index << level : (index + 1) << level])
        size += group
        if restore:
            edge = Edge(edge.size, edge.hashes)
    assert edge.size == size
    assert edge.root() == mth(HASHES[:size]) == root_from(Plain(HASHES), size)

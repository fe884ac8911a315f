from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

import pytest

from capture.ledger.tree import (
    EMPTY_ROOT,
    KEPT_LEVELS,
    Edge,
    consistency_proof,
    edge_from,
    inclusion_proof,
    leaf_hash,
    node_hash,
    root_from,
    root_of,
    verify_consistency,
    verify_inclusion,
)

LEAVES = [leaf_hash(b"%d" % n) for n in range(70_000)]


class Kept:
    """A source that holds what a store would: leaf hashes and the nodes ``append_many`` gave."""

    def __init__(self, leaves: Sequence[bytes]) -> None:
        self.leaves = list(leaves)
        self.nodes = {(level, i): value for level, i, value in Edge().append_many(self.leaves)}
        self.asked = 0

    def leaf_hashes(self, start: int, stop: int) -> list[bytes]:
        assert stop - start <= 256
        self.asked += stop - start
        return self.leaves[start:stop]

    def node(self, level: int, index: int) -> bytes:
        self.asked += 1
        return self.nodes[level, index]


@pytest.fixture(scope="module")
def large() -> Kept:
    return Kept(LEAVES)


def test_the_empty_tree_is_the_hash_of_nothing() -> None:
    assert Edge().root() == root_of([]) == sha256(b"").digest() == EMPTY_ROOT


def test_a_node_cannot_pass_for_a_leaf() -> None:
    """RFC 6962 §2.1 (the rule, from memory): leaf and node hashes begin with different bytes."""
    left, right = leaf_hash(b"a"), leaf_hash(b"b")
    two = root_of([left, right])
    assert two == node_hash(left, right)
    assert root_of([leaf_hash(left + right)]) != two


def test_the_order_of_leaves_matters() -> None:
    assert root_of([LEAVES[0], LEAVES[1]]) != root_of([LEAVES[1], LEAVES[0]])


@pytest.mark.parametrize("group", [1, 2, 3, 100, 256, 257, 69_999])
def test_appending_in_groups_gives_the_same_tree(group: int, large: Kept) -> None:
    count = min(len(LEAVES), 700 * group)
    edge, kept = Edge(), {}
    for start in range(0, count, group):
        part = LEAVES[start : min(start + group, count)]
        for level, index, value in edge.append_many(part):
            assert level in KEPT_LEVELS
            kept[level, index] = value
    assert edge.size == count
    assert edge.root() == root_of(LEAVES[:count])
    assert kept == {k: v for k, v in large.nodes.items() if (k[1] + 1) << k[0] <= count}


def test_only_one_node_is_kept_for_256_leaves(large: Kept) -> None:
    assert sorted(large.nodes) == [(8, i) for i in range(273)] + [(16, 0)]
    assert large.nodes[8, 3] == root_of(LEAVES[3 * 256 : 4 * 256])
    assert large.nodes[16, 0] == root_of(LEAVES[:65536])


def test_an_edge_restores_and_copies(large: Kept) -> None:
    edge = Edge()
    edge.append_many(LEAVES[:1000])
    restored, copy = Edge(edge.size, edge.hashes), edge.copy()
    edge.append_many(LEAVES[1000:3000])
    assert restored.root() == copy.root() == root_of(LEAVES[:1000])
    restored.append_many(LEAVES[1000:3000])
    copy.append_many(LEAVES[1000:3000])
    assert restored.root() == copy.root() == edge.root() == root_of(LEAVES[:3000])
    from_store = edge_from(large, 3000)
    assert from_store.hashes == edge.hashes
    assert from_store.size == 3000


def test_an_edge_that_does_not_fit_its_size_is_refused() -> None:
    for size, hashes in [(3, LEAVES[:1]), (0, LEAVES[:1]), (-1, []), (1, [b"short"])]:
        with pytest.raises(ValueError, match="edge hash"):
            Edge(size, hashes)


@pytest.mark.parametrize("size", [1, 2, 255, 256, 257, 65535, 65536, 65537, 69_999])
def test_roots_from_stored_nodes(size: int, large: Kept) -> None:
    assert root_from(large, size) == root_of(LEAVES[:size])


@pytest.mark.parametrize("size", [257, 65537, 70_000])
@pytest.mark.parametrize("index", [0, 1, 255, 256])
def test_proofs_over_stored_nodes_ask_for_little(size: int, index: int, large: Kept) -> None:
    large.asked = 0
    proof = inclusion_proof(index, size, large)
    assert large.asked < 1000
    assert verify_inclusion(LEAVES[index], index, size, proof, root_of(LEAVES[:size]))
    large.asked = 0
    proof = consistency_proof(index + 1, size, large)
    assert large.asked < 1000
    first_root = root_of(LEAVES[: index + 1])
    assert verify_consistency(index + 1, size, first_root, root_of(LEAVES[:size]), proof)


def test_every_proof_of_small_trees_verifies_and_no_other_place_does() -> None:
    for size in range(1, 34):
        source, root = Kept(LEAVES[:size]), root_of(LEAVES[:size])
        for index in range(size):
            proof = inclusion_proof(index, size, source)
            for claimed in range(size):
                verdict = verify_inclusion(LEAVES[index], claimed, size, proof, root)
                assert verdict == (claimed == index)


def test_every_consistency_of_small_trees_verifies_and_no_other_size_does() -> None:
    roots = [root_of(LEAVES[:size]) for size in range(34)]
    for second in range(34):
        source = Kept(LEAVES[:second])
        for first in range(second + 1):
            proof = consistency_proof(first, second, source)
            for claimed in range(second + 1):
                verdict = verify_consistency(claimed, second, roots[first], roots[second], proof)
                assert verdict == (claimed == first)


def test_what_does_not_exist_cannot_be_proved() -> None:
    source = Kept(LEAVES[:5])
    for index, size in [(5, 5), (-1, 5), (0, 0)]:
        with pytest.raises(ValueError, match="no leaf"):
            inclusion_proof(index, size, source)
        assert not verify_inclusion(LEAVES[0], index, size, [], LEAVES[0])
    for first, second in [(6, 5), (-1, 5)]:
        with pytest.raises(ValueError, match="cannot extend"):
            consistency_proof(first, second, source)
        assert not verify_consistency(first, second, EMPTY_ROOT, EMPTY_ROOT, [])


def test_a_source_that_lacks_leaves_is_found_out() -> None:
    with pytest.raises(ValueError, match="not all there"):
        root_from(Kept(LEAVES[:5]), 8)


def test_hashes_of_a_wrong_length_are_refused() -> None:
    root = node_hash(LEAVES[0], LEAVES[1] + b"!")
    assert not verify_inclusion(LEAVES[0], 0, 2, [LEAVES[1] + b"!"], root)
    assert not verify_consistency(1, 2, LEAVES[0], root, [LEAVES[1] + b"!"])

"""The hash tree of RFC 9162 §2.1 (the same as RFC 6962 §2.1), SHA-256. Pure: it stores nothing.

A leaf's hash is SHA-256(0x00 ‖ entry), a node's SHA-256(0x01 ‖ left ‖ right); the prefixes keep
a node from being passed off as a leaf. The empty tree's root is SHA-256 of nothing.

Node (level, index) covers the leaves index·2^level up to (index + 1)·2^level; level 0 is the
leaf hashes. Appending needs only the *right edge*: the roots of the complete subtrees that the
binary digits of the size name. To build proofs later, whole nodes at ``KEPT_LEVELS`` are worth
storing: one row for 256 leaves, and no proof ever hashes more than a few hundred values again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from hashlib import sha256
from typing import Final, Protocol

KEPT_LEVELS: Final = (8, 16, 24)
HASH_SIZE: Final = 32
EMPTY_ROOT: Final = sha256(b"").digest()


class Source(Protocol):
    """Where stored hashes come from. Only complete nodes of ``KEPT_LEVELS`` are ever asked for."""

    def leaf_hashes(self, start: int, stop: int) -> list[bytes]:
        """Hashes of the leaves start … stop − 1, at most 256 of them."""
        ...

    def node(self, level: int, index: int) -> bytes:
        """Hash of a complete node at level 8, 16 or 24."""
        ...


def leaf_hash(data: bytes) -> bytes:
    """Hash of one leaf's bytes."""
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Hash of an inner node."""
    return sha256(b"\x01" + left + right).digest()


def _parents(nodes: Sequence[bytes]) -> list[bytes]:
    each = iter(nodes)
    return [sha256(b"\x01" + left + right).digest() for left, right in zip(each, each, strict=True)]


class Edge:
    """The right edge of a growing tree: enough to append and to tell the root.

    Not safe for two threads at once. ``copy`` is cheap: take one before a transaction and throw
    it away if the commit fails.
    """

    __slots__ = ("_pending", "size")

    def __init__(self, size: int = 0, hashes: Sequence[bytes] = ()) -> None:
        """Restore from ``size`` and its ``hashes`` (largest subtree first).

        Raises ``ValueError`` if their number does not fit the size.
        """
        if size < 0 or len(hashes) != size.bit_count():
            raise ValueError(f"{len(hashes)} edge hashes do not fit a tree of {size} leaves")
        if any(len(value) != HASH_SIZE for value in hashes):
            raise ValueError(f"an edge hash is not {HASH_SIZE} bytes long")
        self.size = size
        smallest_first = iter(reversed(hashes))
        # _pending[level] is the complete subtree still waiting for its right sibling.
        self._pending: list[bytes | None] = [
            next(smallest_first) if size >> level & 1 else None
            for level in range(size.bit_length())
        ]

    @property
    def hashes(self) -> list[bytes]:
        """Roots of the complete subtrees, largest first: one for each 1 in the size's binary."""
        return [value for value in reversed(self._pending) if value is not None]

    def copy(self) -> Edge:
        """An independent edge in the same state."""
        twin = Edge()
        twin.size = self.size
        twin._pending = self._pending.copy()
        return twin

    def append(self, leaf: bytes) -> list[tuple[int, int, bytes]]:
        """Append one leaf hash; see ``append_many``."""
        return self.append_many([leaf])

    def append_many(self, leaves: Sequence[bytes]) -> list[tuple[int, int, bytes]]:
        """Append leaf hashes; gives (level, index, hash) of each node of KEPT_LEVELS completed."""
        kept: list[tuple[int, int, bytes]] = []
        pending = self._pending
        nodes: Sequence[bytes] = leaves
        first = self.size  # index of nodes[0] at this level
        level = 0
        while nodes:
            if level in KEPT_LEVELS:
                kept.extend((level, first + i, node) for i, node in enumerate(nodes))
            if level == len(pending):
                pending.append(None)
            left = pending[level]
            if left is not None:
                nodes = [left, *nodes]
                first -= 1
            if len(nodes) & 1:
                pending[level] = nodes[-1]
                nodes = nodes[:-1]
            else:
                pending[level] = None
            nodes = _parents(nodes)
            first >>= 1
            level += 1
        self.size += len(leaves)
        return kept

    def root(self) -> bytes:
        """Root of the tree as it stands."""
        return _fold(self.hashes)


def root_of(leaves: Iterable[bytes]) -> bytes:
    """Root over leaf hashes that fit into memory."""
    edge = Edge()
    edge.append_many(list(leaves))
    return edge.root()


def root_from(source: Source, size: int) -> bytes:
    """Root of the first ``size`` leaves, from stored hashes."""
    return _range_root(source, 0, size)


def edge_from(source: Source, size: int) -> Edge:
    """The right edge of the first ``size`` leaves, from stored hashes."""
    return Edge(size, [_node(source, level, index) for level, index in _cover(0, size)])


def inclusion_proof(index: int, size: int, source: Source) -> list[bytes]:
    """Hashes from the leaf's sibling up to the root's child (RFC 9162 §2.1.3.1).

    Raises ``ValueError`` unless 0 ≤ index < size.
    """
    if not 0 <= index < size:
        raise ValueError(f"a tree of {size} leaves has no leaf with index {index}")
    proof: list[bytes] = []
    start, stop = 0, size
    while stop - start > 1:
        middle = start + _split(stop - start)
        if index < middle:
            proof.append(_range_root(source, middle, stop))
            stop = middle
        else:
            proof.append(_range_root(source, start, middle))
            start = middle
    return proof[::-1]


def consistency_proof(first: int, second: int, source: Source) -> list[bytes]:
    """Hashes that show the tree of ``second`` leaves to extend that of ``first`` (§2.1.4.1).

    Empty where first equals second, and for first = 0, which every tree extends. Raises
    ``ValueError`` unless 0 ≤ first ≤ second.
    """
    if not 0 <= first <= second:
        raise ValueError(f"a tree of {second} leaves cannot extend one of {first}")
    if first in (0, second):
        return []
    proof: list[bytes] = []
    start, stop = 0, second
    known = True  # the verifier knows this subtree's root: it is the earlier tree's own
    while first != stop:
        middle = start + _split(stop - start)
        if first <= middle:
            proof.append(_range_root(source, middle, stop))
            stop = middle
        else:
            proof.append(_range_root(source, start, middle))
            start = middle
            known = False
    if not known:
        proof.append(_range_root(source, start, stop))
    return proof[::-1]


def verify_inclusion(
    leaf: bytes, index: int, size: int, proof: Sequence[bytes], root: bytes
) -> bool:
    """Whether ``proof`` shows the leaf hash at ``index`` of the tree of ``size`` (§2.1.3.2)."""
    if not 0 <= index < size or any(len(value) != HASH_SIZE for value in proof):
        return False
    fn, sn = index, size - 1
    value = leaf
    for other in proof:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            value = node_hash(other, value)
            while fn and not fn & 1:
                fn >>= 1
                sn >>= 1
        else:
            value = node_hash(value, other)
        fn >>= 1
        sn >>= 1
    return sn == 0 and value == root


def verify_consistency(
    first: int, second: int, first_root: bytes, second_root: bytes, proof: Sequence[bytes]
) -> bool:
    """Whether ``proof`` shows that the second tree begins with the first (§2.1.4.2)."""
    if not 0 <= first <= second or any(len(value) != HASH_SIZE for value in proof):
        return False
    if first == second:
        return not proof and first_root == second_root
    if first == 0:
        return not proof and first_root == EMPTY_ROOT
    if not proof:
        return False
    whole = first & (first - 1) == 0  # then the earlier root is itself a node, and not in the proof
    path = [first_root, *proof] if whole else list(proof)
    fn, sn = first - 1, second - 1
    while fn & 1:
        fn >>= 1
        sn >>= 1
    old = new = path[0]
    for value in path[1:]:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            old = node_hash(value, old)
            new = node_hash(value, new)
            while fn and not fn & 1:
                fn >>= 1
                sn >>= 1
        else:
            new = node_hash(new, value)
        fn >>= 1
        sn >>= 1
    return sn == 0 and old == first_root and new == second_root


def _split(length: int) -> int:
    """The largest power of two below ``length`` (at least 2)."""
    return 1 << (length - 1).bit_length() - 1


def _cover(start: int, stop: int) -> list[tuple[int, int]]:
    """(level, index) of the complete nodes that make up start … stop, left to right.

    ``start`` is a multiple of every power of two up to the length, as in any split of a tree.
    """
    nodes: list[tuple[int, int]] = []
    while start < stop:
        level = (stop - start).bit_length() - 1
        nodes.append((level, start >> level))
        start += 1 << level
    return nodes


def _range_root(source: Source, start: int, stop: int) -> bytes:
    return _fold([_node(source, level, index) for level, index in _cover(start, stop)])


def _node(source: Source, level: int, index: int) -> bytes:
    """Hash of any complete node, from the nearest stored level below it."""
    kept = level & ~7 if level < KEPT_LEVELS[-1] else KEPT_LEVELS[-1]
    up = level - kept
    start, stop = index << up, (index + 1) << up
    if kept == 0:
        nodes = source.leaf_hashes(start, stop)
        if len(nodes) != stop - start:
            raise ValueError(f"leaves {start} … {stop - 1} are not all there")
    else:
        nodes = [source.node(kept, i) for i in range(start, stop)]
    for _ in range(up):
        nodes = _parents(nodes)
    return nodes[0]


def _fold(hashes: Sequence[bytes]) -> bytes:
    """Root over complete subtrees of falling size, left to right."""
    if not hashes:
        return EMPTY_ROOT
    root = hashes[-1]
    for left in reversed(hashes[:-1]):
        root = node_hash(left, root)
    return root

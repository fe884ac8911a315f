"""What shows that an entry is in the tree, or that one tree begins with another, as plain data."""

from __future__ import annotations

from typing import Any

from capture.errors import NotFound
from capture.ledger import tree
from capture.ledger.store import TreeSource


def _tree_size(size: int | None, source: TreeSource) -> int:
    head = source.size()
    if size is None:
        return head
    if not 1 <= size <= head:
        raise NotFound(f"There is no tree of {size} entries; the ledger has {head}.")
    return size


def inclusion(source: TreeSource, seq: int, data: bytes | None, size: int | None) -> dict[str, Any]:
    """That entry ``seq`` of bytes ``data`` is in the tree of ``size`` entries. Raises NotFound."""
    wanted = _tree_size(size, source)
    if data is None or seq > wanted:
        raise NotFound(f"There is no entry {seq} in the tree of {wanted}.")
    path = tree.inclusion_proof(seq - 1, wanted, source)
    return {
        "seq": seq,
        "leaf_index": seq - 1,
        "tree_size": wanted,
        "leaf_hash": tree.leaf_hash(data).hex(),
        "root_hash": tree.root_from(source, wanted).hex(),
        "inclusion_path": [value.hex() for value in path],
        "entry": data.decode(),
    }


def consistency(source: TreeSource, first: int, second: int | None) -> dict[str, Any]:
    """That the tree of ``second`` entries begins with that of ``first``. Raises NotFound."""
    wanted = _tree_size(second, source)
    if not 1 <= first <= wanted:
        raise NotFound(f"A tree of {first} entries is no beginning of one of {wanted}.")
    path = tree.consistency_proof(first, wanted, source)
    return {
        "first": first,
        "second": wanted,
        "first_root": tree.root_from(source, first).hex(),
        "second_root": tree.root_from(source, wanted).hex(),
        "consistency_path": [value.hex() for value in path],
    }

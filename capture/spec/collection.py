"""The things a spec file declares under ids, and how others find them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Generic, TypeVar

from capture.spec.lines import Path
from capture.spec.problems import choose, shown
from capture.spec.table import Table

T = TypeVar("T")


class Collection(Generic[T]):
    """Things of one kind by id. ``noun`` is what messages call one of them.

    A thing that is declared but wrong keeps its id, so that whoever refers to it is not told, on
    top of the real problem, that it does not exist.
    """

    def __init__(self, noun: str) -> None:
        self.noun = noun
        self.sound: dict[str, T] = {}
        self.declared: dict[str, Path] = {}

    def claim(self, table: Table, id: str, others: Iterable[Collection[Any]] = ()) -> None:  # noqa: A002 # an id is what it is
        """Takes ``id`` for the thing in ``table``; a problem when it is taken already."""
        if not id:
            return
        for collection in (self, *others):
            first = collection.declared.get(id)
            if first is not None:
                message = f'the id "{id}" is taken by another {collection.noun}'
                table.problem("id", message, f"give each {self.noun} an id of its own", first)
                return
        self.declared[id] = table.path

    def find(self, table: Table, key: str, id: str) -> T | None:  # noqa: A002 # an id is what it is
        """The thing called ``id``; None after noting that there is none, or that it is wrong."""
        if not id:
            return None
        found = self.sound.get(id)
        if found is None:
            table.sound = False
            if id not in self.declared:
                known = list(self.declared)
                guess = table.nearest(id, known)
                mend = f'write "{guess}"' if guess else f"declared are {choose(known)}"
                table.problem(key, f"there is no {self.noun} called {shown(id)}", mend)
        return found

"""A formula as parsed: a tree of numbers, names and operations, with the names it uses."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple


class Literal(NamedTuple):
    """A bare number, without a unit."""

    value: Fraction


class Name(NamedTuple):
    """A characteristic, derived or given quantity; ``point`` names one point of a characteristic.

    A characteristic of several points without ``point`` is the mean over them."""

    id: str
    point: str | None
    at: int
    """Where it stands in the text, from 0; for errors."""


class Call(NamedTuple):
    """``mean``, ``min``, ``max``, ``range`` over the points of one characteristic, or over its
    arguments; ``abs`` of one argument."""

    function: str
    arguments: tuple[Node, ...]
    at: int


class Operation(NamedTuple):
    """``+ - * /`` of two, or ``-`` of one (``left`` is then None); ``^`` to a whole power."""

    sign: str
    left: Node | None
    right: Node
    at: int


Node = Literal | Name | Call | Operation


class Formula(NamedTuple):
    """What the spec says, and what it means."""

    text: str
    root: Node
    names: tuple[Name, ...]
    """Every name in it, in order."""

"""The corpus: a few hundred formats from one word."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from simulators.formats import binary_shapes, busy_shapes, text_shapes
from simulators.formats.format import Format, seeded
from simulators.formats.play import played

SHAPES = (*text_shapes.SHAPES, *binary_shapes.SHAPES, *busy_shapes.SHAPES)


def corpus(word: str, share: float = 1.0) -> Iterator[Format]:
    """Every shape's formats with their presses, the same for the same ``word``.

    ``share`` below 1 takes that part of each shape's (at least one): the first ones.
    """
    for make, count in SHAPES:
        for number in range(max(1, round(count * share))):
            kind = make.__module__.rpartition(".")[2].partition("_")[0]
            name = f"{kind}-{make.__name__.replace('_', '-')}-{number}"
            drawn = seeded(word, name)
            yield played(replace(make(drawn), name=name), drawn)

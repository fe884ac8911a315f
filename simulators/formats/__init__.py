"""Invented wire formats of gauges, to learn from: generated from a word, with the truth.

::

    for made in corpus("a word"):
        made.description, made.gauge
        made.presses      five to seven, as a person makes them
        made.further      fifty at any size; made.right(press, value, unit) judges an answer
    for thin in ambiguous("a word"):
        thin.presses      from which nobody can be sure, and thin.why

Every layout is drawn from general shapes; none is any maker's. Nothing of ours is imported.
"""

from simulators.formats.corpus import corpus
from simulators.formats.format import Format, Press
from simulators.formats.thin import Thin, ambiguous

__all__ = ["Format", "Press", "Thin", "ambiguous", "corpus"]

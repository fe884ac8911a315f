"""Findings: what a whole build shows that one reading cannot. Worth a look; they hold nothing.

Every rule is a pure function of the build (and, where said, of how its presses were taken). The
rules that test against chance find something in about one good characteristic, group or test in a
hundred each.

=============================  ====================================================================
code                           the mistake it may be
=============================  ====================================================================
reading-unlike-its-set         one reading on another cylinder, gauge not seated
unlike-its-sisters             another size, another part
all-shifted                    gauge mis-zeroed, rather than wear
gauges-disagree                one of two gauges mis-zeroed
wider-along-split              lubricant or dirt between cap and register
pattern-unlike-its-neighbours  cap reversed or swapped
torque-jump                    that cap or cylinder binds
pulls-scatter                  pulled off-axis, hand off the grip, jerky
scaled-pattern                 extension not entered
outside-its-family             dry against lubricated threads, damaged or yielded fastener
repeats-scatter                ring not square, gauge not rocked
repeats-to-one-side            gauge not rocked, end float pushed one way
gap-of-another-bore            ring gap measured in another cylinder
one-leaf-away                  wrong feeler leaf, two leaves counted as one
parts-not-one-temperature      parts of different warmth measured as they are
finer-than-shown               typed digits that the gauge cannot show
tool-overdue                   calibration past its date
=============================  ====================================================================
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from capture.build import Build
from capture.findings import cap, entries, pattern, repeats, ring, sets, turning, warmth, zero
from capture.findings.finding import Finding, Source
from capture.findings.not_shown import NOT_SHOWN, NotShown

__all__ = ["NOT_SHOWN", "Finding", "NotShown", "Source", "findings"]

_OF_BUILD = (
    sets.readings,
    sets.numbers,
    zero.shifted,
    zero.two_gauges,
    cap.along,
    cap.patterns,
    turning.jumps,
    pattern.scatter,
    pattern.families,
    repeats.scatter,
    repeats.one_sided,
    ring.other_bore,
    warmth.apart,
)
_OF_SOURCES = (entries.one_leaf_away, entries.too_fine, entries.overdue)


def findings(
    build: Build,
    sources: Mapping[int, Source] = MappingProxyType({}),
    factors: Mapping[str, float] = MappingProxyType({}),
) -> list[Finding]:
    """All findings of a build, rule by rule.

    ``sources``: press → how it was taken; presses that are missing are not looked at by the rules
    about entries. ``factors``: extension → tool setting over torque at the fastener, L/(L + E).
    """
    found = [one for rule in _OF_BUILD for one in rule(build)]
    found += pattern.scaled(build, factors)
    for of_sources in _OF_SOURCES:
        found += of_sources(build, sources)
    return found

"""Which settings explain best what was received, and which is to be tried next.

Every setting's cost is how unlikely it makes what came, in powers of two: by what a sender with
it would have to have sent, where the port was as fast or faster; where the port was slower,
nothing can be said but how many bytes came, and whether any was marked as wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from difflib import SequenceMatcher
from functools import lru_cache
from typing import NamedTuple

from drivers.learn.line.seen import as_seen_at
from drivers.learn.line.setting import PLAIN, SPEEDS, Form, Setting, candidates
from drivers.learn.line.stretch import HEARD, explained
from drivers.learn.line.trial import Trial

MARGIN = 12.0
"""Powers of two by which the likeliest speed must stand out."""
_ENOUGH = 8
"""Bytes whose parity is no accident."""
_BYTE = 8.0
_NOISE = 12.0
"""What every byte costs that no message explains: a disturbance, or a speed not looked for."""
_SAME = 4.0
"""What it costs that a press is like one before."""
_FAR = 3.5
"""How many times faster the port must be, that forms are no longer told apart."""
_LONG = Form(8, "none", 2)
_LONGER = {_LONG, Form(8, "even", 1), Form(8, "odd", 1)}
_CLEAN = 1.0
"""What a byte that is not marked as wrong costs, heard too slowly: every other one would be."""


class Ranked(NamedTuple):
    """One setting, and how unlikely it makes what came."""

    setting: Setting
    cost: float


def ranked(trials: Sequence[Trial]) -> list[Ranked]:
    """Every setting that is looked for, and those that were tried, the likeliest first."""
    rare = dict(candidates())
    rare.update((trial.setting, 6.0) for trial in trials if trial.setting not in rare)
    told = [trial for trial in trials if trial.raw]
    found = [Ranked(setting, less + _all(told, setting)) for setting, less in rare.items()]
    return sorted(found, key=lambda one: one.cost)


def message_of(
    trials: Sequence[Trial], order: Sequence[Ranked], refused: frozenset[Setting] = frozenset()
) -> Trial | None:
    """The last of the trials that was received at the likeliest speed, where that stands out: what
    it received is a message. None where no speed stands out, or it was not tried yet.

    ``refused``: settings that were listened with long enough, and made no sense.
    """
    heard = [trial for trial in trials if trial.raw and trial.setting not in refused]
    known = {trial.setting.baud for trial in heard}
    spent = {setting.baud for setting in refused} - known
    left = [one for one in order if one.setting.baud not in spent]
    if not left:
        return None
    best = left[0].setting
    others = [one.cost for one in left if one.setting.baud != best.baud]
    if others and others[0] - left[0].cost < MARGIN:
        return None
    there = [trial for trial in heard if trial.setting.baud == best.baud]
    if best.form.data_bits == 7 and max(known) == best.baud:
        # a parity that few bytes keep may be an accident: a faster sender is to be excluded first
        there = [trial for trial in there if len(trial.raw) >= _ENOUGH or best.baud == max(SPEEDS)]
    return there[-1] if there else None


def next_setting(
    trials: Sequence[Trial],
    order: Sequence[Ranked],
    refused: frozenset[Setting] = frozenset(),
    form: Form | None = None,
) -> Setting | None:
    """The setting to listen with at the next press; None where all have been tried.

    Eight bits without parity read what every other form sends, at the right speed, so that speeds
    come first; then, for ports that keep wrong bytes back, the forms at the likeliest speed.
    ``refused``: those that were listened with long enough; ``form``: the form, where it is given.
    """
    usual = form or PLAIN
    tried = {trial.setting for trial in trials} | refused
    if not any(trial.raw for trial in trials):
        left = [Setting(baud, usual) for baud in SPEEDS if Setting(baud, usual) not in tried]
        return left[0] if left else None
    for one in order:
        plain = Setting(one.setting.baud, usual)
        if plain not in tried:
            return plain
        if form is None and one.setting not in tried and one.setting.form in _HEARD_APART:
            speeds = {setting.baud for setting in tried}
            texts = any(is_text(trial) for trial in trials if trial.setting == plain)
            if set(SPEEDS) <= speeds or (texts and plain in refused):
                return one.setting
    return None


_HEARD_APART = (Form(8, "even", 1), Form(8, "odd", 1), Form(7, "even", 1), Form(7, "odd", 1))


def is_text(trial: Trial) -> bool:
    """Whether all that came can be text: where it is no message, bytes of it may be missing."""
    text = sum(1 for byte in trial.raw if 0x20 <= (byte & 0x7F) < 0x7F or byte in b"\r\n\0")
    return text == len(trial.raw) > 1


def _all(trials: Sequence[Trial], sender: Setting) -> float:
    """What all trials cost together: once a message was received at the sender's own speed, what
    was heard of it at others follows, but for what changes from press to press."""
    own = next((trial for trial in trials if _reads(trial.setting, sender)), None)
    total = 0.0
    for place, trial in enumerate(trials):
        cost = _cost(trial, sender)
        before = [one.raw for one in trials[:place] if one.setting.baud == trial.setting.baud]
        if before:
            cost = min(cost, *(_SAME + _NOISE * _apart(trial.raw, one) for one in before))
        if own is not None and trial is not own:
            cost = min(cost, _again(trial.raw, own.raw, sender, trial.setting))
        total += cost
    return total


def _reads(receiver: Setting, sender: Setting) -> bool:
    return receiver.baud == sender.baud and receiver.form in (PLAIN, sender.form)


@lru_cache(maxsize=4096)
def _again(heard: bytes, message: bytes, sender: Setting, receiver: Setting) -> float:
    """What it costs that ``heard`` is the message, or much the same, once more."""
    seen = as_seen_at(message[:HEARD], sender, receiver)
    there = bytes(one.value for one in seen)
    if len(message) > HEARD:
        heard, there = heard[: len(there)], there[: len(heard)]
    return _SAME + _NOISE * _apart(heard, there)


def _apart(one: bytes, two: bytes) -> int:
    """How many bytes are other ones."""
    alike = SequenceMatcher(None, one, two, autojunk=False).get_matching_blocks()
    return max(len(one), len(two)) - sum(block.size for block in alike)


def _cost(trial: Trial, sender: Setting) -> float:
    raw = trial.raw[:HEARD]
    noise = _NOISE * len(raw) + _NOISE
    if sender.baud > trial.setting.baud:
        clean = 0 if trial.wrong is None else len(raw) - len([n for n in trial.wrong if n < HEARD])
        return _BYTE * len(raw) + _CLEAN * clean
    if trial.setting.baud > _FAR * sender.baud:
        # so few bits are seen of each character that its form is not: one stands for all as long
        sender = sender._replace(form=_LONG if sender.form in _LONGER else PLAIN)
    sent = explained(trial, sender)
    return noise if sent is None else min(noise, sent.cost)

"""Speed and form from presses at known sizes, each heard at a setting that is known: pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from drivers.learn.learn import Learned, learn
from drivers.learn.line.form import STOP_BITS, Found, form_of
from drivers.learn.line.rank import Ranked, message_of, next_setting, ranked
from drivers.learn.line.setting import Setting
from drivers.learn.line.trial import Trial
from drivers.learn.press import Press

SPREAD = 6
"""Presses that are enough to rank the settings by."""


class Line(NamedTuple):
    """What the presses tell of the line, and of the gauge."""

    order: list[Ranked]
    """Every setting, the likeliest first."""
    sure: Setting | None
    """The setting; None where it is not certain."""
    reasons: list[str]
    """Why it is not, or how it is known."""
    next: Setting | None
    """What to listen with at the next press, where that would decide."""
    learned: Learned
    """From what was received at the right speed; from everything where that is not known."""
    trials: list[Trial]
    """What that is."""


def line_of(trials: Sequence[Trial], presses: Sequence[Press]) -> Line:
    """What ``presses`` tell, press by press heard as ``trials`` say.

    It is sure only of a setting that was listened with, where no other speed explains as well what
    came at any setting, and where the sizes are read from what came at it.
    """
    order = ranked(_some(trials))
    following = next_setting(trials, order)
    message = message_of(trials, order)
    if message is None:
        return _unknown(order, following, learn(presses))
    own = [
        (trial, press)
        for trial, press in zip(trials, presses, strict=True)
        if trial.setting.baud == message.setting.baud and trial.raw
    ]
    heard = [trial for trial, _ in own]
    found = form_of(heard)
    learned = learn([_taken(press, found) for _, press in own])
    if not learned.sure:
        why = f"the presses heard at {message.setting.baud} baud are not understood for certain"
        ask = message.setting if learned.profile is not None else following
        return Line(order, None, [why], ask, learned, heard)
    setting = Setting(message.setting.baud, found.form)
    if found.ask is not None:
        return Line(order, None, [found.why], setting, learned, heard)
    said = [f"The line is {setting.name}. {found.why}"]
    said += [STOP_BITS] if found.form.stop_bits == 1 else []
    return Line(order, setting, said, None, learned, heard)


def _some(trials: Sequence[Trial]) -> list[Trial]:
    """A few of those heard at each setting: more of the same tell no more."""
    kept: dict[Setting, list[Trial]] = {}
    for trial in trials:
        kept.setdefault(trial.setting, []).append(trial)
    return [trial for same in kept.values() for trial in same[:SPREAD]]


def _unknown(order: list[Ranked], following: Setting | None, learned: Learned) -> Line:
    best = order[0].setting
    reason = (
        f"no speed explains the bytes alone; they may have been sent at {best.baud} baud"
        if following is None or best.baud == following.baud
        else "no speed explains the bytes"
    )
    return Line(order, None, [reason], following, learned, [])


def _taken(press: Press, found: Found) -> Press:
    if not found.strip:
        return press
    return Press(bytes(byte & 0x7F for byte in press.raw), press.size, press.unit, press.switched)

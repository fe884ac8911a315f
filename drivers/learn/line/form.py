"""The form of characters, once the speed is right."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from drivers.learn.bytes_seen import parity_of
from drivers.learn.line.setting import PLAIN, Form
from drivers.learn.line.trial import Trial

_ENOUGH = 8
"""Different bytes that must agree, before it is no accident."""
_EIGHT = {PLAIN, Form(8, "none", 2)}
_EVEN, _ODD = Form(8, "even", 1), Form(8, "odd", 1)
STOP_BITS = (
    "One stop bit is written down: a second one, if the gauge sends it, cannot be told from a "
    "pause, and makes no difference to reading."
)


class Found(NamedTuple):
    """The form, and what is to be said of it."""

    form: Form
    why: str
    ask: Form | None = None
    """The form to listen with next, where that would decide."""
    strip: bool = False
    """The eighth bit of what was received is a parity bit."""


def form_of(trials: Sequence[Trial]) -> Found:
    """The form of what was received at the right speed, all of it messages.

    Received with eight bits and no parity, seven bits show their parity in the eighth; eight bits
    with parity show it where a stop bit should be: a low one is an error, which some ports tell.
    """
    plain = [trial for trial in trials if trial.setting.form in _EIGHT and trial.raw]
    others = [trial for trial in trials if trial.setting.form not in _EIGHT and trial.raw]
    data = b"".join(trial.raw for trial in plain)
    parity = parity_of([trial.raw for trial in plain]) if plain else ""
    if parity and len(set(data)) >= _ENOUGH and not any(trial.faulty for trial in plain):
        return _seven(parity, data)
    clean = [trial for trial in others if not trial.faulty]
    if clean and (not plain or any(trial.faulty for trial in plain)):
        form = clean[-1].setting.form
        known = bool(plain) or any(trial.wrong is not None for trial in clean)
        why = "no byte has an error" if known else "the bytes make sense; no errors are told"
        return Found(form, f"Received with {form.name}, {why}.")
    if others and not plain:
        form = others[-1].setting.form
        return Found(form, f"Received with {form.name}, bytes have errors.", PLAIN)
    told = [trial for trial in plain if trial.wrong is not None]
    if told and any(trial.wrong for trial in told):
        return _by_marks(told)
    if any(trial.faults for trial in plain):
        failed = {trial.setting.form for trial in others}
        for form in (_EVEN, _ODD):
            if form not in failed:
                why = "The port tells errors of the stop bit: a parity bit is sent there."
                return Found(form, why, form)
    if told:
        return Found(PLAIN, "No byte came with an error of parity or stop bit, as far as the port "
                     "tells them.")  # fmt: skip
    return Found(PLAIN, "This port tells no errors: a parity bit beside eight data bits would not "
                 "be seen, and makes no difference to reading here.")  # fmt: skip


def _seven(parity: str, data: bytes) -> Found:
    count = len(set(data))
    if parity == "mark":
        why = f"The eighth bit of all {count} different bytes is 1, as a second stop bit is."
        return Found(Form(7, "none", 2), why, strip=True)
    form = Form(7, "even" if parity == "even" else "odd", 1)
    why = f"The eighth bit of all {count} different bytes makes their ones {parity}: parity."
    return Found(form, why, strip=True)


def _by_marks(told: Sequence[Trial]) -> Found:
    """Even parity is low, and so an error, where the ones are even; odd where they are odd."""
    fits = {_EVEN: 0, _ODD: 0}
    total = 0
    for trial in told:
        for place, byte in enumerate(trial.raw):
            total += 1
            wrong = place in (trial.wrong or ())
            ones = byte.bit_count() % 2
            fits[_EVEN] += wrong == (ones == 0)
            fits[_ODD] += wrong == (ones == 1)
    for form, count in fits.items():
        if count == total >= _ENOUGH:
            why = (
                f"Of {total} bytes just those came with an error of the stop bit whose "
                f"{form.parity} parity bit is 0: a parity bit is sent there."
            )
            return Found(form, why)
    return Found(PLAIN, "Some bytes came with errors, and no parity explains them: the line is "
                 "disturbed, or another speed is near.")  # fmt: skip

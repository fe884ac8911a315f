"""Which characteristic of a radio carries the reading, and what it teaches."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from drivers.learn.learn import ENOUGH, Learned, learn
from drivers.learn.press import Press, press_of

CABLE = ""
"""Stands in the place of a characteristic for what has none."""


class Pressed(NamedTuple):
    """One press: what was said of it, and what each characteristic sent."""

    at: str | None
    parts: dict[str, bytes]
    switched: str | None = None


class Judged(NamedTuple):
    """What was learned, from which characteristic."""

    learned: Learned
    characteristic: str | None
    """None where it cannot be told."""


SMALLER = (
    "press at a size smaller than the one before, without zeroing or switching in between: the two "
    "will then say different things"
)


def judged(presses: Sequence[Pressed], by_itself: Collection[str] = ()) -> Judged:
    """What the presses teach; ``by_itself`` are characteristics that also send without a press."""
    told = {
        uuid: learn(_of(uuid, presses))
        for uuid in dict.fromkeys(uuid for press in presses for uuid in press.parts)
        if uuid not in by_itself
    }
    if list(told) == [CABLE]:
        return Judged(told[CABLE], None)
    fitting = [uuid for uuid, learned in told.items() if _fits(learned)]
    if len(fitting) > 1:
        return Judged(_undecided(fitting, told), None)
    if fitting:
        (uuid,) = fitting
        return Judged(_named(uuid, told[uuid], presses, told, by_itself), uuid)
    if len(told) == 1:
        (uuid,) = told
        return Judged(told[uuid], uuid)
    best = max(told.values(), key=lambda learned: len(learned.found), default=learn([]))
    return Judged(best, None)


def _of(uuid: str, presses: Sequence[Pressed]) -> list[Press]:
    return [
        press_of(press.at, press.parts[uuid], press.switched)
        for press in presses
        if uuid in press.parts
    ]


def _fits(learned: Learned) -> bool:
    made = learned.explanation
    return learned.profile is not None and made is not None and made.scaling.bits >= ENOUGH


def _undecided(fitting: Sequence[str], told: dict[str, Learned]) -> Learned:
    first = told[fitting[0]]
    reason = f"more than one characteristic fits every press: {', '.join(fitting)}"
    return Learned(False, [], [reason], f"{SMALLER}; or name one with --notify",
                   first.profile if not first.sure else None, first.explanation)  # fmt: skip


def _named(
    uuid: str,
    learned: Learned,
    presses: Sequence[Pressed],
    told: dict[str, Learned],
    by_itself: Collection[str],
) -> Learned:
    found = [f"Characteristic {uuid} carries the reading.", *learned.found]
    found += [
        f"Characteristic {other} also sends at a press, and not the size." for other in told
        if other != uuid
    ]  # fmt: skip
    found += [f"Characteristic {other} sends by itself." for other in sorted(by_itself)]
    missed = [place for place, press in enumerate(presses, 1) if uuid not in press.parts]
    reasons = list(learned.reasons)
    if missed:
        numbers = ", ".join(map(str, missed))
        reasons.append(f"it sent nothing at press {numbers}")
    return Learned(
        not reasons,
        found,
        reasons,
        (learned.next_press or "press once more") if reasons else None,
        learned.profile if learned.sure == (not reasons) else None,
        learned.explanation,
    )

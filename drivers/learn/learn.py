"""Learning a gauge's profile from a few presses at known sizes.

Every explanation that fits every press is kept, the simplest first. It is *sure* only where those
that are left would read any further message alike, the presses are evidence enough, and the
profile made of it, loaded as any other, reads the presses back. Otherwise it says why not, and
which press would decide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from capture.errors import BenchError, DecodingError, UnitError
from capture.quantity import dimension, text
from drivers.framing.frame import Fault
from drivers.learn import binary
from drivers.learn import text as in_text
from drivers.learn.bytes_seen import seen
from drivers.learn.explanation import Explanation, Read
from drivers.learn.press import Press
from drivers.learn.tables import pins_of, tables
from drivers.learn.toml_text import toml
from drivers.learn.vary import variations
from drivers.learn.words import pinned, told
from drivers.profiles.load import parse_profile
from drivers.profiles.profile import Profile

SLACK = 1
"""Steps of the display that a size may be off, beside half a step of rounding."""
ENOUGH = 24.0
"""Powers of two: how unlikely a fit by accident must be."""


@dataclass(frozen=True, slots=True)
class Learned:
    """What the presses taught."""

    sure: bool
    found: list[str]
    """What was found, a sentence each; of the likeliest explanation where it is not sure."""
    reasons: list[str]
    """Why it is not sure."""
    next_press: str | None
    """Which press would decide."""
    profile: str | None
    """The profile file's text; None where nothing fits."""
    explanation: Explanation | None = field(default=None, repr=False)

    def expected(self, size: Decimal, unit: str, switched: bool = False) -> str | None:
        """What the gauge should send at a size: digits and unit, as far as they can be said."""
        return (
            None if self.explanation is None else _expected(self.explanation, size, unit, switched)
        )


def learn(presses: Sequence[Press], slack: int = SLACK) -> Learned:
    """What the presses, in their order, teach about the gauge."""
    early = _too_few(presses)
    if early:
        return Learned(False, [], [early], _WANTED, None)
    found = _explanations(presses, slack)
    if not found:
        return Learned(False, [], _why_none(presses, slack), _WANTED, None)
    learned = _judged(found, presses)
    if learned.profile is None and isinstance(found[0].reading, in_text.TextReading):
        # bytes may look like text by accident
        others = _explanations(presses, slack, as_text=False)
        learned = _judged(others, presses) if others else learned
    return learned


def _judged(found: Sequence[Explanation], presses: Sequence[Press]) -> Learned:
    """The first explanation, with what speaks against being sure of it."""
    first = found[0]
    reasons, wanted = _doubts(first, presses)
    rival = _rival(first, [other for other in found[1:] if not _copy(first, other, presses)])
    if rival is not None:
        reasons.append(f"another explanation fits every press as well: {_short(rival)}")
        wanted = _deciding(first, rival)
    profile = _profile(first, not reasons)
    wrong = _reads_back(profile, first, presses)
    if wrong:
        reasons.append(wrong)
    if reasons and not wrong:
        profile = _profile(first, False)
    lines = told(first)
    if isinstance(first.reading, binary.BinaryReading):
        lines += pinned(pins_of(first.seen, first.reading))
    return Learned(
        not reasons,
        lines,
        reasons,
        wanted if reasons else None,
        None if wrong else profile,
        first,
    )


_WANTED = (
    "press at three or more different sizes that you know, one of them large and one negative "
    "(zeroed on a block), and once after switching the unit"
)


_NO_MINUS = "no press was negative, so how a minus is sent is not known"
_BELOW = "zero the gauge on a block, and press at a size below it"


def _too_few(presses: Sequence[Press]) -> str | None:
    known = [press for press in presses if press.unit is not None]
    sizes = {(press.size, press.unit) for press in known if press.size}
    if len(known) < 3 or len(sizes) < 2:
        return "three presses at known sizes, two of them not zero, are the least"
    try:
        kinds = {dimension(press.unit) for press in known if press.unit}
        kinds |= {dimension(press.switched) for press in presses if press.switched}
    except UnitError as error:
        return str(error)
    if len(kinds) > 1:
        return f"the presses measure different things: {', '.join(sorted(kinds))}"
    said: dict[bytes, Press] = {}
    for press in known:
        other = said.setdefault(press.raw, press)
        if _far(press, other):
            return (
                f"the same bytes came at {_named(other)} and at {_named(press)}: "
                "the presses contradict each other"
            )
    return None


def _far(one: Press, two: Press) -> bool:
    if one.unit is None or two.unit is None or one.switched != two.switched:
        return False
    size, other = one.at(one.unit), two.at(one.unit)
    return abs(size - other) > max(abs(size), abs(other)) / 20


def _named(press: Press) -> str:
    if press.size is None:
        return "an unknown size"
    switched = f" (switched to {press.switched})" if press.switched else ""
    return f"{text(press.size)} {press.unit}{switched}"


def _explanations(presses: Sequence[Press], slack: int, as_text: bool = True) -> list[Explanation]:
    found: list[Explanation] = []
    for one in seen([press.raw for press in presses]):
        if one.is_text and as_text:
            readings = in_text.explanations(one.texts(), presses, slack)
            found += [Explanation(one, reading) for reading in readings]
        # bytes may look like text by accident
        if not found and one.length and not one.is_plain:
            parts = binary.explanations(one.messages, presses, one.check_range, slack)
            found += [Explanation(one, reading) for reading in parts]
        if found:
            break
    return found


def _why_none(presses: Sequence[Press], slack: int) -> list[str]:
    """Which press, left out, would let the others be understood."""
    reasons = []
    for index, press in enumerate(presses):
        rest = [*presses[:index], *presses[index + 1 :]]
        if _too_few(rest) or press.unit is None:
            continue
        found = _explanations(rest, slack)
        if not found or found[0].scaling.bits < ENOUGH:
            continue
        if press.switched and not any(other.switched for other in rest):
            reasons.append(
                f"press {index + 1}, after switching to {press.switched}, cannot be brought "
                "together with the others: nothing in the message tells the units apart"
            )
            continue
        raw = bytes(byte & 0x7F for byte in press.raw) if found[0].seen.parity else press.raw
        said = found[0].reader()(raw)
        reads = f", but it reads {float(said.size):g} {said.unit}" if said else ""
        reasons.append(
            f"press {index + 1} contradicts the others: it is said to be at {_named(press)}{reads}"
        )
    return reasons[:1] or ["no explanation fits every press"]


def _doubts(made: Explanation, presses: Sequence[Press]) -> tuple[list[str], str | None]:
    """What makes the presses too thin, and the press that would help."""
    scaling, reading = made.scaling, made.reading
    reasons: list[str] = []
    wanted: str | None = None
    if scaling.bits < ENOUGH:
        reasons.append("the presses are too few, or too alike, to exclude an accident")
        wanted = "press at another size, far from those so far and not round"
    if scaling.open:
        reasons.append("what one count is worth is not pinned down: several values fit")
        wanted = "press at the largest size you know exactly"
    if reading.doubts:
        reasons += reading.doubts
        wanted = "press at two more sizes that are not round, in each unit"
    if isinstance(reading, in_text.TextReading):
        if reading.writing.form != "hex" or reading.sign_seen:
            return reasons, wanted
        if not any(press.sign < 0 for press in presses):
            reasons.append(_NO_MINUS)
            wanted = _BELOW
        return reasons, wanted
    if reading.place.way != "float" and not any(press.sign < 0 for press in presses):
        reasons.append(_NO_MINUS)
        wanted = _BELOW
    marks = [mark for mark in (reading.sign, reading.unit) if mark]
    if any(not mark.clean and mark.mask & (mark.mask - 1) for mark in marks):
        reasons.append("the byte that seems to tell the sign or the unit says other things too")
        wanted = "press once more at a negative size, and once more with the unit switched"
    return reasons, wanted


def _rival(first: Explanation, others: Sequence[Explanation]) -> Explanation | None:
    """An explanation that would read some further message otherwise."""
    read = first.reader()
    messages = list(variations(first.seen.messages, first.seen.is_text))
    for other in others:
        reads = other.reader()
        for message in messages:
            one, two = read(message), reads(message)
            if one is not None and two is not None and _differ(one, two):
                return other
    return None


def _copy(first: Explanation, other: Explanation, presses: Sequence[Press]) -> bool:
    """Whether both were the same number at every press, while sizes rose and fell: then it is
    sent twice. A highest or lowest would have stood still."""
    if not _elsewhere(first.reading, other.reading):
        return False
    one, two = first.reader(), other.reader()
    for message in first.seen.messages:
        a, b = one(message), two(message)
        if a is None or b is None or _differ(a, b):
            return False
    rose = fell = False
    for before, after in pairwise(presses):
        known = before.unit is not None and after.unit is not None
        if not known or before.switched != after.switched or after.sign < 0 or before.sign < 0:
            continue
        rose = rose or after.at(after.unit or "") > before.at(after.unit or "")
        fell = fell or after.at(after.unit or "") < before.at(after.unit or "")
    return rose and fell


def _elsewhere(
    one: binary.BinaryReading | in_text.TextReading, two: binary.BinaryReading | in_text.TextReading
) -> bool:
    """Whether they read their numbers from different places, and all else from the same."""
    if isinstance(one, binary.BinaryReading) and isinstance(two, binary.BinaryReading):
        apart = not set(one.place.bytes_used) & set(two.place.bytes_used)
        return apart and one.sign == two.sign and one.unit == two.unit
    if isinstance(one, in_text.TextReading) and isinstance(two, in_text.TextReading):
        return all(a[1] <= b[0] or b[1] <= a[0] for a, b in zip(one.spans, two.spans, strict=True))
    return False


def _differ(one: Read, two: Read) -> bool:
    near = max(abs(one.size), abs(two.size)) / 10**6
    return one.unit != two.unit or abs(one.size - two.size) > near


def _short(made: Explanation) -> str:
    return " ".join(told(made)[1:3])


def _deciding(first: Explanation, rival: Explanation) -> str:
    one, two = first.reading, rival.reading
    if isinstance(one, binary.BinaryReading) and isinstance(two, binary.BinaryReading):
        if one.place == two.place and one.unit != two.unit:
            return "switch the unit back, press, switch it again and press"
        if one.place == two.place and one.sign != two.sign:
            return "press at another negative size, then at a positive one"
    return (
        "press at a size between those so far, smaller than the one before, without zeroing or "
        "switching in between"
    )


def _profile(made: Explanation, sure: bool) -> str:
    title = "Learned from presses at known sizes" if sure else "NOT CERTAIN: a first guess"
    return toml(tables(made), title, [title + ".", *told(made)])


def _reads_back(profile: str, made: Explanation, presses: Sequence[Press]) -> str | None:
    """What is wrong with the profile, read as any other; None where it reads every press."""
    try:
        loaded = parse_profile(profile.encode(), "learned", "learned profile")
    except BenchError as error:
        return f"the profile cannot be written: {error}"
    reader = made.reader()
    for index, (press, message) in enumerate(zip(presses, made.seen.messages, strict=True)):
        said, expected = decoded(loaded, press.raw), reader(message)
        if said is None or expected is None:
            return f"the profile does not read press {index + 1}"
        step = Fraction(1, 10 ** max(0, -int(Decimal(said[0]).as_tuple().exponent)))
        if said[1] != expected.unit or abs(Fraction(said[0]) - expected.size) > step:
            return f"the profile reads press {index + 1} as {said[0]} {said[1]}"
    return None


def decoded(profile: Profile, raw: bytes) -> tuple[str, str | None] | None:
    """Digits and unit of the one message in ``raw`` that has a value; None where there is not just
    one."""
    framer, decode = profile.framing.framer(), profile.decoding.decoder(*profile.framing.edges)
    values = []
    for item in [*framer.feed(raw, 0), *framer.drain()]:
        if isinstance(item, Fault):
            continue
        try:
            values.append(decode(item))
        except DecodingError:
            continue
    return (values[0][0], values[0][1]) if len(values) == 1 else None


def _expected(made: Explanation, size: Decimal, unit: str, switched: bool) -> str | None:
    scaling = made.scaling
    worth = scaling.switched if switched and scaling.switched else scaling.base
    try:
        shown = Press(b"?", size, unit).at(worth.unit)
    except UnitError:
        return None
    if worth.places is not None and worth.factor is None:
        return f"{text(shown, worth.places)} {worth.unit}"
    places = 3 if worth.unit == "mm" else 4
    return f"about {text(shown, places)} {worth.unit}"

"""``witnessmark learn PORT``: a person is asked for presses until the gauge is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import click

from api.cli.learn_line import LineSearch, Verdict
from capture.errors import CaptureError, TransportError, UnitError
from drivers.learn.hear_which import CABLE, Judged, Pressed, judged

if TYPE_CHECKING:
    from drivers.learn.hear import Ear, Heard
    from drivers.learn.learn import Learned

ASKED = (
    "closed jaws, or zero (type 0 and the unit)",
    "a gauge block or another size that you know, a large one",
    "another size that you know, not a round one if you can",
    "a negative size: zero the gauge on a block, then measure something smaller",
    "any size after switching the gauge's unit (type 'switched in' or the like first), "
    "if it has a switch",
)
HOW = "Size with its unit (or 'switched UNIT', 'drop N' to take a press out, 'done')"


class Result(NamedTuple):
    """What came of it."""

    judged: Judged
    raws: list[bytes]
    """The messages, as a port with the settings found hands them on."""


@dataclass
class Session:
    """One gauge on one port."""

    ear: Ear
    line: LineSearch
    ask: bytes = b""
    wait: float = 60.0
    by_itself: Callable[[], frozenset[str]] = frozenset
    tell: Callable[[str], None] = field(default=lambda words: click.echo(words, err=True))
    presses: list[Pressed] = field(default_factory=list)
    switched: str | None = None

    def run(self) -> Result:
        """Asks for presses, one after another, until it is sure or the person has had enough."""
        now = self._judge()
        try:
            while True:
                learned = now.learned
                count = len(self.presses)
                wish = ASKED[count] if count < len(ASKED) else learned.next_press
                self.tell(f"\nPress {count + 1}: {wish or 'any size, to try it'}.")
                said = click.prompt(HOW, err=True).strip()
                if said == "done":
                    break
                if self._told(said):
                    now = self._judge()
                    continue
                if not self._press(said, now):
                    continue
                now = self._judge()
                if self._no_sense(now.learned):
                    now = self._judge()
                    continue
                self._so_far(now.learned)
                if now.learned.sure and len(self.presses) >= len(ASKED) and self._settled():
                    break
        except (click.Abort, KeyboardInterrupt):
            pass
        return Result(now, self._raws(now.characteristic))

    def _told(self, said: str) -> bool:
        """What is said and no size; whether it was that."""
        word, _, rest = said.partition(" ")
        if word == "drop":
            if not rest.strip().isdecimal() or not 0 < int(rest) <= len(self.presses):
                self.tell(f"There are presses 1 to {len(self.presses)}: name one, like 'drop 2'.")
                return True
            del self.presses[int(rest) - 1]
            self.line.forget(int(rest) - 1)
            self.tell(f"Press {int(rest)} is taken out.")
            return True
        if word != "switched":
            return False
        from capture.quantity import unit_name

        try:
            self.switched = unit_name(rest.strip()) if rest.strip() not in ("", "back") else None
        except UnitError as error:
            self.tell(f"{error} Write it like 'switched in', and 'switched back'.")
        return True

    def _press(self, said: str, now: Judged) -> bool:
        """Takes a press at the size that was typed; whether there is one more now."""
        from drivers.learn.press import size_of

        try:
            size, unit = size_of(said)
        except (ValueError, UnitError) as error:
            self.tell(str(error))
            return False
        learned = now.learned
        foretold = learned.expected(size, unit, self.switched is not None) if learned.sure else None
        if foretold:
            self.tell(f"It should say {foretold}.")
        while True:
            heard = self._heard()
            if heard is None:
                return False
            if heard.raw:
                self.tell(f"{len(heard.raw)} bytes: {heard.raw.hex(' ')}")
            verdict = self.line.take(heard)
            self._tune(verdict)
            if verdict.raw is not None:
                break
            if verdict.words:
                self.tell(verdict.words)
            if verdict.setting is None or not heard.raw:
                return False
        parts = heard.parts or {CABLE: verdict.raw}
        if foretold:
            self._compare(learned, parts.get(now.characteristic or CABLE, b""))
        self.presses.append(Pressed(said, parts, self.switched))
        return True

    def _heard(self) -> Heard | None:
        """What one press sends; None where the port was lost on the way, and is back."""
        words = "Asking the gauge…" if self.ask else "Now press the gauge's button…"
        try:
            return self.ear.press(self.wait, self.ask, lambda: self.tell(words))
        except TransportError as error:
            self.tell(f"{error}. {error.mend[:1].upper()}{error.mend[1:]}.")
        self.ear.again(self.wait)
        count = len(self.presses)
        kept = f"; the {count} presses so far are kept" if count else ""
        self.tell(f"It is back{kept}. Press again.")
        return None

    def _tune(self, verdict: Verdict) -> None:
        if verdict.setting is not None:
            self.ear.tune(verdict.setting)

    def _compare(self, learned: Learned, raw: bytes) -> None:
        from drivers.learn.learn import decoded
        from drivers.profiles.load import parse_profile

        if learned.profile is None:
            return
        said = decoded(parse_profile(learned.profile.encode(), "learned", "learned"), raw)
        self.tell(f"It says {said[0]} {said[1]}." if said else "It says nothing that can be read.")

    def _judge(self) -> Judged:
        by_itself = self.by_itself()
        for place in reversed(range(len(self.presses))):
            if set(self.presses[place].parts) <= by_itself:
                del self.presses[place]
                self.line.forget(place)
                self.tell(f"Press {place + 1} was none: that characteristic sends by itself.")
        strip = self.line.strips
        presses = [_stripped(press) if strip else press for press in self.presses]
        return judged(presses, by_itself)

    def _no_sense(self, learned: Learned) -> bool:
        """Where the presses make no sense and the line's settings are our own guess, another is
        tried with new presses; whether that is so."""
        if learned.profile is not None or not self.line.may_be_wrong(len(self.presses)):
            return False
        if learned.reasons != ["no explanation fits every press"]:
            return False
        verdict = self.line.refuse()
        if verdict.setting is None:
            return False
        self._tune(verdict)
        self.tell(verdict.words)
        self.presses.clear()
        return True

    def _settled(self) -> bool:
        """Whether the line's form needs no further press."""
        return not self.line.asks

    def _raws(self, characteristic: str | None) -> list[bytes]:
        of = characteristic or CABLE
        strip = self.line.strips
        return [
            bytes(byte & 0x7F for byte in press.parts[of]) if strip else press.parts[of]
            for press in self.presses
            if of in press.parts
        ]

    def _so_far(self, learned: Learned) -> None:
        reasons = "; ".join(learned.reasons)
        self.tell("Sure so far." if learned.sure else f"Not sure yet: {reasons}.")
        if "contradicts" in reasons:
            self.tell("Where a press was a mistake, 'drop' and its number take it out.")


def _stripped(press: Pressed) -> Pressed:
    parts = {name: bytes(byte & 0x7F for byte in raw) for name, raw in press.parts.items()}
    return press._replace(parts=parts)


def asked_bytes(text: str) -> bytes:
    """What is sent before each press: pairs of hexadecimal digits with blanks between, or text in
    which ``\\r``, ``\\n``, ``\\t`` and ``\\x02`` stand for what they do elsewhere."""
    import re

    if re.fullmatch(r"0[xX](?:[0-9A-Fa-f]{2})+", text):
        return bytes.fromhex(text[2:])
    if re.fullmatch(r"[0-9A-Fa-f]{2}(?: [0-9A-Fa-f]{2})+", text.strip()):
        return bytes.fromhex(text)
    try:
        made = re.sub(r"\\(?:x([0-9A-Fa-f]{2})|([rnt0\\]))", _escape, text).encode("latin-1")
    except UnicodeEncodeError:
        made = b""
    if not made:
        raise CaptureError(
            f"--ask {text!r} is no bytes. Mend: write text like 'V\\r', or hexadecimal like "
            "'56 0D' or 0x560D."
        )
    return made


def _escape(found: object) -> str:
    digits, sign = found[1], found[2]  # type: ignore[index]  # a match of ``re.sub``
    if digits:
        return chr(int(digits, 16))
    return {"r": "\r", "n": "\n", "t": "\t", "0": "\0", "\\": "\\"}[sign]

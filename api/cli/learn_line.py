"""The search for a serial line's settings, press by press."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from drivers.learn.hear import Heard
    from drivers.learn.line.form import Found
    from drivers.learn.line.setting import Form, Setting
    from drivers.learn.line.trial import Trial

_ENOUGH = 4
"""Presses that must make no sense before the line's settings are doubted."""


class Verdict(NamedTuple):
    """What is to be done after a press."""

    raw: bytes | None
    """The message; None where what came is none."""
    setting: Setting | None = None
    """To listen with from now on; None to go on as before."""
    words: str = ""
    """For the person."""


class LineSearch:
    """Which settings a port has to be listened to with. Where they were given, or cannot be set
    from here, there is nothing to search for."""

    def __init__(self, setting: Setting, *, speed: bool, form: bool, cable: bool = True) -> None:
        """``speed``, ``form``: whether that is looked for; ``cable``: whether there is a line."""
        self.setting = setting
        self._speed = speed
        self._form = form
        self._cable = cable
        self._trials: list[Trial] = []
        self._messages: list[Trial] = []
        self._refused: set[Setting] = set()
        self._nothing = 0
        self._marks = False
        self._told: dict[Trial, Trial] = {}

    @property
    def searching(self) -> bool:
        """Whether the speed is still looked for."""
        return self._speed and not self._messages

    @property
    def found(self) -> Found | None:
        """The form; None where it was given, or there are no messages yet."""
        from drivers.learn.line.form import form_of

        return form_of(self._messages) if self._form and self._messages else None

    @property
    def strips(self) -> bool:
        """Whether the eighth bit of what was received is parity and no more."""
        found = self.found
        return found is not None and found.strip

    @property
    def asks(self) -> Form | None:
        """The form that the next press decides on, if any."""
        found = self.found
        return found.ask if found is not None else None

    def take(self, heard: Heard) -> Verdict:
        """What a press brought."""
        from drivers.learn.line.trial import Trial

        if not heard.raw:
            return self._silence()
        self._nothing = 0
        trial = Trial(self.setting, heard.raw, heard.wrong, heard.faults)
        self._marks = self._marks or bool(heard.wrong)
        if not self.searching:
            self._messages.append(trial)
            return Verdict(trial.raw, self._asked())
        # not every port that is asked to mark errors does: only one that has is believed
        self._trials.append(trial if self._marks else trial._replace(wrong=None))
        self._told[self._trials[-1]] = trial
        return self._searched()

    def forget(self, place: int) -> None:
        """A press was a mistake."""
        if place < len(self._messages):
            del self._messages[place]

    def may_be_wrong(self, presses: int) -> bool:
        """Whether so many presses without sense mean that the settings are wrong."""
        return self._speed and presses >= _ENOUGH

    def refuse(self) -> Verdict:
        """The settings are wrong: others are searched for from now on."""
        self._trials += [one for one in self._messages[:1] if one not in self._trials]
        self._messages.clear()
        self._refused.add(self.setting)
        old = self.setting.name
        following = self._following()
        words = f"These presses make no sense together at {old}; trying {self.setting.name}. "
        return Verdict(None, following, f"{words}Begin again with the first press.")

    def _searched(self) -> Verdict:
        from drivers.learn.line.rank import message_of, ranked

        order = ranked(self._trials)
        message = message_of(self._trials, order, frozenset(self._refused))
        if message is not None:
            back = message.setting if message.setting != self.setting else None
            self.setting = message.setting
            self._messages.append(self._told.get(message, message))
            return Verdict(message.raw, back or self._asked())
        old = self.setting
        following = self._following()
        if following is None:
            words = (
                "At no speed that is looked for do the bytes look like a message. If the gauge's "
                "booklet tells its speed, give it, like --baud 9600."
            )
            return Verdict(None, None, words)
        words = (
            f"These bytes do not look like a message at {old.baud} baud; trying {following.name}. "
            "Press again, at the same size."
        )
        return Verdict(None, following, words)

    def _silence(self) -> Verdict:
        from drivers.learn.line.rank import is_text

        self._nothing += 1
        words = "Nothing came. Is the gauge on, and is it the right port?"
        # a port that is silent at another speed keeps wrong bytes back: so it may have done before
        texts = {trial.setting for trial in self._trials if is_text(trial)}
        if not self.searching or (self._nothing < 2 and not texts):
            return Verdict(None, None, words)
        self._refused |= texts | {self.setting}
        following = self._following()
        if following is None:
            return Verdict(None, None, words)
        words += f" If it is, its speed or parity may be another: trying {following.name}."
        return Verdict(None, following, f"{words} Press again.")

    def _following(self) -> Setting | None:
        """Goes on to the setting that is to be tried next, if any is left."""
        from drivers.learn.line.rank import next_setting, ranked

        form = None if self._form else self.setting.form
        refused = frozenset(self._refused)
        following = next_setting(self._trials, ranked(self._trials), refused, form)
        if following is not None:
            self.setting = following
        return following

    def _asked(self) -> Setting | None:
        form = self.asks
        if form is None or form == self.setting.form:
            return None
        self.setting = self.setting._replace(form=form)
        return self.setting

    def result(self) -> tuple[Setting | None, list[str]]:
        """The settings for bench.toml, None where there are none to say; and what is known of
        them, in sentences."""
        from drivers.learn.line.form import STOP_BITS

        if not self._cable:
            return None, []
        found = self.found
        if found is None:
            return self.setting, []
        setting = self.setting._replace(form=found.form)
        said = [f"The line is {setting.name}. {found.why}"]
        if found.form.stop_bits == 1:
            said.append(STOP_BITS)
        return setting, said

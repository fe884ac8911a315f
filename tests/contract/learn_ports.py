"""Ports with an unknown gauge behind them, for trying ``witnessmark learn`` on.

The cable is a pseudo-terminal with the bit-level line of the simulators between it and the gauge:
it looks up the speed that the driver has set, and writes what a receiver at that speed hears.
"""

from __future__ import annotations

import contextlib
import os
import termios
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner

from api.cli import root
from drivers.learn.hear import Heard, Ready
from drivers.learn.hear_serial import SerialEar
from simulators.serial_side import open_raw_pair
from simulators.uart import LineSettings, receive, transmit

_EXTPROC = 0o200000
"""Linux: the terminal hands bytes on as they are written, without doubling 377."""
_SPEEDS = {
    getattr(termios, name): int(name[1:])
    for name in dir(termios)
    if name.startswith("B") and name[1:].isdecimal() and int(name[1:])
}


class Line:
    """A gauge at the end of a serial cable, and the terminal at its other end."""

    def __init__(self, path: Path, gauge: LineSettings, *, marks: bool = True) -> None:
        """``marks``: whether the terminal marks errors when asked to."""
        self.path = path
        self.heard_at: list[int] = []
        """The speeds that presses were heard at."""
        self._gauge = gauge
        self._marks = marks
        self._ours = self._theirs = -1
        self.plug_in()

    def plug_in(self) -> None:
        self._ours, self._theirs = open_raw_pair()
        if self._marks:
            attributes = termios.tcgetattr(self._theirs)
            attributes[3] |= _EXTPROC
            termios.tcsetattr(self._theirs, termios.TCSANOW, attributes)
        self.path.symlink_to(os.ttyname(self._theirs))

    def send(self, message: bytes) -> None:
        """The gauge sends; the terminal's receiver has eight bits and no parity."""
        attributes = termios.tcgetattr(self._theirs)
        baud = _SPEEDS[attributes[5]]
        self.heard_at.append(baud)
        out = bytearray()
        marking = self._marks and attributes[0] & termios.PARMRK
        for one in receive(transmit(message, self._gauge), LineSettings(baud)):
            if marking and one.framing_error:
                out += b"\xff\x00"
            elif marking and one.value == 0xFF:
                out.append(0xFF)
            out.append(one.value)
        os.write(self._ours, out)

    def pull(self) -> None:
        self.path.unlink()
        os.close(self._ours)
        os.close(self._theirs)


@contextlib.contextmanager
def line(path: Path, gauge: LineSettings, *, marks: bool = True) -> Iterator[Line]:
    cable = Line(path, gauge, marks=marks)
    try:
        yield cable
    finally:
        if cable.path.is_symlink():
            cable.pull()


Send = Callable[[bytes], None]


class Hand:
    """Presses the gauge whenever the learner listens: what the person said last tells which."""

    def __init__(self, patch: pytest.MonkeyPatch, write: Callable[[str], bytes], send: Send):
        self.said: list[str] = []
        self.write = write
        self.send = send
        self.before: Callable[[int], None] = lambda count: None
        """Called before each press with how many there were."""
        self.presses = 0
        patch.setattr("drivers.learn.hear_serial.SILENCE", 0.12)
        patch.setattr("drivers.learn.hear_serial._LOOK", 0.03)
        original = SerialEar.press
        hand = self

        def press(ear: SerialEar, wait: float, ask: bytes, ready: Ready) -> Heard:
            def pressed() -> None:
                ready()
                hand._press()

            return original(ear, wait, ask, pressed)

        patch.setattr(SerialEar, "press", press)
        prompt = "click.prompt"
        patch.setattr(prompt, self._asked)

    def _asked(self, words: str, err: bool = False) -> str:
        self.now = self.said.pop(0) if self.said else "done"
        return self.now

    def _press(self) -> None:
        self.before(self.presses)
        self.presses += 1
        self.send(self.write(self.now))


def learn(hand: Hand, said: Sequence[str], *words: str) -> tuple[int, str]:
    """Runs the command for a person who says ``said``; exit code and all that is shown."""
    hand.said = list(said)
    result = CliRunner().invoke(root, ["learn", *words], catch_exceptions=False)
    return result.exit_code, result.output

"""The device of foot pedals: opened, lost, opened again, and every press told."""

from __future__ import annotations

import errno
import sys
from pathlib import Path

import pytest

from drivers.keys.opening import Keyboards
from drivers.keys.pedal import Pedal
from drivers.keys.pedals import Pedals
from tests.key_events import DROPPED, REPORT, node, tap
from tests.support import eventually_async

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no FIFOs on Windows")


async def test_no_permission_and_lost_presses_are_told(tmp_path: Path) -> None:
    pedal = Pedal("left", "/dev/input/pedal", "confirm")
    told: list[tuple[str, str]] = []
    pressed: list[Pedal] = []
    with node(tmp_path) as recorded:
        recorded.trouble = OSError(errno.EACCES, "Permission denied")
        pedals = Pedals(
            [pedal],
            pressed.append,
            lambda _, state, detail: told.append((state.value, detail)),
            keyboards=Keyboards(recorded.open),
            random=lambda: 0.0,
        )
        await pedals.start()
        await eventually_async(lambda: [one for one, _ in told][-1:] == ["lost"], "lost")
        assert "no permission" in told[-1][1]
        assert "70-gauges.rules" in told[-1][1]
        recorded.trouble = None
        await eventually_async(lambda: [one for one, _ in told][-1:] == ["ready"], "ready")
        recorded.put(DROPPED + REPORT + tap(30))
        await eventually_async(lambda: len(pressed) == 1, "a press")
        assert "presses may have been lost" in told[-1][1]
        await pedals.stop()
    assert told[-1][0] == "closed"
    assert [one.closed for one in recorded.opened] == [True] * len(recorded.opened)


async def test_a_fault_of_ours_is_told_and_the_device_opened_again(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    states: list[str] = []

    def broken(pedal: Pedal) -> None:
        raise ValueError("a mistake")

    with node(tmp_path) as recorded:
        pedals = Pedals(
            [Pedal("left", "/dev/input/pedal", "confirm")],
            broken,
            lambda _, state, detail: states.append(f"{state.value} {detail}"),
            keyboards=Keyboards(recorded.open),
        )
        await pedals.start()
        await eventually_async(lambda: bool(states) and states[-1].startswith("ready"), "ready")
        recorded.put(tap(30))
        await eventually_async(lambda: len(recorded.opened) == 2, "opened again")
        await pedals.stop()

    assert any("a mistake" in state for state in states)
    assert "a mistake" in caplog.text

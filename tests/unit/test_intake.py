"""The queue before the writer: order, bounds, leftovers, the end."""

from __future__ import annotations

import threading

from capture.intake import Intake


def test_order_leftovers_and_the_end() -> None:
    intake: Intake[int] = Intake(100, lambda: None)
    assert intake.put([1, 2, 3])
    assert intake.put([4])
    assert intake.take(2) == [1, 2]
    assert len(intake) == 2
    intake.put([5])
    intake.close()
    assert not intake.finished
    assert intake.take(2) == [3, 4]
    assert intake.take(9) == [5]
    assert intake.take(9, 0.001) == []
    assert intake.finished


def test_nothing_comes_in_time() -> None:
    intake: Intake[int] = Intake(100, lambda: None)
    assert intake.take(1, 0.001) == []
    assert not intake.finished


def test_full_is_said_and_room_again_only_once() -> None:
    told: list[int] = []
    intake: Intake[int] = Intake(10, lambda: told.append(len(intake)))
    assert intake.put(range(9))
    assert not intake.put([9])
    assert not intake.put([10])
    intake.take(5)
    assert told == []
    intake.take(1)
    intake.take(1)
    assert told == [5]


def test_whoever_waits_is_woken() -> None:
    intake: Intake[int] = Intake(10, lambda: None)
    got: list[list[int]] = []
    waiting = threading.Thread(target=lambda: got.append(intake.take(5)))
    waiting.start()
    intake.put([7])
    waiting.join(10)
    assert got == [[7]]
    closing = threading.Thread(target=lambda: got.append(intake.take(5)))
    closing.start()
    intake.close()
    closing.join(10)
    assert got == [[7], []]
    assert intake.finished

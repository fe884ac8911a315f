"""The click of a trace from outside the simulators, sent through the stream sample by sample.

CK-01's trace (``click_trace_1.csv``; our own and synthetic, no outside source) is sent as lines at
1 kHz and in blocks; the pull cut out of the stream must show the click that the trace shows when it
is looked at whole: 60.00 N·m at 2.700 s. The 4 decimals of the file are sent as they are.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from capture.reading import Pull
from capture.streamed import analysed
from capture.trace import Trace, analyse_pull
from capture.trace.store import expand
from tests.stream import TEXT, receiver, stamp

TRACE = Path(__file__).parent / "data" / "click_trace_1.csv"


def rows() -> list[tuple[str, str]]:
    lines = TRACE.read_text("utf-8").splitlines()
    return [(row[0], row[1]) for row in csv.reader(lines[2:])]


def streamed(torques: list[str], size: int) -> Pull:
    """The one pull of a stream of these torques, whose bytes arrive ``size`` at a time."""
    sent = b"".join(
        f"{float(torque):+.4f},+000.0,{number % 10_000:04d}\r\n".encode()
        for number, torque in enumerate(torques)
    )
    reads, items = receiver(TEXT), []
    for at in range(0, len(sent), size):
        items += reads.receive(sent[at : at + size], stamp())
    (pull,) = items
    assert isinstance(pull, Pull)
    return pull


@pytest.mark.parametrize("size", [1, 23, 4096])
def test_ck_01_through_the_stream(size: int) -> None:
    seconds, torques = (list(column) for column in zip(*rows(), strict=True))
    whole = analyse_pull(Trace([*map(float, seconds)], [*map(float, torques)], None, "N·m"))
    assert whole.click is not None

    pull = streamed([*torques, *["0.0000"] * 600], size)
    assert pull.incomplete is None
    assert (pull.interval_us, pull.unit) == (1000, "N·m")
    made = analysed(pull).as_pull
    found = analyse_pull(expand(made.blob))
    assert found.click is not None
    sent, kept = [*map(float, torques)], [*map(float, pull.torque)]
    start = sent.index(max(sent)) - kept.index(max(kept))
    rise = next(at for at, torque in enumerate(sent) if torque >= 2.0)
    # a quarter of a second of rest, and the foot of the rise
    foot = next(at for at, torque in enumerate(sent) if torque > 0.125)
    assert abs(start - max(0, foot - 250)) <= 10
    assert foot < rise
    assert found.click.torque == pytest.approx(whole.click.torque, abs=1e-9)
    assert found.click.torque == pytest.approx(60.00, abs=0.01)
    assert found.click.at + start / 1000 == pytest.approx(whole.click.at, abs=1e-9)
    assert found.click.at + start / 1000 == pytest.approx(2.700, abs=0.001)
    assert len(found.clicks) == len(whole.clicks) == 1
    assert found.click.fall == pytest.approx(whole.click.fall, abs=1e-9)
    assert made.digits == f"{whole.click.torque:.4f}"
    # the very digits of the file, from 0.25 s before the torque left rest on
    assert kept[: len(sent) - start] == sent[start:]

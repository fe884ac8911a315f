"""Instruments that send only when they are asked: on demand, in turn, and without an answer."""

from __future__ import annotations

from pathlib import Path

import pytest

from capture.errors import NotFound, PortGone, RequestError
from drivers.bench import parse_bench
from tests.fake_ports import INSTRUMENT, bench, running


async def test_an_asked_instrument_answers() -> None:
    async with running(bench(profile="asked-decimal-line")) as workbench:
        transport = await workbench.ready()
        transport.on_write = lambda data: transport.received(b"+25.400 mm\r\n")

        await workbench.devices.ask("mike")

        assert transport.sent == [b"V\r"]
        assert workbench.store.told == ["25.400"]


async def test_an_answer_without_a_value_is_an_answer() -> None:
    async with running(bench(profile="asked-decimal-line")) as workbench:
        transport = await workbench.ready()
        transport.on_write = lambda data: transport.received(b"ERR\r\n")

        await workbench.devices.ask("mike")

        assert workbench.store.told == ["not-known"]


def quick_asked(folder: Path) -> None:
    """A profile with a short time to answer, and the channel in its request."""
    (folder / "asked.toml").write_text(
        '[frame]\nkind = "terminator"\nterminators = ["\\r"]\n'
        '[decode]\nkind = "text"\nlayout = "{channel}:{number}"\n'
        '[request]\nsend = "R{channel}"\nanswer_seconds = "0.02"\n'
    )


async def test_no_answer_is_an_error_and_a_state_until_something_comes(tmp_path: Path) -> None:
    quick_asked(tmp_path)
    asked = bench(profile="asked.toml", names=["a", "b"], channels=True, folder=tmp_path)
    async with running(asked) as workbench:
        transport = await workbench.ready()

        with pytest.raises(RequestError, match=r"b does not answer within 0\.02 s") as caught:
            await workbench.devices.ask("b")

        assert "switch it on" in caught.value.mend
        assert transport.sent == [b"R2"]
        assert {state.state for state in workbench.devices.states()} == {"silent"}
        transport.received(b"2:1.5\r")
        assert {state.state for state in workbench.devices.states()} == {"ready"}


async def test_polled_instruments_are_asked_in_turn(tmp_path: Path) -> None:
    quick_asked(tmp_path)
    polled = bench(
        profile="asked.toml", port='poll_seconds = "0.5"', names=["a", "b"], channels=True,
        folder=tmp_path,
    )  # fmt: skip
    async with running(polled) as workbench:
        transport = await workbench.ready()
        transport.on_write = lambda data: transport.received(data[1:] + b":7.5\r")
        await workbench.waiting(1)
        before = len(transport.sent)
        workbench.wake.set()
        await workbench.waiting(2)

        assert transport.sent[before:] == [b"R1", b"R2"]
        assert workbench.waits == [0.5, 0.5]
        assert [item.instrument for item in workbench.store.items][-2:] == ["a", "b"]


async def test_what_cannot_be_asked_says_why(tmp_path: Path) -> None:
    typed = '[[instrument]]\nid = "scale"\nkind = "scale"\nport = "typed"\nunit = "g"\n'
    rows = INSTRUMENT.format(id="mike", profile="decimal-line", more="").replace("cable", "COM1")
    both = parse_bench(f'{rows}{typed}resolution = "0.1"\n', "b.toml", Path())
    async with running(both) as workbench:
        await workbench.ready()

        with pytest.raises(RequestError, match="its profile decimal-line has no request"):
            await workbench.devices.ask("mike")
        with pytest.raises(RequestError, match="scale has no connection"):
            await workbench.devices.ask("scale")
        with pytest.raises(NotFound, match="'nobody'") as caught:
            await workbench.devices.ask("nobody")
        assert "mike, scale" in caught.value.mend

    async with running(bench(profile="asked-decimal-line")) as workbench:
        workbench.refusals = [PortGone("there is no such port")]
        await workbench.waiting()
        with pytest.raises(RequestError, match="there is no such port"):
            await workbench.devices.ask("mike")


async def test_a_port_lost_while_asked_ends_the_asking() -> None:
    async with running(bench(profile="asked-decimal-line")) as workbench:
        transport = await workbench.ready()
        transport.on_write = lambda data: transport.lost(PortGone("it vanished"))

        with pytest.raises(RequestError, match="was lost"):
            await workbench.devices.ask("mike")

"""What a lost port leaves in the record, and since when it is lost."""

from __future__ import annotations

from capture.errors import PortGone
from capture.reading import Undecodable
from tests.fake_ports import bench, running


async def test_a_lost_port_leaves_a_named_gap_once_until_it_is_heard_again() -> None:
    async with running(bench()) as workbench:
        for number in range(1, 4):  # lost three times before it says a word
            transport = await workbench.ready(number)
            transport.lost(PortGone("it vanished"))
            await workbench.waiting(number)
            workbench.wake.set()
        transport = await workbench.ready(4)
        transport.received(b"1.5\r")
        transport.lost(PortGone("it vanished"))
        await workbench.waiting(4)

        assert workbench.store.told == ["gap", "1.5", "gap"]
        gap = workbench.store.items[0]
        assert isinstance(gap, Undecodable)
        assert (gap.port, gap.instrument, gap.raw) == ("cable", "mike", b"")
        assert gap.detail == (
            "it vanished; what was sent between the message before this and the next may be missing"
        )


async def test_a_port_of_several_instruments_leaves_a_gap_of_all() -> None:
    several = bench(profile="channel-line", names=("a", "b"), channels=True)
    async with running(several) as workbench:
        (await workbench.ready()).lost(PortGone("it vanished"))
        await workbench.waiting()

        (gap,) = workbench.store.items
        assert isinstance(gap, Undecodable)
        assert (gap.code, gap.port, gap.instrument) == ("gap", "cable", None)


async def test_a_port_that_was_never_open_or_is_closed_by_us_leaves_no_gap() -> None:
    async with running(bench()) as workbench:
        workbench.refusals = [PortGone("it is not there")]
        await workbench.waiting()
        workbench.wake.set()
        await workbench.ready()

    assert workbench.store.told == []


async def test_lost_since_counts_from_the_loss_however_often_it_is_tried() -> None:
    async with running(bench()) as workbench:
        (await workbench.ready()).lost(PortGone("it vanished"))
        workbench.refusals = [PortGone("it is not there")] * 2
        for number in range(1, 4):
            await workbench.waiting(number)
            workbench.wake.set()
        await workbench.ready(2)

        told = workbench.store.states
        lost = [state for state in told if state.state == "lost"]
        assert len({state.stamp for state in lost}) == 3
        assert {state.since for state in lost} == {lost[0].stamp.at}
        assert [state.since for state in told if state.state == "ready"] == [
            state.stamp.at for state in told if state.state == "ready"
        ]

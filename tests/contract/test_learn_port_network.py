"""An unknown gauge behind a network: a serial server that passes bytes on, and one by RFC 2217."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable
from pathlib import Path

import pytest

from drivers.learn.learn import decoded
from drivers.profiles.load import parse_profile
from simulators.rfc2217_server import Rfc2217Server
from simulators.uart import LineSettings, OnError
from tests.contract.learn_ports import Hand, learn
from tests.contract.test_learn_port_line import SAID, binary, implied, plain

# pyserial 3.5 still calls Thread.setDaemon and setName
pytestmark = pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")


class Server:
    """An Ethernet-serial server that passes plain bytes on; its speed is set in it, not by us."""

    def __init__(self) -> None:
        self.asked = b""
        self.clients = 0
        self._writer: asyncio.StreamWriter | None = None

    async def start(self) -> str:
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", 0)
        host, port = self._server.sockets[0].getsockname()[:2]
        return f"socket://{host}:{port}"

    async def stop(self) -> None:
        self._server.close()
        await self.hang_up()
        await self._server.wait_closed()

    async def hang_up(self) -> None:
        if self._writer is not None:
            self._writer.close()

    async def send(self, message: bytes) -> None:
        assert self._writer is not None
        self._writer.write(message)
        await self._writer.drain()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._writer = writer
        self.clients += 1
        try:
            while chunk := await reader.read(4096):
                self.asked += chunk
        except ConnectionError:
            pass
        finally:
            writer.close()


@pytest.fixture
async def server() -> AsyncIterator[Server]:
    started = Server()
    started.url = await started.start()  # type: ignore[attr-defined]  # of this test alone
    yield started
    await started.stop()


def hand(
    patch: pytest.MonkeyPatch, write: Callable[[str], bytes], send: Callable[[bytes], object]
) -> Hand:
    """Presses from the learner's thread, on the server's loop."""
    loop = asyncio.get_running_loop()

    def across(message: bytes) -> None:
        # every sender of this file gives a coroutine
        asyncio.run_coroutine_threadsafe(send(message), loop).result()  # type: ignore[arg-type]

    return Hand(patch, write, across)


async def test_plain_bytes_over_a_network(
    server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    saved = tmp_path / "mine.toml"
    person = hand(monkeypatch, binary, server.send)
    url = server.url  # type: ignore[attr-defined]  # the fixture gives it
    code, out = await asyncio.to_thread(learn, person, SAID, url, "--save", str(saved))
    assert code == 0, out
    assert person.presses == len(SAID)
    assert "baud" not in out
    assert f'port = "{url}"' in out
    said = decoded(parse_profile(saved.read_bytes(), "m", str(saved)), binary("-7.31 mm"))
    assert said == ("-7.31", "mm")


async def test_a_connection_that_is_lost_while_learning_is_made_again(
    server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    person = hand(monkeypatch, plain, server.send)
    url = server.url  # type: ignore[attr-defined]  # the fixture gives it

    def lost(presses: int) -> None:
        if presses == 2:
            asyncio.run_coroutine_threadsafe(server.hang_up(), loop).result()

    loop = asyncio.get_running_loop()
    person.before = lost
    code, out = await asyncio.to_thread(learn, person, (*SAID[:2], "1 mm", *SAID[2:]), url)
    assert code == 0, out
    assert "closed the connection" in out
    assert server.clients == 2


@pytest.mark.parametrize(
    ("gauge", "write"),
    [
        (LineSettings(9600), plain),
        (LineSettings(4800, 7, "even", 1), plain),
        (LineSettings(19200, 8, "even", 1), implied),
        (LineSettings(9600, 8, "odd", 1), plain),
    ],
    ids=["9600-8n1", "4800-7e1", "19200-8e1", "9600-8o1"],
)
async def test_settings_at_the_far_end_are_found_and_set(
    gauge: LineSettings, write: Callable[[str], bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    far = Rfc2217Server(gauge)
    url = await far.start()
    try:
        person = hand(monkeypatch, write, far.send)
        code, out = await asyncio.to_thread(learn, person, SAID, url, "--json")
    finally:
        await far.stop()
    assert code == 0, out
    line = json.loads(out.splitlines()[-1])["line"]
    assert (line["baud"], line["data_bits"], line["parity"]) == (
        gauge.baud, gauge.data_bits, gauge.parity
    )  # fmt: skip


async def test_a_server_that_drops_wrong_bytes_is_tried_with_parity(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    far = Rfc2217Server(LineSettings(9600, 8, "even", 1), on_error=OnError.DROP)
    url = await far.start()
    try:
        person = hand(monkeypatch, plain, far.send)
        said = (SAID[0], *SAID)  # nothing comes at the second press
        code, out = await asyncio.to_thread(learn, person, said, url, "--json", "--wait", "2")
    finally:
        await far.stop()
    assert code == 0, out
    assert json.loads(out.splitlines()[-1])["line"]["parity"] == "even"


async def test_one_that_answers_when_asked_over_a_network(
    server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    person = hand(monkeypatch, plain, server.send)
    url = server.url  # type: ignore[attr-defined]  # the fixture gives it
    code, out = await asyncio.to_thread(learn, person, SAID, url, "--ask", "56 0D")
    assert code == 0, out
    assert server.asked == b"V\r" * len(SAID)
    assert 'send = "V\\r"' in out

"""The Telnet side of RFC 2217, without a socket: bytes in, data and commands out.

::

    IAC WILL/WONT/DO/DONT option          three bytes
    IAC SB 44 command value… IAC SE       a COM-PORT subnegotiation
    IAC IAC                               the data byte 255

Source: RFC 854 (Telnet), RFC 2217 (COM-PORT-OPTION), command and value numbers from the latter.
"""

from __future__ import annotations

from dataclasses import dataclass, field

IAC, DONT, DO, WONT, WILL, SB, SE = 255, 254, 253, 252, 251, 250, 240
BINARY, SUPPRESS_GO_AHEAD, COM_PORT = 0, 3, 44
WANTED = (BINARY, SUPPRESS_GO_AHEAD, COM_PORT)

SET_BAUDRATE, SET_DATASIZE, SET_PARITY, SET_STOPSIZE, SET_CONTROL = 1, 2, 3, 4, 5
NOTIFY_LINESTATE = 6
SET_LINESTATE_MASK, SET_MODEMSTATE_MASK, PURGE_DATA = 10, 11, 12
FROM_SERVER = 100
"""A server's answer has the client's command number and this."""


@dataclass(slots=True)
class Heard:
    """What a chunk of bytes from the client meant."""

    data: bytearray = field(default_factory=bytearray)
    options: list[tuple[int, int]] = field(default_factory=list)
    """(verb, option)."""
    commands: list[tuple[int, bytes]] = field(default_factory=list)
    """(COM-PORT command, value)."""


class TelnetReader:
    """Takes the client's bytes in any chunks."""

    def __init__(self) -> None:
        self._state = "data"
        self._verb = 0
        self._sub = bytearray()

    def feed(self, chunk: bytes) -> Heard:
        heard = Heard()
        for byte in chunk:
            self._take(byte, heard)
        return heard

    def _take(self, byte: int, heard: Heard) -> None:
        if self._state == "data":
            if byte == IAC:
                self._state = "command"
            else:
                heard.data.append(byte)
        elif self._state == "command":
            self._command(byte, heard)
        elif self._state == "option":
            heard.options.append((self._verb, byte))
            self._state = "data"
        elif self._state == "sub":
            if byte == IAC:
                self._state = "sub-command"
            elif len(self._sub) < 1024:  # longer is no command of ours
                self._sub.append(byte)
        elif byte == IAC:  # in sub-command: a doubled 255 is data
            self._sub.append(IAC)
            self._state = "sub"
        else:
            if byte == SE and len(self._sub) >= 2 and self._sub[0] == COM_PORT:
                heard.commands.append((self._sub[1], bytes(self._sub[2:])))
            self._state = "data"

    def _command(self, byte: int, heard: Heard) -> None:
        if byte == IAC:
            heard.data.append(IAC)
            self._state = "data"
        elif byte in (WILL, WONT, DO, DONT):
            self._verb = byte
            self._state = "option"
        elif byte == SB:
            self._sub.clear()
            self._state = "sub"
        else:  # NOP, break and the like have no value after them
            self._state = "data"


def escaped(data: bytes) -> bytes:
    """``data`` with every 255 doubled."""
    return data.replace(b"\xff", b"\xff\xff")


def com_port(command: int, value: bytes) -> bytes:
    """A server's COM-PORT subnegotiation answering ``command``."""
    return bytes((IAC, SB, COM_PORT, command + FROM_SERVER)) + escaped(value) + bytes((IAC, SE))


def agree(verb: int, option: int) -> bytes:
    """The answer to a client's request or offer: yes to what RFC 2217 needs, no to the rest."""
    wanted = option in WANTED
    if verb == WILL:
        return bytes((IAC, DO if wanted else DONT, option))
    if verb == DO:
        return bytes((IAC, WILL if wanted else WONT, option))
    return b""

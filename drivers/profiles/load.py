"""Loading a profile: a shipped one by name, or a user's own file.

A profile is a TOML file; FORMAT.md beside this file has every key of it.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from capture.errors import BenchError, Problem
from drivers.framing.framing import Framing
from drivers.profiles.decode_table import read_decoding
from drivers.profiles.frame_table import read_framing
from drivers.profiles.profile import Profile, Request
from drivers.profiles.wire_bytes import wire_bytes
from drivers.toml_file import Document, Table, nearest

if TYPE_CHECKING:
    from drivers.profiles.profile import Decoding

SHIPPED = Path(__file__).parent


def shipped_names() -> list[str]:
    """The names of the profiles that come with the program."""
    return sorted(path.stem for path in SHIPPED.glob("*.toml"))


def load_shipped(name: str) -> Profile:
    """The shipped profile of this name; raises ``BenchError`` where there is none."""
    if name not in shipped_names():
        message = "there is no such profile."
        raise BenchError([Problem(name, 0, "profile", message, other_profiles(name))])
    return load_profile(SHIPPED / f"{name}.toml", name)


def other_profiles(name: str) -> str:
    """The mend for a profile that is not there: the nearest shipped one, and all of them."""
    names = shipped_names()
    near = nearest(name.removesuffix(".toml"), names)
    guess = f"did you mean {near}? " if near else ""
    return f"{guess}name a shipped profile ({', '.join(names)}) or the file of your own."


def load_profile(path: Path, name: str | None = None) -> Profile:
    """The profile in the file; raises ``BenchError`` with every problem in it."""
    try:
        data = path.read_bytes()
    except OSError as error:
        if isinstance(error, FileNotFoundError):
            message = "there is no shipped profile and no file of this name."
        else:
            message = f"cannot be read: {error.strerror}."
        problem = Problem(str(path), 0, "profile", message, other_profiles(path.name))
        raise BenchError([problem]) from error
    return parse_profile(data, name or path.stem, str(path))


def parse_profile(data: bytes, name: str, file: str) -> Profile:
    """The profile in ``data``; raises ``BenchError`` with every problem in it."""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        problem = Problem(file, line, "encoding", "is not UTF-8 text.", "save it as UTF-8.")
        raise BenchError([problem]) from error
    document = Document(text, file)
    root = document.root
    title = root.text("title", name)
    if document.problems:
        raise BenchError(document.problems)
    framing, decoding, request = read_framing(root), read_decoding(root), _request(root)
    if framing is not None and framing.seven_bits:
        decoding = _of_seven_bits(root, decoding)
    stream = None
    if root.raw("stream") is not None:  # most gauges send presses, and need none of this
        from drivers.profiles.stream_table import read_stream

        stream = read_stream(root, framing, decoding)
    root.close()
    if framing is not None and decoding is not None:
        _room(root, framing, decoding)
    if document.problems or framing is None or decoding is None:
        raise BenchError(document.problems)
    digest = hashlib.sha256(data).hexdigest()
    return Profile(name, title, text, digest, framing, decoding, request, stream)


def _request(root: Table) -> Request | None:
    table = root.table("request")
    if table is None:
        return None
    table.required("send")
    send = wire_bytes(table, "send")
    seconds = table.decimal("answer_seconds", Decimal(1), above="0")
    table.close()
    return Request(send, float(seconds)) if send else None


def _of_seven_bits(root: Table, decoding: Decoding | None) -> Decoding | None:
    """The decoding of text whose bytes still hold a parity bit."""
    from drivers.decoding.text import TextDecoding

    if decoding is None or isinstance(decoding, TextDecoding):
        return decoding and replace(decoding, seven_bits=True)
    table = root.table("frame")
    assert table is not None
    mend = 'take it away, or use kind = "text" in [decode].'
    table.problem("seven_bits", "binary messages use all eight bits.", mend)
    return decoding


def _room(root: Table, framing: Framing, decoding: Decoding) -> None:
    """Notes what the decoding reads behind the end of every message."""
    needs = getattr(decoding, "length", 0)
    if needs > framing.limit:
        table = root.table("decode")
        assert table is not None
        message = f"byte {needs - 1} is read, and a message has {framing.limit} bytes at most."
        table.problem("number", message, "correct the byte numbers or the length.")

"""Any entry of the ledger: its bytes, what it cites, where it belongs."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import orjson

from api.history.dump import dump
from capture.archive import Archive
from capture.entry import Envelope, Kind
from capture.errors import NotFound

Data = dict[str, Any]
LIMIT = 50
CITED = ("record", "press", "supersedes", "profile_seq", "spec_seq", "reading")
"""Keys of a body that hold the seq of another entry."""


def entry(archive: Archive, seq: int) -> Data:
    """An entry as a page shows it. Raises NotFound."""
    data = archive.entry(seq)
    if data is None:
        size = archive.size()
        raise NotFound(
            f"There is no entry {seq}.", mend=f"The ledger's entries run from 1 to {size}."
        )
    found: Envelope = orjson.loads(data)
    body = found["body"]
    return {
        "entry": found,
        "verbatim": data.decode(),
        "length": len(data),
        "pretty": json.dumps(found, indent=2, ensure_ascii=False),
        "text": body.get("text") if found["kind"] in (Kind.SPEC, Kind.PROFILE) else None,
        "lines": dump(bytes.fromhex(body["raw"]), None).lines if body.get("raw") else [],
        "cites": list(dict.fromkeys(cited(found))),
        "reading": _reading(found),
        "earlier": seq - 1 if seq > 1 else None,
        "later": seq + 1 if archive.entry(seq + 1) is not None else None,
    }


def cited(found: Envelope) -> Iterator[tuple[str, int]]:
    """(what it is there, its seq) of every entry that this one names."""
    body = found["body"]
    for name in CITED:
        if isinstance(body.get(name), int):
            yield name, body[name]
    for name, seq in body.get("cites", {}).items():
        if seq is not None:
            yield name, seq
    build = body.get("build")
    if isinstance(build, str) and build[1:].isdigit():
        yield "build", int(build[1:])
    zero = body.get("zero") or {}
    if zero.get("opened"):
        yield "opened", zero["opened"]
    for seq in zero.get("presses", ()):
        yield "marked", seq
    drift = body.get("drift")
    if drift is not None:
        yield "zero", drift["zero"]


def _reading(found: Envelope) -> int | None:
    """The reading that an entry is, or decides on."""
    if found["kind"] == Kind.PRESS:
        return int(found["seq"])
    return int(found["body"]["press"]) if found["kind"] == Kind.DECISION else None


def listed(archive: Archive, before: int | None, after: int | None, kind: str | None) -> Data:
    """A page of entries, newest first. Raises NotFound for a kind that no entry has."""
    if kind is not None and kind not in set(Kind):
        raise NotFound(f"There is no kind of entry {kind}.", mend=f"There are {', '.join(Kind)}.")
    size = archive.size()
    if after is not None:
        before = min(after + LIMIT, size) + 1
    found = archive.earlier_entries(before=before, limit=LIMIT, kind=kind)
    entries = [orjson.loads(item) for item in found.items]
    first = entries[0]["seq"] if entries else (before or 1) - 1
    return {
        "entries": [
            {
                "seq": each["seq"],
                "at": each["at"],
                "kind": each["kind"],
                "operator": each["operator"],
                "said": _said(each),
            }
            for each in entries
        ],
        "older": found.next or None,
        "newer": first if before is not None and first < size else None,
        "looked": found.looked
        if kind is not None and found.next and len(entries) < LIMIT
        else None,
        "kind": kind,
    }


def _said(found: Envelope) -> str:
    """What an entry is about, in the ledger's own words."""
    body = found["body"]
    if found["kind"] == Kind.PRESS:
        return f"{body['instrument']}: {body['digits']} {body['unit']}"
    if found["kind"] == Kind.DECISION:
        where = body["reason"]["code"] if body["step"] is None else body["step"]["id"]
        return f"{body['press']}: {where}, {body['verdict']['result']}"
    for names in (
        ("title",), ("build", "step"), ("build", "subject"), ("build", "part", "number"),
        ("build",), ("instrument", "standard"), ("instrument",), ("name",), ("id",),
        ("operator",), ("version",), ("port", "code"),
    ):  # fmt: skip
        if all(body.get(name) is not None for name in names):
            return " ".join(str(body[name]) for name in names)
    return ""

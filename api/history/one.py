"""One reading with everything that its verdict came from, as it was then."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING, Any

import orjson

from api.history.asked import Search
from api.history.dump import dump
from capture.archive import Archive
from capture.entry import Envelope, Kind
from capture.errors import CaptureError, NotFound
from capture.inquiry.budget import budget
from capture.rules.order import ORDER, place_of
from capture.titles import title_of

if TYPE_CHECKING:
    from capture.desk import Desk

Data = dict[str, Any]
DECISIONS_MOST = 500
CHANCE = "probability_of_conformance"


def one(archive: Archive, seq: int, search: Search) -> Data:
    """What the ledger says of a reading. Raises NotFound."""
    found = archive.reading(seq)
    if found is None:
        other = archive.envelope(seq)
        mend = "See the history for those there are."
        if other is not None:
            mend = f"Entry {seq} is of another kind ({other['kind']}): see /entries/{seq}."
        raise NotFound(f"There is no reading {seq}.", mend=mend)
    reading = orjson.loads(found)
    press, decision = archive.envelope(seq), archive.envelope(reading["decision_seq"])
    rule = archive.envelope(seq + 1)
    assert press is not None
    assert decision is not None
    assert rule is not None  # in the same commit as the press
    body, cites = press["body"], rule["body"]["cites"]
    record = _entry(archive, body["record"] or cites["instrument"])
    profile = None if record is None else _entry(archive, record["body"].get("profile_seq"))
    raw = bytes.fromhex(body["raw"])
    calibration = None if record is None else record["body"]["calibration"]
    return {
        "reading": reading,
        "press": press,
        "decision": decision,
        "dump": dump(raw, None if profile is None else profile["body"]) if raw else None,
        "profile": profile,
        "record": record,
        "overdue": calibration is not None and press["at"][:10] > calibration["due"],
        "setting": _entry(archive, cites["setting"]),
        "extension": _entry(archive, cites.get("extension")),
        "temperature": _entry(archive, cites.get("temperature")),
        "spec": _entry(archive, decision["body"]["cites"]["spec"]),
        "rules": len(ORDER),
        "decisions": [_decision(each) for each in _decisions(archive, rule, seq)],
        **_beside(archive, seq, search),
    }


def of_state(desk: Desk, press: Envelope, decision: Envelope) -> Data:
    """What follows from the folded state: titles of the step, and the uncertainty budget; empty
    where a reading is placed on no step."""
    step = decision["body"]["step"]
    if step is None:
        return {}
    spec = desk.build(decision["body"]["build"]).spec
    found: Data = {"title": title_of(spec, step["kind"], step["characteristic"])}
    if step["part"] is not None:
        found["part"] = spec.parts[step["part"]].title
    with suppress(CaptureError):
        found["budget"] = budget(desk, press, decision)
        # a drift that was found later is in no budget, and takes away what the chance rests on
        sure = None if "drift" in decision["body"] else found["budget"].get(CHANCE)
        found["chance"] = None if sure is None else _percent(sure)
    return found


def _percent(chance: float) -> str:
    """Never more sure than four digits can say."""
    if chance > 0.9999:
        return "> 99.99"
    return "< 0.01" if chance < 0.0001 else format(100 * chance, ".4g")


def _entry(archive: Archive, seq: int | None) -> Envelope | None:
    return archive.envelope(seq) if seq else None


def _decisions(archive: Archive, rule: Envelope, press: int) -> list[Envelope]:
    """The service's own decision at the press and every one after it, oldest first."""
    later = archive.records_of(Kind.DECISION, str(press), limit=DECISIONS_MOST)
    return [rule, *later]


def _decision(entry: Envelope) -> Data:
    """What one decision said, by whom and why."""
    body = entry["body"]
    reason = body["reason"]
    act = body.get("act")
    if act is None:
        act = {"rule": "place" if reason is None else "hold", "zero": "mark"}[body["by"]]
    return {
        "seq": entry["seq"],
        "at": entry["at"],
        "by": body["by"],
        "act": act,
        "operator": entry["operator"],
        "build": body["build"],
        "step": None if body["step"] is None else body["step"]["id"],
        "reason": reason,
        "rule": None if reason is None else place_of(reason["code"]),
        "corrected": body.get("corrected"),
        "verdict": body["verdict"],
        "because": body.get("because"),
        "drift": body.get("drift"),
    }


def _beside(archive: Archive, seq: int, search: Search) -> Data:
    """Addresses of the readings before and after, among those that the filters leave."""
    earlier = archive.earlier_readings(before=seq, limit=1, filters=search.filters).items
    later = archive.readings(after=seq, limit=1, filters=search.filters).items
    return {
        name: search.link(f"/readings/{orjson.loads(items[0])['seq']}") if items else None
        for name, items in (("earlier", earlier), ("later", later))
    }

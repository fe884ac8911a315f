"""Which entries go home together: what was asked for, and everything that it rests on.

A press brings its decisions, a decision its press and what it cites (the instrument's record, the
setting, the spec, the build), an instrument's record its profile. So what is taken home can be
judged without the store.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from capture.archive import Archive
from capture.entry import Envelope, Kind
from capture.errors import NotFound


def of_build(archive: Archive, build: str) -> list[Envelope]:
    """Everything about one build, by seq. Raises NotFound."""
    entries = archive.entries_of_build(build)
    opened = [entry for entry in archive.records() if f"b{entry['seq']}" == build]
    if not opened or opened[0]["kind"] != Kind.BUILD:
        raise NotFound(
            f"There is no build {build}.",
            mend="List the builds: GET /v1/builds, or /builds in a browser.",
        )
    # with the decisions of every person on any build come those on this one
    own = {
        entry["body"]["press"]
        for entry in entries
        if entry["kind"] == Kind.DECISION and entry["body"]["build"] == build
    }
    about = [
        entry["seq"]
        for entry in entries
        if entry["kind"] != Kind.DECISION or entry["body"]["press"] in own
    ]
    return with_grounds(archive, [opened[0]["seq"], *about])


def with_grounds(archive: Archive, seqs: Iterable[int]) -> list[Envelope]:
    """The entries and what they rest on, by seq. Raises NotFound for a seq that is not there."""
    records = archive.records()
    by_person: dict[int, list[int]] = defaultdict(list)
    for entry in records:
        if entry["kind"] == Kind.DECISION:
            by_person[entry["body"]["press"]].append(entry["seq"])
    found: dict[int, Envelope] = {}
    wanted = list(seqs)
    while wanted:
        seq = wanted.pop()
        if seq in found:
            continue
        entry_there = archive.envelope(seq)
        if entry_there is None:
            mend = "The last one is at size in /v1/health."
            raise NotFound(f"There is no entry {seq}.", mend=mend)
        found[seq] = entry_there
        wanted += _grounds(entry_there, by_person)
    boots = {entry["boot"] for entry in found.values()}
    found |= {
        entry["seq"]: entry
        for entry in records
        if entry["kind"] == Kind.BOOT and entry["boot"] in boots
    }
    return [found[seq] for seq in sorted(found)]


def _grounds(entry: Envelope, by_person: dict[int, list[int]]) -> list[int]:
    body = entry["body"]
    if entry["kind"] == Kind.PRESS:
        # the service's own decision on a press is always the next entry
        named = [body["record"], entry["seq"] + 1, *by_person[entry["seq"]]]
    elif entry["kind"] == Kind.DECISION:
        named = [body["press"], *body["cites"].values()]
    else:  # an instrument names its profile, a build its spec
        named = [body.get("profile_seq"), body.get("spec_seq")]
    return [seq for seq in named if seq is not None]

"""The disk model behind the power-cut tests, on recordings small enough to follow by hand."""

from __future__ import annotations

import random

from tests.soak.faults.disk import SECTOR, Disk, cuts, everything
from tests.soak.faults.trace import Record, Trace, answered_early

OLD, NEW = b"o" * SECTOR, b"n" * SECTOR


def opened(name: str, inode: int = 1) -> Record:
    return Record("O", inode, 0, name, b"")


def written(data: bytes, offset: int = 0, inode: int = 1) -> Record:
    return Record("W", inode, offset, "", data)


def truncated(length: int, inode: int = 1) -> Record:
    return Record("T", inode, length, "", b"")


def synced(number: int, inode: int = 1, result: str = "S") -> Trace:
    return [Record("B", inode, number, "", b""), Record(result, inode, number, "", b"")]


FOLDER = Record("P", 99, 0, "", b"")


def made(name: str, data: bytes, inode: int = 1) -> Trace:
    """A file that is certain, and so is its name."""
    return [
        opened(name, inode),
        written(data, 0, inode),
        *synced(1, inode),
        FOLDER,
        *synced(2, 99),
    ]


def disk(trace: Trace) -> Disk:
    found = Disk()
    for record in trace:
        found.feed(record)
    return found


def possible(trace: Trace) -> set[bytes]:
    """What file ``a`` may be found to hold, over many random cuts."""
    model, rng = disk(trace), random.Random(1)
    return {model.some(rng)["a"] for _ in range(300)}


def test_only_what_was_synced_is_certain() -> None:
    trace = [*made("a", OLD), written(NEW)]
    assert disk(trace).least() == {"a": OLD}
    assert disk(trace).most() == {"a": NEW}
    assert possible(trace) == {OLD, NEW}
    assert disk([*trace, *synced(3)]).least() == {"a": NEW}


def test_a_sync_covers_what_was_written_before_it_began() -> None:
    begin, end = synced(3)
    trace = [*made("a", OLD), begin, written(NEW), end]
    assert disk(trace).least() == {"a": OLD}


def test_sectors_are_there_or_not_in_any_combination() -> None:
    trace = [*made("a", OLD * 2), written(NEW * 2)]
    assert possible(trace) == {OLD * 2, NEW * 2, OLD + NEW, NEW + OLD}


def test_a_truncation_is_there_or_not() -> None:
    trace = [*made("a", OLD), truncated(0)]
    assert possible(trace) == {OLD, b""}
    assert disk([*trace, *synced(3)]).least() == {"a": b""}


def test_a_name_is_certain_when_its_folder_is() -> None:
    trace = [opened("a"), written(OLD), *synced(1)]
    assert disk(trace).least() == {}
    assert disk([*trace, FOLDER, *synced(2, 99)]).least() == {"a": OLD}


def test_names_change_in_their_order() -> None:
    trace = [*made("a", OLD), Record("R", 0, 0, "a\0b", b""), Record("U", 0, 0, "b", b"")]
    rng, model = random.Random(1), disk(trace)
    assert {tuple(model.some(rng)) for _ in range(100)} == {("a",), ("b",), ()}
    assert model.least() == {"a": OLD}
    assert disk([*trace, *synced(3, 99)]).least() == {}


def test_a_link_gives_one_file_two_names() -> None:
    trace = [*made("a", OLD), Record("L", 0, 0, "a\0b", b""), written(NEW), *synced(3)]
    assert everything(trace) == {"a": NEW, "b": NEW}
    assert disk(trace).least() == {"a": NEW}


def test_a_file_made_anew_is_another_file() -> None:
    """The kernel gives the number of a file that is gone to the next one."""
    trace = [*made("a", OLD), Record("U", 0, 0, "a", b""), opened("a"), written(NEW), *synced(3)]
    assert disk(trace).least() == {"a": OLD}
    assert disk(trace).most() == {"a": NEW}


def test_what_a_failed_sync_had_is_not_saved_by_the_next() -> None:
    trace = [*made("a", OLD), written(NEW), *synced(3, result="F"), *synced(4)]
    assert disk(trace).most() == {"a": NEW}
    assert disk(trace).least() == {"a": OLD}
    assert possible(trace) == {OLD, NEW}


def test_writing_it_again_saves_it() -> None:
    trace = [*made("a", OLD), written(NEW), *synced(3, result="F"), written(NEW), *synced(4)]
    assert disk(trace).least() == {"a": NEW}
    assert possible(trace) == {NEW}


def test_a_part_of_a_sector_takes_the_rest_of_it_along() -> None:
    trace = [*made("a", OLD * 2), written(NEW * 2), *synced(3, result="F")]
    trace += [written(b"!"), *synced(4)]
    assert disk(trace).least() == {"a": b"!" + NEW[1:] + OLD}
    assert possible(trace) == {b"!" + NEW[1:] + OLD, b"!" + NEW[1:] + NEW}


def test_a_truncation_makes_what_was_adrift_void() -> None:
    trace = [*made("a", OLD), written(NEW), *synced(3, result="F"), truncated(0), *synced(4)]
    assert possible(trace) == {b""}
    trace += [written(OLD), *synced(5)]
    assert possible(trace) == {OLD}


def test_cuts_name_every_point_at_which_something_changes() -> None:
    answer = Record("A", 0, 0, "", b"1\n")
    trace = [*made("a", OLD), written(NEW), *synced(8), answer]
    least = [cut for cut in cuts(trace, random.Random(1), 0) if cut.kind == "least"]
    assert [(cut.position, cut.files.get("a"), len(cut.sent)) for cut in least] == [
        (1, None, 0),
        (4, None, 0),
        (7, OLD, 0),
        (10, NEW, 0),
        (11, NEW, 1),
    ]
    assert len(list(cuts(trace, random.Random(1), 1))) == len(trace) + len(least)


def test_an_early_answer_moves_before_its_sync() -> None:
    answer = Record("A", 0, 0, "", b"1\n")
    trace = [*made("a", OLD), written(NEW), *synced(8), answer]
    early = answered_early(trace)
    assert early.index(answer) == 8
    assert sorted(early) == sorted(trace)

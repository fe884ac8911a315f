"""Pages by key, filters, proofs."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from capture.errors import NotFound
from capture.ledger import checkpoint, note, tree
from capture.ledger.search import Filters
from tests.paper import GOOD_BORES
from tests.pipeline_bench import done, pipeline, reading, ready


async def test_paging_meets_every_reading_once(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        build = await ready(bench)
        bench.take([reading(f"0.{i:03d}", "bore" if i % 3 else "mic") for i in range(50)])
        await done(bench.view(lambda _desk: None))
        for filters in (
            Filters(),
            Filters(instrument="mic"),
            Filters(build=build),
            Filters(since="2000"),
        ):
            seen, after = [], 0
            while True:
                page = bench.archive.readings(after=after, limit=7, filters=filters)
                seen += [json.loads(item)["seq"] for item in page.items]
                if not page.items:
                    break
                after = page.next
            assert seen == sorted(set(seen))
            assert len(seen) == (17 if filters.instrument else 50)
            assert page.next == bench.size


async def test_next_moves_past_what_a_filter_leaves_out(
    tmp_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("capture.archive.SCAN_MOST", 5)
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        bench.take([reading(f"0.{i:03d}") for i in range(12)])
        await done(bench.view(lambda _desk: None))
        afters, after = [], 0
        for _ in range(10):
            page = bench.archive.readings(after=after, filters=Filters(until="2000"))
            assert page.items == []
            if page.next == after:
                break
            afters.append(after := page.next)
        assert afters == sorted(afters)
        assert afters[-1] == bench.size


async def test_entries_are_the_whole_ledger(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        page = bench.archive.entries(limit=1000)
        assert [json.loads(item)["seq"] for item in page.items] == list(range(1, bench.size + 1))
        assert page.next == bench.size
        assert bench.archive.entries(after=page.next).items == []


async def test_proofs_hold_against_the_signed_checkpoint(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        first = await done(bench.checkpoint())
        bench.take([reading(digits) for digits in GOOD_BORES])
        await done(bench.view(lambda _desk: None))
        second = await done(bench.checkpoint())
        verifier = note.Verifier.parse(bench.archive.verifier_key())
        old, _ = checkpoint.open_checkpoint(first, [verifier])
        new, _ = checkpoint.open_checkpoint(second, [verifier])
        assert (new.size, new.origin) == (bench.size, f"witnessmark/{bench.bench}")
        for seq in range(1, bench.size + 1):
            proof = bench.archive.inclusion(seq)
            path = [bytes.fromhex(value) for value in proof["inclusion_path"]]
            leaf = tree.leaf_hash(proof["entry"].encode())
            assert tree.verify_inclusion(leaf, seq - 1, new.size, path, new.root)
        grown = bench.archive.consistency(old.size, new.size)
        path = [bytes.fromhex(value) for value in grown["consistency_path"]]
        assert tree.verify_consistency(old.size, new.size, old.root, new.root, path)
        with pytest.raises(NotFound):
            bench.archive.inclusion(bench.size + 1)
        with pytest.raises(NotFound):
            bench.archive.consistency(0)

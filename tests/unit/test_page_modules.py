"""What a page preloads is what its script imports, no more and no less."""

from __future__ import annotations

import re

from api.pages.modules import STATIC, modules


def test_every_module_that_the_bench_imports_is_named_once() -> None:
    named = modules("bench.js")
    assert len(named) == len(set(named)) > 20
    for name in ("bench.js", *named):
        text = (STATIC / name).read_text("utf-8")
        for imported in re.findall(r"""from\s+["']\./([^"']+)["']""", text):
            assert imported in named, f"{name} imports {imported}"


def test_what_only_the_worker_needs_is_not_named() -> None:
    assert "hub.js" not in modules("bench.js")
    assert "hub.js" in modules("streamworker.js")

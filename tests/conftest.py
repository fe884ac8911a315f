"""For every test: nothing may be left behind. And the quick ones run first."""

from __future__ import annotations

import asyncio
import inspect
import os
import sys
import time
from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from tests import leftovers
from tests.built import Built, built_in

# The same examples at every run, so that a change is judged by what it changes; `make explore`
# looks for new ones. No deadlines: a busy machine is no failure. Before the test modules are
# imported: each test's settings start from these.
settings.register_profile("fixed", derandomize=True, database=None, deadline=None)
settings.register_profile("explore", max_examples=1000, print_blob=True, deadline=None)
settings.load_profile("explore" if os.environ.get("EXPLORE") else "fixed")

_ORDER = ("unit", "property", "contract", "outside", "browser", "soak")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Sorts by folder, quick ones first, so that a plain mistake shows at once.

    Where several workers share the tests, the long soak that mostly waits goes first, beside the
    rest instead of after it.
    """
    shared = hasattr(config, "workerinput")

    def rank(item: pytest.Item) -> int:
        if shared and item.get_closest_marker("xdist_group"):
            return -1
        return next((place for place, name in enumerate(_ORDER) if name in item.path.parts), 99)

    items.sort(key=rank)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Prints the figures that tests have recorded, whichever worker ran them."""
    for report in terminalreporter.getreports("passed"):
        for name, value in report.user_properties:
            if name == "figures":
                terminalreporter.write_line(f"{report.nodeid.split('::')[0]}: {value}")


@pytest.fixture(autouse=True)
def leaves_nothing_behind(request: pytest.FixtureRequest) -> Iterator[None]:
    """Fails a test that leaves threads, children, open files or (if it is async) tasks behind.

    What fixtures of a wider scope hold was there before, so it does not count.
    """
    # The loop comes first: then its own descriptors are there both before and after.
    if inspect.iscoroutinefunction(getattr(request, "function", None)):
        request.getfixturevalue("leaves_no_tasks_behind")
    before = leftovers.held()
    yield
    left = leftovers.left_since(before)
    if left:
        pytest.fail("left behind: " + "; ".join(left))


@pytest.fixture
async def leaves_no_tasks_behind() -> AsyncIterator[None]:
    """Fails an async test that leaves tasks running; what is ending gets a moment to end."""
    before = asyncio.all_tasks()
    yield
    deadline = time.monotonic() + leftovers.patience_seconds
    while left := asyncio.all_tasks() - before - {asyncio.current_task()}:
        if time.monotonic() > deadline:
            pytest.fail(f"left behind: {', '.join(sorted(str(task) for task in left))}")
        await asyncio.sleep(0.005)


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """The demo's engine, built once for all; of several workers, by the first that asks."""
    if sys.platform == "win32":
        pytest.skip("the workbench needs pseudo-terminals")
    own = tmp_path_factory.getbasetemp()
    return built_in((own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "demo")


@pytest.fixture
def tmp_store(tmp_path: Path) -> Path:
    """A folder for one store, not made yet."""
    return tmp_path / "store"

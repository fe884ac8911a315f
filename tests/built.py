"""A whole demo, run once for all tests that look at what it leaves.

Several workers share it: the first that comes runs it, the others wait.
"""

from __future__ import annotations

import contextlib
import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from tests.served import run

SECONDS = 200


class Built(NamedTuple):
    """What the command said, and the folder that it kept. Nobody may write there."""

    folder: Path
    code: int
    out: str
    err: str

    @property
    def store(self) -> Path:
        return self.folder / "store"

    def copied(self, to: Path) -> Path:
        """A copy of the folder that a test may serve and write to; its gauges are gone."""
        shutil.copytree(self.folder, to, symlinks=True, dirs_exist_ok=True)
        return to


def built_in(shared: Path) -> Built:
    """The demo kept in ``shared``, made there by the first who asks."""
    said, folder = shared / "said.json", shared / "kept"
    shared.mkdir(exist_ok=True)
    with _alone(shared / "lock"):
        if not said.exists():
            done = run("demo", "--until-done", "--json", "--keep", str(folder), seconds=SECONDS)
            body = {"code": done.returncode, "out": done.stdout, "err": done.stderr}
            said.write_text(json.dumps(body), "utf-8")
    return Built(folder, **json.loads(said.read_text("utf-8")))


@contextlib.contextmanager
def _alone(path: Path) -> Iterator[None]:
    import fcntl

    with path.open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield

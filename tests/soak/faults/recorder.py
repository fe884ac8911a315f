"""Building the recorder (``shim.c``) and running a program under it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

SOURCE = Path(__file__).with_name("shim.c")


def build(folder: Path) -> Path:
    """Compiles the recorder into ``folder``; skips the test where that cannot be done."""
    if not sys.platform.startswith("linux"):
        pytest.skip("the recorder preloads a library, which this test does on Linux only")
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        pytest.skip("no C compiler on this machine to build the recorder with")
    library = folder / "recorder.so"
    command = [compiler, "-O1", "-Wall", "-Wextra", "-Werror", "-shared", "-fPIC"]
    command += ["-o", str(library), str(SOURCE), "-ldl", "-lpthread"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    return library


@dataclass(frozen=True)
class Recording:
    """Where a program's doings in ``folder`` are recorded, and its faults switched."""

    library: Path
    folder: Path
    trace: Path
    faults: Path

    @classmethod
    def into(cls, library: Path, folder: Path, beside: Path) -> Recording:
        """Record what happens in ``folder``; trace and switch stand in ``beside``."""
        return cls(library, folder, beside / "trace", beside / "faults")

    def environment(self) -> dict[str, str]:
        """The environment in which to start the program."""
        return os.environ | {
            "LD_PRELOAD": str(self.library),
            "RECORD_FOLDER": str(self.folder),
            "RECORD_TRACE": str(self.trace),
            "RECORD_FAULTS": str(self.faults),
        }

    def fail(self, *, sync: int = 0, write: int = 0, once: bool = False) -> None:
        """From now on syncs or writes fail with these errnos; zero for neither ends it."""
        if not (sync or write):
            self.faults.unlink(missing_ok=True)
            return
        text = f"sync {sync}\n" * bool(sync) + f"write {write}\n" * bool(write)
        text += "once\n" * once
        beside = self.faults.with_suffix(".new")
        beside.write_text(text)
        beside.replace(self.faults)  # at once: a half-written switch would be another fault

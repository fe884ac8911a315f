"""What commands share: JSON lines, and errors that say what, where and how to mend it."""

from __future__ import annotations

import errno
import json
import os
import sys
from collections.abc import Callable
from functools import wraps
from typing import Any, ParamSpec, TypeVar

import click

from capture.errors import CaptureError

P = ParamSpec("P")
T = TypeVar("T")
FOUND_WRONG = 1
MISUSE = 2
NO_ROOM = {errno.ENOSPC, errno.EFBIG, errno.EIO, getattr(errno, "EDQUOT", errno.ENOSPC)}
"""What writing to a standard stream can fail with; an error about a file names the file."""


def emit(body: Any) -> None:
    """One line of JSON, at once."""
    click.echo(json.dumps(body, ensure_ascii=False, separators=(",", ":")))


def clear_errors(function: Callable[P, T]) -> Callable[P, T]:
    """Our own errors, the system's and the database's become a message on standard error and exit
    code 2. A reader that went away (``| head``) is no error: click ends quietly then."""

    @wraps(function)
    def inner(*args: P.args, **kwargs: P.kwargs) -> T:
        try:
            return function(*args, **kwargs)
        except CaptureError as error:
            mend = getattr(error, "mend", "")
            message = f"{ended(str(error))} Mend: {mend}" if mend else str(error)
        except OSError as error:
            if error.errno == errno.EPIPE:
                raise
            message = of_system(error)
        except Exception as error:
            if not _is_database(error):
                raise
            message = (
                f"the ledger cannot be read: {error}. Mend: see what 'witnessmark verify STORE' "
                "says of it, and put back a copy of the store."
            )
        click.echo(f"error: {message}", err=True)
        raise SystemExit(MISUSE)

    return inner


def ended(sentence: str) -> str:
    """With a full stop, unless it has an end."""
    return sentence if sentence.endswith((".", "!", "?")) else f"{sentence}."


def of_system(error: OSError) -> str:
    """What the operating system refused, about which file, and what can be done."""
    why = error.strerror or str(error) or type(error).__name__
    if not _writable() or (error.filename is None and error.errno in NO_ROOM):
        return (
            f"the output could not be written: {why}. Mend: make room where it goes, or send it "
            "elsewhere, and run this again; what was written so far is not whole."
        )
    where = f"{os.fsdecode(error.filename)}: " if error.filename else ""
    return f"{where}{why}. Mend: look at the path and at its owner, permissions and free space."


def _writable() -> bool:
    """Whether standard output takes what is still buffered. If not, it is turned away, so that
    Python does not try it once more, and complain, at the end."""
    try:
        sys.stdout.flush()
    except OSError:
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, sys.stdout.fileno())
        os.close(null)
        return False
    return True


def _is_database(error: Exception) -> bool:
    """Whether SQLite raised it; it is not loaded only to find that out."""
    sqlite3 = sys.modules.get("sqlite3")
    return sqlite3 is not None and isinstance(error, sqlite3.Error)


json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON for programs.")

"""What commands share: JSON lines, and errors that say what, where and how to mend it."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import wraps
from typing import Any, ParamSpec, TypeVar

import click

from capture.errors import CaptureError

P = ParamSpec("P")
T = TypeVar("T")
FOUND_WRONG = 1
MISUSE = 2


def emit(body: Any) -> None:
    """One line of JSON, at once."""
    click.echo(json.dumps(body, ensure_ascii=False, separators=(",", ":")))


def clear_errors(function: Callable[P, T]) -> Callable[P, T]:
    """Our own errors become a message on standard error and exit code 2."""

    @wraps(function)
    def inner(*args: P.args, **kwargs: P.kwargs) -> T:
        try:
            return function(*args, **kwargs)
        except CaptureError as error:
            mend = getattr(error, "mend", "")
            click.echo(f"error: {error}{f' Mend: {mend}' if mend else ''}", err=True)
            raise SystemExit(MISUSE) from None

    return inner


json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON for programs.")

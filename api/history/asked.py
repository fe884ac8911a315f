"""What a history page was asked for, and the addresses that ask for the same and a little more."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from fastapi import Request

from api import queries
from api.routes.readings import filters_of
from capture.ledger.search import Filters

SEARCHED = Filters._fields


class Search:
    """The filters of a page, as its form and its links have them."""

    def __init__(self, request: Request) -> None:
        """Raises RequestValidationError and RequestError."""
        # a form sends every field, and what was left blank asks for nothing
        given = {name: text.strip() for name, text in request.query_params.items() if text.strip()}
        for name in ("since", "until"):
            if name in given:
                given[name] = _utc(given[name])
        query = queries.checked(given, queries.History)
        self.filters: Filters = filters_of(query)
        self.before, self.after = query.before, query.after
        self.values = {name: given[name] for name in SEARCHED if name in given}
        for name in ("since", "until"):
            if name in self.values:  # as the form shows it, whatever offset it came with
                self.values[name] = getattr(self.filters, name).replace(".000000", "")

    def link(self, path: str, **more: object) -> str:
        """An address with these filters."""
        return _address(path, {**self.values, **more})

    def without(self, path: str, name: str) -> str:
        """An address with all of these filters but one."""
        return _address(path, {key: one for key, one in self.values.items() if key != name})


def _address(path: str, query: dict[str, Any]) -> str:
    return f"{path}?{urlencode(query)}" if query else path


def _utc(text: str) -> str:
    """A moment as a form's field gives it, without an offset, is of UTC: all of the page is."""
    clock = text[10:]
    if len(text) == 10:
        return f"{text}T00:00:00Z"
    return (
        text if clock.endswith("Z") or "+" in clock or "-" in clock or " " in clock else f"{text}Z"
    )

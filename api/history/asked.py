"""What a history page was asked for, and the addresses that ask for the same and a little more."""

from __future__ import annotations

from typing import Any, NamedTuple
from urllib.parse import urlencode

from fastapi import Request
from fastapi.exceptions import RequestValidationError

from api import queries
from api.routes.readings import filters_of
from capture.archive import Archive
from capture.errors import NotFound, RequestError
from capture.exports import chosen
from capture.ledger.search import Filters

SEARCHED = Filters._fields
MOMENTS = ("since", "until")
NAMED = ("build", "instrument", "operator", "reason")
"""Filters by a name that the ledger may not have."""


class Wrong(NamedTuple):
    """A filter that cannot be: the form is shown again and says so."""

    name: str
    value: str
    why: str
    """``key`` where there is no such filter, ``value`` where it has no such value, ``moment``,
    ``unknown`` where the ledger has no such name, ``together`` where two exclude each other."""


def given(request: Request) -> dict[str, str]:
    """What was asked. A form sends every field, and what was left blank asks for nothing."""
    return {name: text.strip() for name, text in request.query_params.items() if text.strip()}


def heard(asked: dict[str, str]) -> tuple[Search, list[Wrong]]:
    """The filters that can be, and those that cannot."""
    kept, wrong = dict(asked), []
    for name in MOMENTS:
        try:
            Search({name: kept[name]} if name in kept else {})
        except (RequestError, RequestValidationError):
            wrong.append(Wrong(name, kept.pop(name), "moment"))
    try:
        queries.checked(kept, queries.History)
    except RequestValidationError as error:
        for each in error.errors():
            name = str(each["loc"][1])
            why = "key" if each["type"] == "extra_forbidden" else "value"
            wrong.append(Wrong(name, kept.pop(name), why))
    try:
        return Search(kept), wrong
    except RequestError:
        reason = kept.pop("reason", "")
        if not reason:
            kept.pop("result")
        return Search(kept), [*wrong, Wrong("reason" if reason else "result", reason, "together")]


def unknown(archive: Archive, search: Search) -> list[Wrong]:
    """The filters whose names the ledger does not have."""
    found = []
    for name in NAMED:
        if name not in search.values:
            continue
        one = Search({name: search.values[name]})
        try:
            chosen.known(archive, one.filters)
        except NotFound:
            found.append(Wrong(name, search.values[name], "unknown"))
    return found


class Search:
    """The filters of a page, as its form and its links have them."""

    def __init__(self, given: dict[str, str]) -> None:
        """Raises RequestValidationError and RequestError."""
        given = {name: _utc(text) if name in MOMENTS else text for name, text in given.items()}
        query = queries.checked(given, queries.History)
        self.filters: Filters = filters_of(query)
        self.before, self.after = query.before, query.after
        self.values = {name: given[name] for name in SEARCHED if name in given}
        for name in MOMENTS:
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

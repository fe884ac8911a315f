"""What a form of a page posted. Two kinds of form, few fields: read here, in time that grows with
the body alone, for a form is read where everything else waits."""

from __future__ import annotations

import re
from typing import Final, NamedTuple
from urllib.parse import parse_qsl

from starlette.exceptions import HTTPException
from starlette.requests import Request

from capture.errors import RequestError

URL_ENCODED: Final = "application/x-www-form-urlencoded"
MULTIPART: Final = "multipart/form-data"
FIELDS_MOST: Final = 50
LONGEST_HEAD: Final = 8192
"""Bytes of what a part says of itself."""
_BOUNDARY: Final = re.compile(r';[ \t]*boundary=(?:"([^"]{1,70})"|([^\s;",]{1,70}))', re.IGNORECASE)
_DISPOSITION: Final = re.compile(rb"^content-disposition:([^\r\n]*)", re.IGNORECASE | re.MULTILINE)
_PARAMETER: Final = re.compile(rb';[ \t]*(name|filename)="([^"]*)"', re.IGNORECASE)
_ESCAPED: Final = (("%22", '"'), ("%0D", "\r"), ("%0A", "\n"))
"""What stands in a name for what cannot stand there (HTML standard, multipart/form-data)."""


class Field(NamedTuple):
    """One field of a form."""

    data: bytes
    file: str = ""
    """Name of the file, where one was chosen."""

    @property
    def text(self) -> str:
        """As text with plain line ends: a browser sends CRLF for those of a text area."""
        return self.data.decode("utf-8", "replace").replace("\r\n", "\n")


async def posted(request: Request) -> dict[str, Field]:
    """The fields by name. Raises HTTPException for a body of another kind, RequestError."""
    return fields(request.headers.get("content-type", ""), await request.body())


def fields(kind: str, body: bytes) -> dict[str, Field]:
    """The fields of a body by its ``Content-Type``; of fields with one name the last. Raises
    HTTPException for another kind, RequestError for what is no form."""
    word = kind.partition(";")[0].strip().lower()
    if word == URL_ENCODED:
        return _url_encoded(body)
    if word == MULTIPART:
        return _parts(kind, body)
    raise HTTPException(415, f"Send a form ({URL_ENCODED} or {MULTIPART}), not {word or 'this'}.")


def _url_encoded(body: bytes) -> dict[str, Field]:
    """The URL standard, 5.1."""
    try:
        pairs = parse_qsl(
            body.decode("latin-1"),
            keep_blank_values=True,
            encoding="utf-8",
            max_num_fields=FIELDS_MOST,
        )
    except ValueError:
        raise _no_form(f"it has more than {FIELDS_MOST} fields") from None
    return {name: Field(value.encode()) for name, value in pairs}


def _parts(kind: str, body: bytes) -> dict[str, Field]:
    """RFC 7578, in the form of RFC 2046, 5.1.1: ``--boundary``, heads, an empty line, data."""
    boundary = _BOUNDARY.search(kind)
    if boundary is None:
        raise _no_form("its kind names no boundary")
    between = f"\r\n--{boundary[1] or boundary[2]}".encode("latin-1", "replace")
    pieces = (b"\r\n" + body).split(between, FIELDS_MOST + 2)
    found: dict[str, Field] = {}
    for piece in pieces[1 : FIELDS_MOST + 2]:
        if piece.startswith(b"--"):
            return found
        head, blank, data = piece.partition(b"\r\n\r\n")
        if not blank or len(head) > LONGEST_HEAD:
            raise _no_form("a part of it has no head, or a very long one")
        said = _DISPOSITION.search(head)
        names = dict(_named(said[1])) if said else {}
        if "name" in names:
            found[names["name"]] = Field(data, names.get("filename", ""))
    raise _no_form(f"it has no end, or more than {FIELDS_MOST} fields")


def _named(disposition: bytes) -> list[tuple[str, str]]:
    found = []
    for one in _PARAMETER.finditer(disposition):
        value = one[2].decode("utf-8", "replace")
        for escaped, sign in _ESCAPED:
            value = value.replace(escaped, sign)
        found.append((one[1].decode().lower(), value))
    return found


def _no_form(why: str) -> RequestError:
    return RequestError(f"This is no whole form: {why}.", mend="Send it again from its page.")

"""What a form of a page posted. Read with the standard library: two kinds of form, few fields."""

from __future__ import annotations

from email.message import Message
from email.parser import BytesParser
from email.policy import HTTP
from typing import NamedTuple
from urllib.parse import parse_qsl

from starlette.exceptions import HTTPException
from starlette.requests import Request

URL_ENCODED = "application/x-www-form-urlencoded"
MULTIPART = "multipart/form-data"


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
    """The fields by name; of fields with one name the last. Raises HTTPException for a body of
    another kind (RFC 7578 and the URL standard describe the two)."""
    kind = request.headers.get("content-type", "")
    word = kind.partition(";")[0].strip().lower()
    body = await request.body()
    if word == URL_ENCODED:
        pairs = parse_qsl(body.decode("latin-1"), keep_blank_values=True, encoding="utf-8")
        return {name: Field(value.encode()) for name, value in pairs}
    if word == MULTIPART:
        return _parts(kind, body)
    raise HTTPException(415, f"Send a form ({URL_ENCODED} or {MULTIPART}), not {word or 'this'}.")


def _parts(kind: str, body: bytes) -> dict[str, Field]:
    message = BytesParser(policy=HTTP).parsebytes(
        b"Content-Type: " + kind.encode("latin-1", "replace") + b"\r\n\r\n" + body
    )
    found: dict[str, Field] = {}
    for part in message.iter_parts():
        name = part.get_param("name", header="content-disposition")
        if isinstance(name, str) and not part.is_multipart():
            data = Message.get_payload(part, decode=True)
            found[name] = Field(data if isinstance(data, bytes) else b"", part.get_filename() or "")
    return found

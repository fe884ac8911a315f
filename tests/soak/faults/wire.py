"""What a recorded service had claimed by some point: read from the bytes it was about to send.

Nothing here looks at what the client received: a claim counts from the moment it was on its way.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field

from tests.soak.faults.trace import Trace

_EVENT_ID = re.compile(rb"^id: ?(\d+)\r?$", re.MULTILINE)
_LENGTH = re.compile(rb"^content-length: (\d+)\r?$", re.MULTILINE | re.IGNORECASE)


@dataclass
class Claims:
    """What the service has said is stored."""

    answered: set[int] = field(default_factory=set)
    """Seqs named in answers 200 and 201 to POSTs."""
    events: set[int] = field(default_factory=set)
    """Ids of server-sent events."""
    checkpoints: list[str] = field(default_factory=list)
    """Signed tree heads given out."""
    outcomes: list[str] = field(default_factory=list)
    """What each POST came to, in order: ``stored``, ``not-stored`` or ``outcome-unknown``."""

    @property
    def seqs(self) -> set[int]:
        """Every entry somebody was told of."""
        return self.answered | self.events


@dataclass
class Reader:
    """Follows the answers on every connection; feed it a growing list of sends."""

    claims: Claims = field(default_factory=Claims)
    _open: dict[int, bytes] = field(default_factory=dict)
    _done: int = 0

    def follow(self, sent: Trace) -> Claims:
        """Takes in what was sent since the last call; gives all claims so far."""
        for record in sent[self._done :]:
            if record.op == "N":
                self._take(record.inode, record.data)
        self._done = len(sent)
        return self.claims

    def _take(self, connection: int, data: bytes) -> None:
        if data.startswith(b"HTTP/1.1 "):
            self._open[connection] = b""  # whatever was open there is over
        text = self._open.get(connection, b"") + data
        while text:
            head, gap, body = text.partition(b"\r\n\r\n")
            if not gap:
                break
            length = _LENGTH.search(head)
            if length is None:  # an event stream: it has no end
                self.claims.events.update(int(found) for found in _EVENT_ID.findall(body))
                break
            if len(body) < int(length[1]):
                break
            self._answer(head, body[: int(length[1])])
            text = body[int(length[1]) :]
        self._open[connection] = text

    def _answer(self, head: bytes, body: bytes) -> None:
        good = head.startswith((b"HTTP/1.1 200", b"HTTP/1.1 201"))
        if good and body.startswith(b"witnessmark/"):
            self.claims.checkpoints.append(body.decode())
            return
        try:
            answer = json.loads(body)
        except ValueError:
            return
        if not isinstance(answer, dict):
            return
        if good and isinstance(answer.get("seq"), int):
            self.claims.answered.add(answer["seq"])
            self.claims.outcomes.append("stored")
        elif answer.get("type") in ("/problems/not-stored", "/problems/outcome-unknown"):
            self.claims.outcomes.append(answer["type"].removeprefix("/problems/"))

"""A small HTTP client for the bench service: JSON over one kept-open connection, stdlib only."""

from __future__ import annotations

import http.client
import json
import uuid
from typing import Any
from urllib.parse import urlencode, urlsplit


class Refused(RuntimeError):
    """The service answered with a problem (RFC 9457)."""

    def __init__(self, method: str, path: str, status: int, problem: dict[str, Any]) -> None:
        said = [str(problem.get(word)) for word in ("title", "detail", "mend") if problem.get(word)]
        said += [json.dumps(each) for each in problem.get("errors", ())]
        super().__init__(f"{method} {path} was answered {status}: {' '.join(said)}")
        self.status = status
        self.problem = problem


class Unreachable(RuntimeError):
    """Nobody answers at the service's address."""


class Client:
    """One connection; opened when needed, and again when the service closed it."""

    def __init__(self, service: str, token: str | None = None, timeout: float = 30.0) -> None:
        address = urlsplit(service)
        if address.scheme != "http" or not address.hostname:
            raise Unreachable(f"'{service}' is no http:// address.")
        self._service = service
        self._connection = http.client.HTTPConnection(
            address.hostname, address.port or 80, timeout=timeout
        )
        self._headers = {"Accept": "application/json"}
        if token:
            self._headers["Authorization"] = f"Bearer {token}"

    def close(self) -> None:
        self._connection.close()

    def get(self, path: str, **query: object) -> Any:
        """The JSON at ``path``. Refused on any problem."""
        return self._ask("GET", f"{path}?{urlencode(query)}" if query else path, None, {})

    def post(self, path: str, body: dict[str, Any]) -> Any:
        """Posts JSON under a key of its own, so that it counts once however often it is sent."""
        return self._post(path, json.dumps(body).encode(), "application/json")

    def post_toml(self, path: str, text: bytes) -> Any:
        """Posts a TOML document as it is."""
        return self._post(path, text, "application/toml")

    def _post(self, path: str, body: bytes, kind: str) -> Any:
        headers = {"Content-Type": kind, "Idempotency-Key": str(uuid.uuid4())}
        return self._ask("POST", path, body, headers)

    def _ask(self, method: str, path: str, body: bytes | None, headers: dict[str, str]) -> Any:
        status, answer = self._exchange(method, path, body, {**self._headers, **headers})
        try:
            data = json.loads(answer) if answer else None
        except ValueError:
            data = {"title": answer[:200].decode("utf-8", "replace")}
        if status >= 400:
            raise Refused(method, path, status, data if isinstance(data, dict) else {})
        return data

    def _exchange(
        self, method: str, path: str, body: bytes | None, headers: dict[str, str]
    ) -> tuple[int, bytes]:
        for attempt in (1, 2):
            try:
                self._connection.request(method, path, body, headers)
                response = self._connection.getresponse()
                return response.status, response.read()
            except (http.client.HTTPException, OSError) as error:
                # A kept-open connection may have been closed meanwhile: once more on a new one.
                # Sending a POST again is safe, for it carries the same key.
                self._connection.close()
                if attempt == 2:
                    raise Unreachable(f"{self._service} does not answer: {error!r}.") from error
        raise AssertionError("not reached")

"""Who may reach the bench.

On the loopback: a page of another site, or another name that resolves here, must not. So the
``Host`` must be a loopback name, an ``Origin`` must be this very service, and a browser that says
the request comes from elsewhere (``Sec-Fetch-Site``) is believed.

Off the loopback a token is needed as well: ``Authorization: Bearer TOKEN``, or a same-site cookie
that the browser gets from ``?token=TOKEN`` once or from a small form (an ``EventSource`` cannot
send a header). The cookie holds a keyed hash, not the token. The service speaks plain HTTP: across
a network that is not trusted, put TLS in front of it.

Sources: RFC 6750 §2.1 (bearer), RFC 6265bis (SameSite), Fetch Metadata (W3C), from memory.
"""

from __future__ import annotations

import hashlib
import hmac
from urllib.parse import parse_qs, urlsplit

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.problems import problem
from api.settings import is_loopback

COOKIE = "witnessmark"
ALWAYS = (
    (b"x-content-type-options", b"nosniff"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"referrer-policy", b"same-origin"),
)
"""Sent with every answer: no other site may embed it, guess its type or learn its address. (Were
our own pages kept from learning it too, a browser would send a form from them with no origin.)"""
OPEN_PATHS = frozenset({"/access"})
"""Reached without a token: the form that takes it."""


def cookie_value(token: str) -> str:
    """What the cookie holds: shows that its holder knew the token, without telling it."""
    return hmac.new(token.encode(), b"witnessmark page", hashlib.sha256).hexdigest()


class Access:
    """ASGI middleware that answers itself where a request must not pass."""

    def __init__(self, app: ASGIApp, *, host: str, token: str | None) -> None:
        self._app = app
        self._local = is_loopback(host)
        self._bearer = None if token is None else token.encode()
        self._cookie = None if token is None else cookie_value(token)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        app = await self._stop(scope, receive) or self._app

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message["headers"], *ALWAYS]
            await send(message)

        await app(scope, receive, guarded)

    async def _stop(self, scope: Scope, receive: Receive) -> Response | None:
        headers = Headers(scope=scope)
        if why := self._stranger(headers, scope["method"]):
            return problem("forbidden", 403, why)
        if self._bearer is None:
            return None
        if scope["path"] in OPEN_PATHS:
            return await self._form(Request(scope, receive))
        given = parse_qs(scope["query_string"].decode("latin-1")).get("token")
        if given and scope["method"] == "GET" and self._matches(given[-1]):
            return self._welcome(scope["path"])
        if self._known(headers):
            return None
        if "text/html" in headers.get("accept", ""):
            return _page(_FORM, 401)
        detail = "This service needs its access token."
        answer = problem("unauthorized", 401, detail, mend="Send Authorization: Bearer TOKEN.")
        answer.headers["WWW-Authenticate"] = 'Bearer realm="witnessmark"'
        return answer

    def _stranger(self, headers: Headers, method: str) -> str | None:
        """Why a browser's request comes from somewhere else, or None."""
        host = headers.get("host", "")
        if self._local and not is_loopback(_name(host)):
            return "The Host header names another machine; use 127.0.0.1 or localhost."
        origin = headers.get("origin")
        if origin is not None and not _same(origin, host):
            return "A page of another site must not reach this bench."
        site = headers.get("sec-fetch-site", "none")
        walked_in = method == "GET" and headers.get("sec-fetch-mode") == "navigate"
        if site not in ("same-origin", "none") and not walked_in:
            return "A page of another site must not reach this bench."
        return None

    def _known(self, headers: Headers) -> bool:
        scheme, _, given = headers.get("authorization", "").partition(" ")
        if scheme.lower() == "bearer" and self._matches(given.strip()):
            return True
        for pair in headers.get("cookie", "").split(";"):
            name, _, value = pair.strip().partition("=")
            if name == COOKIE and hmac.compare_digest(
                value.encode(), (self._cookie or "").encode()
            ):
                return True
        return False

    def _matches(self, given: str) -> bool:
        return hmac.compare_digest(given.encode("utf-8", "replace"), self._bearer or b"")

    async def _form(self, request: Request) -> Response:
        if request.method != "POST":
            return _page(_FORM, 200)
        body = b""
        async for chunk in request.stream():
            body += chunk
            if len(body) > 4096:
                return problem("too-large", 413, "The form is longer than a token can be.")
        given = parse_qs(body.decode("latin-1")).get("token", [""])
        return self._welcome("/") if self._matches(given[-1]) else _page(_FORM_AGAIN, 401)

    def _welcome(self, path: str) -> Response:
        # A page that walks on by itself, not a redirect: a strict cookie set during a visit that
        # began on another site is only sent once a page of our own asks.
        safe = path if path.startswith("/") and not path.startswith("//") else "/"
        target = "".join(c for c in safe if c.isalnum() or c in "/-_.")
        answer = _page(f'<meta http-equiv="refresh" content="0;url={target}"><p>Welcome.</p>', 200)
        answer.set_cookie(COOKIE, self._cookie or "", httponly=True, samesite="strict", path="/")
        return answer


def _name(host: str) -> str:
    """The name in a Host header, without its port."""
    if host.startswith("["):
        return host.partition("]")[0] + "]"
    return host.partition(":")[0]


def _same(origin: str, host: str) -> bool:
    try:
        parts = urlsplit(origin)
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and parts.netloc == host and bool(host)


_FORM = (
    '<h1>This bench needs its access token</h1><form method="post" action="/access">'
    '<p><label>Token <input name="token" type="password" autocomplete="current-password" '
    "autofocus required></label> <button>Open the bench</button></p></form>"
)
_FORM_AGAIN = _FORM + '<p role="alert">That was not the token. Nothing was opened.</p>'


def _page(body: str, status: int) -> Response:
    text = (
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>witnessmark: access</title>'
        '<meta name="viewport" content="width=device-width">' + body
    )
    policy = "default-src 'none'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    headers = {"Content-Security-Policy": policy, "Cache-Control": "no-store"}
    return HTMLResponse(text, status, headers)

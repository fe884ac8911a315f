"""Which language a page is shown in: what ``?language=`` says, which the browser then remembers;
else what it remembers; else the first of its own languages that there is; else English."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from api.labels.catalogue import USUAL, Labels, labels, languages

COOKIE = "witnessmark-language"
YEAR_SECONDS = 365 * 24 * 3600


def labels_for(request: Request) -> Labels:
    """The labels for whoever asks."""
    return labels(_asked(request) or _kept(request) or _preferred(request) or USUAL)


def remember(request: Request, response: Response) -> None:
    """Lets the browser remember what was asked for."""
    asked = _asked(request)
    if asked is not None:
        response.set_cookie(
            COOKIE, asked, max_age=YEAR_SECONDS, httponly=True, samesite="strict", path="/"
        )


def _asked(request: Request) -> str | None:
    return _known(request.query_params.get("language", ""))


def _kept(request: Request) -> str | None:
    return _known(request.cookies.get(COOKIE, ""))


def _preferred(request: Request) -> str | None:
    """Of ``Accept-Language`` (RFC 9110, 12.5.4), by weight."""
    wanted: list[tuple[float, str]] = []
    for one in request.headers.get("accept-language", "").split(","):
        tag, _, weight = one.partition(";q=")
        try:
            wanted.append((float(weight or 1), tag.strip()))
        except ValueError:
            continue
    tags = (tag for _, tag in sorted(wanted, key=lambda pair: -pair[0]))
    return next((found for tag in tags if (found := _known(tag))), None)


def _known(tag: str) -> str | None:
    language = tag.partition("-")[0].lower()
    return language if language in languages() else None

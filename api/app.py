"""The web application around a running bench."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI

from api import VERSION, problems
from api.access import Access
from api.limit import BodyLimit
from api.routes import ROUTERS
from api.service import Service


def make_app(service: Service) -> FastAPI:
    """Every route, the one error shape, and the gate before them."""
    app = FastAPI(
        title="witnessmark",
        version=VERSION,
        # The pages that FastAPI offers for browsing load scripts from elsewhere.
        docs_url=None,
        redoc_url=None,
        telemetry={"tracing": False, "metrics": False, "logs": False, "auto_configure": False},
        redirect_slashes=False,
    )
    app.state.service = service
    for router in ROUTERS:
        app.include_router(router)
    problems.install(app)
    settings = service.settings
    app.add_middleware(BodyLimit)
    app.add_middleware(Access, host=settings.host, token=settings.token)

    def document() -> dict[str, Any]:
        from api.openapi import describe  # only when someone asks: its models take time to build

        if app.openapi_schema is None:
            app.openapi_schema = describe(app)
        return app.openapi_schema

    app.openapi = document  # type: ignore[method-assign]  # FastAPI's documented way
    return app

"""The addresses of the service; each module is thin: check the form, hand in a command, answer."""

from api.routes import (
    bench,
    builds,
    calculations,
    events,
    exports,
    ledger,
    pages,
    readings,
    specs,
    traces,
)

ROUTERS = tuple(
    module.router
    for module in (
        bench,
        builds,
        readings,
        exports,
        traces,
        specs,
        calculations,
        ledger,
        events,
        pages,
    )
)

"""The addresses of the service; each module is thin: check the form, hand in a command, answer."""

from api.routes import (
    bench,
    build_pages,
    builds,
    calculations,
    charts,
    drawings,
    events,
    exports,
    history_pages,
    instrument_pages,
    ledger,
    life,
    pages,
    readings,
    sheet,
    spec_pages,
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
        drawings,
        specs,
        calculations,
        charts,
        life,
        ledger,
        events,
        sheet,
        pages,
        build_pages,
        history_pages,
        instrument_pages,
        spec_pages,
    )
)

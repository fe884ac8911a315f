"""The addresses of the service; each module is thin: check the form, hand in a command, answer."""

from api.routes import bench, builds, events, ledger, pages, readings, specs

ROUTERS = tuple(module.router for module in (bench, builds, readings, specs, ledger, events, pages))

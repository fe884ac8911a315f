"""The command that an entry records, read back, so that ``verify`` can carry it out again."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from capture import command as c
from capture.entry import Envelope, Kind

Body = dict[str, Any]

ADDED = ("supersedes", "first_build", "idempotency")
"""What is put into a body beside what the command says."""


def command_of(entry: Envelope) -> c.Command | None:
    """The command behind an entry; None for entries that no person's command made.

    Raises KeyError or TypeError for a body that no command could have made.
    """
    make = _MAKERS.get(Kind(entry["kind"]))
    return None if make is None else make(entry["body"])


def _decision(body: Body) -> c.Command | None:
    if body["by"] != "person":
        return None
    press, because, act = body["press"], body["because"], body["act"]
    if act == "void":
        return c.Void(press, because)
    if act == "correct":
        corrected = body["corrected"]
        return c.Correct(press, corrected["digits"], corrected["unit"], because)
    return c.Place(press, body["build"], body["step"]["id"], because)


def _setting(body: Body) -> c.Command:
    return c.SetGauge(
        body["instrument"],
        body["standard"],
        Decimal(body["size"]),
        body["unit"],
        *_uncertainty(body),
        body.get("from_instrument"),
    )


def _uncertainty(body: Body) -> tuple[Decimal | None, Decimal | None]:
    expanded, coverage = body["expanded_uncertainty"], body["coverage_factor"]
    return (
        None if expanded is None else Decimal(expanded),
        None if coverage is None else Decimal(coverage),
    )


def _temperature(body: Body) -> c.Command:
    value = Decimal(body["value"])
    return c.RecordTemperature(body["instrument"], value, body["unit"], *_uncertainty(body))


def _extension(body: Body) -> c.Command:
    tool, length, angle = (Decimal(body[name]) for name in ("tool_length", "length", "angle"))
    return c.FitExtension(body["instrument"], tool, length, angle, body["unit"])


def _fit(body: Body) -> c.Command:
    order = tuple((number, piece) for number, piece in body["pieces"])
    return c.AcceptFit(body["build"], body["clearance"], order)


_MAKERS: dict[Kind, Callable[[Body], c.Command | None]] = {
    Kind.SPEC: lambda body: c.AddSpec(body["text"], body["file"]),
    Kind.OPERATOR: lambda body: c.SetOperator(body["operator"]),
    Kind.BUILD: lambda body: c.OpenBuild(body["spec"], body["title"]),
    Kind.ACTIVATE: lambda body: c.ActivateBuild(body["build"]),
    Kind.CLOSE: lambda body: c.CloseBuild(body["build"], body["reason"]),
    Kind.CHOOSE: lambda body: c.ChooseStep(body["build"], body["step"]),
    Kind.CONFIRMATION: lambda body: c.Confirm(body["build"], body["step"], body["note"]),
    Kind.ASSIGN: lambda body: c.Assign(body["build"], body["part"], body["number"], body["piece"]),
    Kind.REWORK: lambda body: c.Rework(body["build"], body["part"], body["number"], body["reason"]),
    Kind.SCRAP: lambda body: c.Scrap(body["build"], body["part"], body["number"], body["reason"]),
    Kind.CONCESSION: lambda body: c.Concede(body["build"], body["subject"], body["reason"]),
    Kind.SETTING: _setting,
    Kind.ZERO_DUE: lambda body: c.ExpectZero(body["instrument"]),
    Kind.TEMPERATURE: _temperature,
    Kind.EXTENSION: _extension,
    Kind.FIT: _fit,
    Kind.REMEASURE: lambda body: c.Remeasure(
        body["build"], body["step"], body["reason"], body["reading"]
    ),
    Kind.DECISION: _decision,
}

"""The body of a press that came by hand or from a program: digits, a bracket, a torque trace."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from capture import command as c
from capture.bracket import Bracket, checked
from capture.desk import Desk
from capture.draft import digits_of
from capture.errors import NotFound, RequestError
from capture.leaves import total
from capture.quantity import dimension, unit_name

Body = dict[str, Any]
ByHand = c.TypeReading | c.TypeBracket | c.RecordPull


def press_body(desk: Desk, command: ByHand) -> Body:
    """Raises NotFound for an instrument the bench has not, RequestError for what makes no sense."""
    if isinstance(command, c.TypeReading):
        return _press(desk, command.instrument, digits_of(command.digits), command.unit)
    if isinstance(command, c.TypeBracket):
        return _bracket(desk, command)
    body = _press(desk, command.instrument, command.digits, command.unit)
    if dimension(body["unit"]) != "torque":
        raise RequestError(
            f"A trace in {body['unit']} is no trace of torque.",
            mend="Give it in N·m, lbf·ft or lbf·in.",
        )
    trace = {"sha256": command.digest, "samples": command.samples, "found": command.found}
    return {**body, "typed": False, "trace": trace}


def _press(desk: Desk, instrument: str, digits: str, unit: str) -> Body:
    record = desk.instruments.get(instrument)
    if record is None:
        raise NotFound(
            f"This bench has no instrument {instrument}.",
            mend=f"It has: {', '.join(desk.instruments) or 'none'}.",
        )
    return {
        "instrument": instrument,
        "record": record.seq,
        "raw": "",
        "digits": digits,
        "unit": unit_name(unit),
        "flags": [],
        "simulated": record.instrument.simulated,
        "typed": True,
        "late": None,
    }


def _bracket(desk: Desk, command: c.TypeBracket) -> Body:
    lower, upper = (
        None if end is None else digits_of(end) for end in (command.lower, command.upper)
    )
    leaves = [digits_of(leaf) for leaf in command.leaves]
    if leaves and lower is None:
        lower = format(total([Decimal(leaf) for leaf in leaves]), "f")
    known = lower if lower is not None else upper
    if known is None:
        raise RequestError(
            "A bracket needs one end at the least.",
            mend="Give lower (goes, or clicked without turning) or upper (does not go, or turned).",
        )
    if leaves and lower is not None and total([Decimal(leaf) for leaf in leaves]) != Decimal(lower):
        raise RequestError(
            f"The leaves {' + '.join(leaves)} do not make {lower}.",
            mend="Leave lower out, or enter the leaves that make it.",
        )
    try:
        low, high = (None if end is None else Decimal(end) for end in (lower, upper))
        checked(Bracket(low, high))
    except ValueError as error:
        raise RequestError(str(error), mend="Try both values again.") from error
    beside = command.beside
    body = _press(desk, command.instrument, known, command.unit)
    body["bracket"] = {
        "lower": lower,
        "upper": upper,
        "leaves": leaves,
        "beside": None
        if beside is None
        else [None if leaf is None else digits_of(leaf) for leaf in beside],
    }
    return body

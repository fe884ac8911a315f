"""Calculations by name: the list with the form of each input, and one carried out."""

from __future__ import annotations

from difflib import get_close_matches
from importlib import import_module
from typing import Any

from api.calculations import CALCULATIONS
from api.calculations.forms import Data, Input
from capture.errors import NotFound, RequestError
from capture.formula.problem import FormulaError


def form_of(name: str) -> type[Input]:
    """The form of a calculation's input. Raises NotFound."""
    entry = CALCULATIONS.get(name)
    if entry is None:
        near = get_close_matches(name.lower(), CALCULATIONS, n=1, cutoff=0.4)
        hint = f"Did you mean {near[0]}? " if near else ""
        raise NotFound(
            f"There is no calculation {name}.", mend=f"{hint}There are: {', '.join(CALCULATIONS)}."
        )
    found: type[Input] = getattr(import_module(f"api.calculations.{entry.family}"), entry.form)
    return found


def listed() -> list[Data]:
    """Every calculation: its name, a sentence, the JSON schema of its input, and an example."""
    return [
        {
            "name": name,
            "sentence": entry.sentence,
            "input": form_of(name).model_json_schema(),
            "example": form_of(name).example,
        }
        for name, entry in CALCULATIONS.items()
    ]


def calculate(name: str, data: bytes) -> Data:
    """Carries out one calculation on an input in JSON.

    Raises NotFound for its name, pydantic's ValidationError for the form of the input, UnitError
    for a unit, RequestError for what makes no sense.
    """
    return carried_out(name, form_of(name).model_validate_json(data))


def carried_out(name: str, given: Input) -> Data:
    """The answer to a checked input, as plain data. Raises RequestError, UnitError."""
    try:
        answer = given.answer()
    except FormulaError as error:
        where = f"{error.message} (at character {error.at + 1} of the formula)"
        raise RequestError(_sentence(where), mend=_sentence(error.mend)) from error
    except ArithmeticError as error:
        raise RequestError(
            f"The numbers leave what can be computed: {error}.",
            mend="Look for a division by zero, or a value that is far too large or small.",
        ) from error
    except ValueError as error:
        raise RequestError(_sentence(str(error)), mend=_mend(name)) from error
    cautions = [_sentence(one) for one in answer.cautions]
    return {"calculation": name, **answer._replace(cautions=cautions)._asdict()}


def _mend(name: str) -> str:
    return (
        f"Correct the input; GET /v1/calculations (or 'witnessmark calculate {name} --example') "
        "shows one that works."
    )


def _sentence(message: str) -> str:
    """With a capital and a full stop."""
    whole = message[:1].upper() + message[1:]
    return whole if whole.endswith((".", "!", "?")) else f"{whole}."


def messages(error: Any) -> list[tuple[str, str, str]]:
    """(key, what is wrong, how to mend it) for everything in pydantic's ValidationError."""
    from api.forms import explain

    found = []
    for one in error.errors(include_url=False, include_input=False):
        message, mend = explain(one)
        found.append((".".join(str(step) for step in one["loc"]), message, mend))
    return found

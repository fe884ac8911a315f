"""What a POST may carry, as pydantic models, and the command each becomes.

Unknown keys are refused (a mistyped key must not pass in silence), and types are strict: a number
that is a measurement is text, digits as read, never a JSON number.

Routes read their body with ``read`` instead of declaring it as a parameter: a declared one has its
validator built at start-up, which costs a tenth of it; here that waits for the first request.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, TypeVar

from fastapi import HTTPException, Request
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from api import forms
from capture import command

JSON_KINDS = ("application/json", "")
Word = Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=forms.WRITTEN)]
Text = Annotated[str, StringConstraints(min_length=1, max_length=2000, pattern=forms.WRITTEN)]
Digits = Annotated[str, StringConstraints(max_length=40, pattern=forms.DIGITS)]
Size = Annotated[str, StringConstraints(max_length=40, pattern=forms.SIZE)]
Number = Annotated[int, Field(ge=1, le=10_000)]

Model = TypeVar("Model", bound="Body")


async def read(request: Request, model: type[Model]) -> Model:
    """The request's body, checked. Nothing at all is taken for ``{}``.

    Raises RequestValidationError, and HTTPException where the body says that it is not JSON.
    """
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in JSON_KINDS:
        raise HTTPException(415, f"Send application/json, not {kind}.")
    try:
        return model.model_validate_json(await request.body() or b"{}")
    except ValidationError as error:
        found = error.errors(include_url=False, include_input=False)
        raise RequestValidationError([{**e, "loc": ("body", *e["loc"])} for e in found]) from None


def plain_digits(text: str) -> str:
    """``+025.400`` → ``25.400``: no plus, no leading zeros, every trailing zero."""
    sign = "-" if text.startswith("-") else ""
    whole, point, rest = text.lstrip("+-").partition(".")
    return f"{sign}{whole.lstrip('0') or '0'}{point}{rest}"


class Body(BaseModel):
    """What every POST may say beside its own keys."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, defer_build=True)

    operator: Word | None = None


class NewBuild(Body):
    spec: Annotated[str, StringConstraints(pattern=forms.SPEC_ID)]
    title: Word


class Empty(Body):
    """Nothing but, perhaps, who asks."""


class Reason(Body):
    reason: Text


class Choice(Body):
    step: Word | None

    def command(self, build: str) -> command.ChooseStep:
        return command.ChooseStep(build, self.step)


class Confirmation(Body):
    step: Word
    note: Annotated[str, StringConstraints(max_length=2000)] = ""

    def command(self, build: str) -> command.Confirm:
        return command.Confirm(build, self.step, self.note)


class Assignment(Body):
    part: Word
    number: Number
    piece: Word

    def command(self, build: str) -> command.Assign:
        return command.Assign(build, self.part, self.number, self.piece)


class PartReason(Body):
    part: Word
    number: Number
    reason: Text

    def rework(self, build: str) -> command.Rework:
        return command.Rework(build, self.part, self.number, self.reason)

    def scrap(self, build: str) -> command.Scrap:
        return command.Scrap(build, self.part, self.number, self.reason)


class Concession(Body):
    subject: Word
    reason: Text

    def command(self, build: str) -> command.Concede:
        return command.Concede(build, self.subject, self.reason)


class TypedReading(Body):
    instrument: Word
    value: Digits
    unit: Word

    def command(self) -> command.TypeReading:
        return command.TypeReading(self.instrument, plain_digits(self.value), self.unit)


class Placement(Body):
    build: Word
    step: Word
    reason: Text

    def command(self, press: int) -> command.Place:
        return command.Place(press, self.build, self.step, self.reason)


class Correction(Body):
    value: Digits
    unit: Word | None = None
    reason: Text

    def command(self, press: int) -> command.Correct:
        return command.Correct(press, plain_digits(self.value), self.unit, self.reason)


class Setting(Body):
    instrument: Word
    standard: Word
    size: Size
    unit: Word
    expanded_uncertainty: Size | None = None
    coverage_factor: Size | None = None

    def command(self) -> command.SetGauge:
        return command.SetGauge(
            self.instrument,
            self.standard,
            Decimal(plain_digits(self.size)),
            self.unit,
            _decimal(self.expanded_uncertainty),
            _decimal(self.coverage_factor),
        )


class Operator(Body):
    operator: Word


def _decimal(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)

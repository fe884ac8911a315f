"""What a POST may carry, as pydantic models, and the command each becomes.

Unknown keys are refused (a mistyped key must not pass in silence), and types are strict: a number
that is a measurement is text, digits as read, never a JSON number.

Routes read their body with ``read`` instead of declaring it as a parameter: a declared one has its
validator built at start-up, which costs a tenth of it; here that waits for the first request.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, TypeVar

from fastapi import HTTPException, Request
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from api import forms
from api.badges import named_by
from capture import command
from capture.errors import RequestError
from capture.trace.samples import Written

if TYPE_CHECKING:
    from drivers import bench_operators

MOST_SAMPLES = 1_000_000
_POSITION = re.compile("[1-9][0-9]{0,3}", re.ASCII)
JSON_KINDS = ("application/json", "")
Word = Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=forms.WRITTEN)]
Text = Annotated[str, StringConstraints(min_length=1, max_length=2000, pattern=forms.WRITTEN)]
Digits = Annotated[str, StringConstraints(max_length=40, pattern=forms.DIGITS)]
Size = Annotated[str, StringConstraints(max_length=40, pattern=forms.SIZE)]
Number = Annotated[int, Field(ge=1, le=10_000)]

Model = TypeVar("Model", bound=BaseModel)


async def read(request: Request, model: type[Model]) -> Model:
    """The request's body, checked. Nothing at all is taken for ``{}``.

    Raises RequestValidationError, and HTTPException where the body says that it is not JSON.
    """
    return checked(model, await json_of(request))


async def json_of(request: Request) -> bytes:
    """The request's body as it came. Raises HTTPException where it says that it is not JSON."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in JSON_KINDS:
        raise HTTPException(415, f"Send application/json, not {kind}.")
    return await request.body() or b"{}"


def checked(model: type[Model], body: bytes) -> Model:
    """The body as a model. Raises RequestValidationError."""
    try:
        return model.model_validate_json(body)
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


class Between(BaseModel):
    """Between which two values a size lies: the largest leaf that goes (or setting that clicked
    without turning) and the smallest that does not (or that turned)."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, defer_build=True)

    lower: Digits | None = None
    upper: Digits | None = None
    leaves: Annotated[list[Size], Field(max_length=20)] = []
    beside: Annotated[list[Size | None], Field(min_length=2, max_length=2)] | None = None


class TypedReading(Body):
    """Either ``value`` or ``bracket``."""

    instrument: Word
    value: Digits | None = None
    bracket: Between | None = None
    unit: Word

    def command(self) -> command.TypeReading | command.TypeBracket:
        """Raises RequestError where not just one of the two is given."""
        if (self.value is None) == (self.bracket is None):
            raise RequestError(
                "A reading is one value, or a bracket of two.", mend="Give value or bracket."
            )
        if self.value is not None:
            return command.TypeReading(self.instrument, plain_digits(self.value), self.unit)
        between = self.bracket
        assert between is not None
        beside = between.beside
        return command.TypeBracket(
            self.instrument,
            self.unit,
            _plain(between.lower),
            _plain(between.upper),
            tuple(plain_digits(leaf) for leaf in between.leaves),
            None if beside is None else (_plain(beside[0]), _plain(beside[1])),
        )


class Pull(Body):
    """One pull, sample by sample: at even intervals, or each with its time in seconds."""

    instrument: Word
    unit: Word
    torque: Annotated[list[Digits], Field(min_length=2, max_length=MOST_SAMPLES)]
    interval_us: Annotated[int, Field(ge=1, le=10_000_000)] | None = None
    seconds: Annotated[list[Size], Field(max_length=MOST_SAMPLES)] | None = None
    angle: Annotated[list[Digits], Field(max_length=MOST_SAMPLES)] | None = None
    turning: bool = False
    """Of a crank that turns, not of a fastener that is tightened."""

    def written(self) -> Written:
        """Raises RequestError where not just one of the two kinds of time is given."""
        if (self.interval_us is None) == (self.seconds is None):
            raise RequestError(
                "The times of the samples are not given, or twice.",
                mend="Give interval_us (microseconds between samples) or seconds (one each).",
            )
        seconds: list[str]
        if self.seconds is not None:
            seconds = self.seconds
        else:
            assert self.interval_us is not None
            step = Decimal(self.interval_us).scaleb(-6)
            seconds = [format(step * at, "f") for at in range(len(self.torque))]
        return Written(seconds, self.torque, self.angle, self.unit)


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
    from_instrument: Word | None = None

    def command(self) -> command.SetGauge:
        return command.SetGauge(
            self.instrument,
            self.standard,
            Decimal(plain_digits(self.size)),
            self.unit,
            _decimal(self.expanded_uncertainty),
            _decimal(self.coverage_factor),
            self.from_instrument,
        )


class ZeroDue(Body):
    instrument: Word

    def command(self) -> command.ExpectZero:
        return command.ExpectZero(self.instrument)


class Temperature(Body):
    instrument: Word
    value: Digits
    unit: Word
    expanded_uncertainty: Size | None = None
    coverage_factor: Size | None = None

    def command(self) -> command.RecordTemperature:
        return command.RecordTemperature(
            self.instrument,
            Decimal(plain_digits(self.value)),
            self.unit,
            _decimal(self.expanded_uncertainty),
            _decimal(self.coverage_factor),
        )


class Extension(Body):
    instrument: Word
    tool_length: Size
    length: Size
    angle: Digits = "0"
    unit: Word

    def command(self) -> command.FitExtension:
        return command.FitExtension(
            self.instrument,
            Decimal(self.tool_length),
            Decimal(self.length),
            Decimal(self.angle),
            self.unit,
        )


class Fit(Body):
    """Number → the piece that goes there."""

    order: Annotated[dict[str, Word], Field(min_length=1, max_length=1000)]

    def command(self, build: str, derived: str) -> command.AcceptFit:
        wrong = next((key for key in self.order if not _POSITION.fullmatch(key)), None)
        if wrong is not None:
            raise RequestError(
                f"{wrong!r} is no number of a position.", mend="Number positions from 1."
            )
        order = sorted((int(number), piece) for number, piece in self.order.items())
        return command.AcceptFit(build, derived, tuple(order))


class SetAgain(Body):
    """The zero check whose set is measured again: by its step, or an announced one by the seq of
    its reading."""

    step: Word | None = None
    reading: Annotated[int, Field(ge=1)] | None = None
    reason: Text

    def command(self, build: str) -> command.Remeasure:
        """Raises RequestError where not just one of the two is given."""
        if (self.step is None) == (self.reading is None):
            raise RequestError(
                "Which zero check is not said, or twice.", mend="Give step or reading."
            )
        return command.Remeasure(build, self.step, self.reason, self.reading)


class Operator(Body):
    """Who is at the bench: by name, or by what a badge says."""

    badge: Word | None = None

    def name(self, operators: Sequence[bench_operators.Operator]) -> str:
        """The name. Raises RequestError where not just one of the two is given, and NotFound where
        nobody has the badge."""
        if self.badge is None and self.operator is not None:
            return self.operator
        if self.badge is None or self.operator is not None:
            said = "is not said" if self.badge is None else "is said twice"
            raise RequestError(f"Who is at the bench {said}.", mend="Give operator or badge.")
        return named_by(operators, self.badge)


def _plain(text: str | None) -> str | None:
    return None if text is None else plain_digits(text)


def _decimal(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)

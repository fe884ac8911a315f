"""What a GET may ask, and names in addresses: checked like bodies, and for the same reason read by
the route instead of being declared as its parameters (see ``api.bodies``). A key that is not known
is refused: a filter with a mistyped name must not answer with everything.
"""

from __future__ import annotations

from typing import Annotated, Literal, TypeVar

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import PydanticCustomError

from api.labels.catalogue import languages

LARGEST = 2**63 - 1
"""SQLite's largest integer."""

Seq = Annotated[int, Field(ge=1, le=LARGEST)]
Name = Annotated[str, Field(min_length=1, max_length=200)]


class Query(BaseModel):
    """The part of an address after the question mark."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Paged(Query):
    after: Annotated[int, Field(ge=0, le=LARGEST, description="Only what has a higher seq.")] = 0
    limit: Annotated[int, Field(ge=1, le=1000)] = 100


class Chosen(Query):
    """What readings are searched by."""

    build: Name | None = None
    instrument: Name | None = None
    since: Annotated[Name | None, Field(description="RFC 3339, inclusive.")] = None
    until: Annotated[Name | None, Field(description="RFC 3339, exclusive.")] = None
    operator: Annotated[Name | None, Field(description="Who was at the bench.")] = None
    result: Annotated[
        Literal["conforming", "nonconforming", "undecided", "not_evaluated"] | None,
        Field(description="Of the verdict that counts."),
    ] = None
    placed: Annotated[
        bool | None, Field(description="Whether it answers a step; a void reading does not.")
    ] = None
    reason: Annotated[
        Name | None,
        Field(description="The code of the reason why it answers no step, like `void`."),
    ] = None
    corrected: Annotated[
        bool | None, Field(description="Whether a person corrected its value.")
    ] = None


class Readings(Chosen, Paged):
    pass


class History(Chosen):
    """A page of the history: newest first, from a place on."""

    before: Annotated[Seq | None, Field(description="Only what has a lower seq.")] = None
    after: Annotated[int | None, Field(ge=0, le=LARGEST)] = None
    language: Name | None = None


class Exports(Chosen):
    form: Annotated[
        Literal["csv", "jsonl", "parquet", "qif"],
        Field(alias="as", description="The format of the file."),
    ]


class Entries(Query):
    """A page of the ledger's entries: newest first, from a place on."""

    kind: Name | None = None
    before: Annotated[Seq | None, Field(description="Only what has a lower seq.")] = None
    after: Annotated[int | None, Field(ge=0, le=LARGEST)] = None
    language: Name | None = None


class NewSpec(Query):
    file: Annotated[Name, Field(description="What errors call the file.")] = "spec.toml"


class Traces(Query):
    kind: Annotated[
        Literal["json", "csv", "svg"] | None,
        Field(alias="as", description="What to answer with, whatever `Accept` says: for links."),
    ] = None
    reading: Annotated[
        Seq | None,
        Field(description="The reading made of it: whose, and of what, the picture says."),
    ] = None


class Drawing(Query):
    step: Annotated[Name, Field(description="The step's id, as in the list of steps.")]
    inline: Annotated[
        bool, Field(description="For a page that puts it among its own elements.")
    ] = False
    language: Annotated[
        Name | None, Field(description="Of its words; of the request's languages if left out.")
    ] = None


class Charts(Query):
    form: Annotated[
        Literal["individuals", "mean-and-range", "mean-and-deviation"] | None,
        Field(description="Another kind of chart than what a build gives calls for."),
    ] = None


class Events(Query):
    after: Annotated[int | None, Field(ge=0, le=LARGEST)] = None


class Inclusion(Query):
    seq: Seq
    size: Annotated[Seq | None, Field(description="Of the tree; its newest size if left out.")] = (
        None
    )


class Consistency(Query):
    first: Annotated[Seq, Field(alias="from")]
    second: Annotated[Seq | None, Field(alias="to")] = None


class Bundle(Query):
    build: Annotated[Name | None, Field(description="Everything about this build.")] = None
    entries: Annotated[
        str | None,
        Field(pattern=r"^[0-9]{1,18}(,[0-9]{1,18}){0,99}$", description="Some seqs, like 12,15."),
    ] = None
    since: Annotated[
        Seq | None,
        Field(
            description="Size of a checkpoint that you kept: also prove that the ledger goes on."
        ),
    ] = None


def _language(tag: str) -> str:
    """Raises PydanticCustomError for a language that there are no labels of."""
    if tag not in languages():
        said = f"There are no words in this language; there are in: {', '.join(languages())}."
        raise PydanticCustomError("language", "{said}", {"said": said})
    return tag


Language = Annotated[
    Name, AfterValidator(_language), Field(json_schema_extra={"enum": list(languages())})
]


class SheetPage(Query):
    language: Annotated[
        Language | None,
        Field(description="Of the words that are not the record's; else as the browser asks for."),
    ] = None


class SheetPdf(SheetPage):
    paper: Annotated[
        Literal["a4", "letter"] | None,
        Field(description="A4 if left out; Letter where `Accept-Language` begins like en-US."),
    ] = None


Model = TypeVar("Model", bound=Query)


def asked(request: Request, model: type[Model]) -> Model:
    """The request's query, checked. Raises RequestValidationError."""
    return checked(dict(request.query_params), model)


def checked(given: dict[str, str], model: type[Model]) -> Model:
    """A query, checked. Raises RequestValidationError."""
    try:
        return model.model_validate(given)
    except ValidationError as error:
        found = error.errors(include_url=False, include_input=False)
        raise RequestValidationError([{**e, "loc": ("query", *e["loc"])} for e in found]) from None


def name_of(request: Request, what: str) -> str:
    """A name in the address."""
    return str(request.path_params[what])


def seq_of(request: Request) -> int:
    """The ``{seq}`` in the address. Raises RequestValidationError."""
    text = name_of(request, "seq")
    if text.isascii() and text.isdigit() and 1 <= int(text[:20]) <= LARGEST:
        return int(text)
    message = "A sequence number is a whole number from 1 on."
    raise RequestValidationError([{"type": "seq", "loc": ("path", "seq"), "msg": message}])

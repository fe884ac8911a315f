"""Entries of the ledger, and proofs."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field, JsonValue

from api.documents.common import Hex, Moment, Seq, Size


class Entry(BaseModel):
    """A ledger entry in canonical JSON (RFC 8785)."""

    v: Literal[1]
    bench: str
    boot: Annotated[int, Field(ge=1)]
    seq: Seq
    kind: str
    at: Moment
    mono: Annotated[str, Field(pattern="^[0-9]+$")]
    operator: str | None
    body: dict[str, JsonValue]


class Entries(BaseModel):
    entries: list[Entry]
    next: Size


class Inclusion(BaseModel):
    seq: Seq
    leaf_index: Annotated[int, Field(ge=0)]
    tree_size: Seq
    leaf_hash: Hex
    root_hash: Hex
    inclusion_path: list[Hex]
    entry: str


class Consistency(BaseModel):
    first: Seq
    second: Seq
    first_root: Hex
    second_root: Hex
    consistency_path: list[Hex]

"""The fast serialiser against the ``rfc8785`` package (Trail of Bits) as the judge."""

from __future__ import annotations

import json
from typing import Any

import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from capture.ledger.canonical import LARGEST_INTEGER, NotCanonical, decode, encode, encode_checked

ascii_keys = st.text(st.characters(max_codepoint=0x7F), max_size=8)
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
values = st.recursive(
    st.none() | st.booleans() | st.integers(-LARGEST_INTEGER, LARGEST_INTEGER) | texts,
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(ascii_keys, inner, max_size=6),
    max_leaves=25,
)
anything = st.recursive(
    st.none() | st.integers() | st.floats() | st.text(max_size=5) | st.binary(max_size=3),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text(max_size=3) | st.integers(), inner, max_size=3)
    ),
    max_leaves=8,
)


@given(values)
def test_bytes_are_those_of_the_judge(value: Any) -> None:
    assert encode(value) == rfc8785.dumps(value)
    assert encode_checked(value) == encode(value)


@given(values)
def test_writing_and_reading_come_back(value: object) -> None:
    assert decode(encode(value)) == value


@given(values)
def test_another_spelling_of_the_same_value_is_refused(value: object) -> None:
    spaced = json.dumps(value, indent=1).encode()
    if spaced == encode(value):
        return
    try:
        decode(spaced)
    except NotCanonical:
        return
    raise AssertionError(f"accepted {spaced!r}")


@given(anything)
def test_what_passes_the_check_is_what_the_judge_writes(value: Any) -> None:
    try:
        data = encode_checked(value)
    except NotCanonical:
        return
    assert data == rfc8785.dumps(value)


@given(st.binary(max_size=60))
def test_any_bytes_are_a_value_or_an_error(data: bytes) -> None:
    try:
        value = decode(data)
    except NotCanonical:
        return
    assert encode(value) == data

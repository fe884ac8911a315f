from __future__ import annotations

import enum
from decimal import Decimal
from typing import Any

import pytest

from capture.errors import CaptureError
from capture.ledger.canonical import (
    DEEPEST,
    LARGEST_INTEGER,
    NotCanonical,
    decode,
    encode,
    encode_checked,
)


def test_keys_are_sorted_and_nothing_is_added() -> None:
    value = {"seq": 2, "at": None, "body": {"b": [True, False, "é"], "a": {}}}
    assert encode(value) == '{"at":null,"body":{"a":{},"b":[true,false,"é"]},"seq":2}'.encode()


def test_strings_are_escaped_as_the_standard_says() -> None:
    """RFC 8785 §3.2.2.2: short escapes, lower-case hex, everything else as it is."""
    text = '\x00\x08\t\n\x0c\r\x1f\x7f"\\/\u2028\U0001f527'
    assert encode(text) == (
        b'"\\u0000\\b\\t\\n\\f\\r\\u001f\x7f\\"\\\\/' + "\u2028\U0001f527".encode() + b'"'
    )


def test_the_largest_integers_pass_and_the_next_are_refused() -> None:
    assert encode([LARGEST_INTEGER, -LARGEST_INTEGER]) == b"[9007199254740991,-9007199254740991]"
    for beyond in (LARGEST_INTEGER + 1, -LARGEST_INTEGER - 1, 2**70):
        with pytest.raises(NotCanonical, match=r"\$\.body\.n: integer beyond"):
            encode({"body": {"n": beyond}})


@pytest.mark.parametrize(
    ("value", "place"),
    [
        ({"a": [1, 2.0]}, r"\$\.a\[1\]: a float"),
        ({"a": float("nan")}, r"\$\.a: a float"),
        ({"a": Decimal("1.0")}, r"\$\.a: a Decimal"),
        ({"a": b"raw"}, r"\$\.a: a bytes"),
        ({"a": {"é": 1}}, r"\$\.a: key 'é'"),
        ({1: "a"}, r"\$: key 1"),
        ({"a": "\ud800"}, r"\$\.a: text holds half"),
        ({"a": {1, 2}}, r"\$\.a: a set"),
    ],
)
def test_what_an_entry_may_not_hold_is_named_with_its_place(value: object, place: str) -> None:
    with pytest.raises(NotCanonical, match=place) as caught:
        encode_checked(value)
    assert isinstance(caught.value, CaptureError)
    assert isinstance(caught.value, ValueError)


@pytest.mark.parametrize("value", [{"a": Decimal("1")}, {1: "a"}, "\udfff", b"x", 2**53])
def test_the_fast_entrance_refuses_what_the_serialiser_refuses(value: object) -> None:
    with pytest.raises(NotCanonical):
        encode(value)


def test_depth_is_bounded() -> None:
    value: Any = "x"
    for _ in range(DEEPEST):
        value = [value]
    assert decode(encode_checked(value)) == value
    with pytest.raises(NotCanonical, match="deep"):
        encode_checked([value])


def test_word_enumerations_are_written_as_their_words() -> None:
    class Word(enum.StrEnum):
        LEFT = "left"

    assert encode_checked({"side": Word.LEFT}) == b'{"side":"left"}'


@pytest.mark.parametrize(
    "data",
    [
        b'{"b":1,"a":2}',
        b'{"a": 1}',
        b'{"a":1,"a":1}',
        b'{"a":"\\u0041"}',
        b'{"a":1.0}',
        b'{"a":1e0}',
        b'{"a":9007199254740992}',
        b'{"a":-0}',
        '{"é":1}'.encode(),
        b'{"a":1}\n',
        b'{"a":1',
        b'"\xff"',
        b"",
    ],
)
def test_bytes_we_would_not_have_written_are_refused(data: bytes) -> None:
    with pytest.raises(NotCanonical):
        decode(data)


def test_canonical_bytes_are_read() -> None:
    assert decode(b'{"a":[null,-5,"\xc3\xa9"]}') == {"a": [None, -5, "é"]}

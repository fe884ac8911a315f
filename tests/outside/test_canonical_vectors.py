"""RFC 8785 test data of cyberphone/json-canonicalization (Apache-2.0), read from OUTSIDE_DATA.

Entries hold no floats, so the objects are tested where they hold none; those that do must be
refused by the checked entrance. The number rules that concern us (integers up to 2^53 − 1 as
they are) are tested with the vectors' integers, the refusals with the rest.
"""

from __future__ import annotations

import json
import os
import struct
from pathlib import Path
from typing import Any

import pytest
import rfc8785

from capture.ledger.canonical import NotCanonical, encode_checked


@pytest.fixture(scope="module")
def vectors() -> Any:
    folder = os.environ.get("OUTSIDE_DATA")
    if not folder:
        pytest.skip("OUTSIDE_DATA does not name the folder of published test data")
    return json.loads((Path(folder) / "rfc8785_vectors.json").read_text("utf-8"))


def test_objects_without_fractions_are_byte_exact(vectors: Any) -> None:
    """arrays, unicode: as published. structures: its one float (56.0) read as the integer."""
    objects = vectors["objects"]
    for name in ("arrays", "unicode", "structures"):
        value = json.loads(objects[name]["input"], parse_float=lambda text: int(float(text)))
        assert encode_checked(value).hex() == objects[name]["output_hex"], name


def test_strings_and_literals_of_values_are_byte_exact(vectors: Any) -> None:
    """values: its "numbers" are floats, which an entry may not hold; the rest must agree."""
    vector = vectors["objects"]["values"]
    value = json.loads(vector["input"])
    with pytest.raises(NotCanonical, match=r"\$\.numbers\[0\]: a float"):
        encode_checked(value)
    numbers = rfc8785.dumps({"numbers": value.pop("numbers")})[1:-1]
    published = bytes.fromhex(vector["output_hex"])
    assert encode_checked(value) == published.replace(b"," + numbers, b"")


def test_numbers_are_refused_as_floats_and_kept_as_integers(vectors: Any) -> None:
    seen = 0
    for pattern, text in vectors["numbers"]:
        (number,) = struct.unpack(">d", bytes.fromhex(pattern))
        with pytest.raises(NotCanonical):
            encode_checked(number)
        if text is not None and text.isdigit() and int(text) < 2**53:
            assert encode_checked(int(text)) == text.encode()
            seen += 1
    assert seen == 1  # of the published list only 0 is an integer an entry may hold


def test_a_measurement_record() -> None:
    """Own derivation, agreed by the rfc8785 package; decimals are text, as in our entries."""
    record: dict[str, Any] = {"unit": "mm", "value": "87.220", "n": 6, "id": "é", "z": 0}
    expected = '{"id":"é","n":6,"unit":"mm","value":"87.220","z":0}'
    assert encode_checked(record) == expected.encode() == rfc8785.dumps(record)

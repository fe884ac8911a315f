"""The worked example printed with the signed-note format (C2SP signed-note)."""

from __future__ import annotations

import pytest

from capture.ledger import note
from capture.ledger.note import NoteError, Verifier

KEY = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k"
TEXT = "This is an example message.\n"
LINE = (
    "— example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXsYj"
    "OBH3mFXmRKuwHjG1Yu72IneyaQM=\n"
)


def test_the_printed_example_verifies() -> None:
    verifier = Verifier.parse(KEY)
    assert verifier.text == KEY
    assert verifier.key_id.hex() == "530d903a"
    opened = note.parse(f"{TEXT}\n{LINE}")
    assert opened.text == TEXT
    (good,) = note.verify(opened, [verifier])
    assert good.name == "example.com/foo"
    assert note.write(opened.text, opened.signatures) == f"{TEXT}\n{LINE}"


def test_the_printed_example_with_another_text_does_not() -> None:
    opened = note.parse(f"{TEXT.replace('example', 'Example')}\n{LINE}")
    with pytest.raises(NoteError, match="does not fit"):
        note.verify(opened, [Verifier.parse(KEY)])


def test_the_examples_printed_without_their_keys_parse() -> None:
    """The notes at the head of signed-note and tlog-checkpoint; their keys are not printed."""
    verse = (
        "Ognuno sta solo sul cuor della terra\n"
        "trafitto da un raggio di sole:\n\n"
        "ed è subito sera.\n"
    )
    line = (
        "— quasimodo.example/salvatore NnugSzTjtVAewIS+Z/iJhUPeFDkO/5QQ2i5ddnGITLlC+Ehf"
        "LW9oJKONrMouFSQU0xMcXxj99ihAQwaqP3ZekRwNtIc=\n"
    )
    opened = note.parse(f"{verse}\n{line}")
    assert opened.text == verse
    assert opened.signatures[0].name == "quasimodo.example/salvatore"
    assert len(opened.signatures[0].signature) == 64

from __future__ import annotations

import base64

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from capture.ledger import note
from capture.ledger.note import Note, NoteError, Signature, Verifier

TEXT = "first line\n\nlast line — done\n"


class Signer:
    def __init__(self, name: str, number: int) -> None:
        self.private = Ed25519PrivateKey.from_private_bytes(bytes([number]) * 32)
        self.verifier = Verifier(name, self.private.public_key().public_bytes_raw())

    def sign(self, text: str) -> Signature:
        made = self.private.sign(text.encode())
        return Signature(self.verifier.name, self.verifier.key_id, made)


ONE, TWO = Signer("example.org/one", 1), Signer("example.org/two", 2)


def test_a_note_signed_by_two_comes_back() -> None:
    written = note.write(TEXT, [ONE.sign(TEXT), TWO.sign(TEXT)])
    opened = note.parse(written.encode())
    assert opened == Note(TEXT, (ONE.sign(TEXT), TWO.sign(TEXT)))
    assert note.parse(written) == opened
    assert note.verify(opened, [TWO.verifier]) == (TWO.sign(TEXT),)
    assert note.verify(opened, [ONE.verifier, TWO.verifier]) == opened.signatures


def test_unknown_keys_are_ignored_even_where_the_name_or_id_is_known() -> None:
    name_known = Signature("example.org/one", TWO.verifier.key_id, b"x" * 64)
    id_known = Signature("example.org/other", ONE.verifier.key_id, b"x" * 64)
    other_type = Signature("example.org/one", b"\x04abc", b"t" * 72)
    opened = Note(TEXT, (name_known, id_known, other_type, ONE.sign(TEXT)))
    assert note.verify(opened, [ONE.verifier]) == (ONE.sign(TEXT),)


def test_a_note_no_known_key_signed_is_refused() -> None:
    opened = Note(TEXT, (ONE.sign(TEXT),))
    with pytest.raises(NoteError, match="no known key"):
        note.verify(opened, [TWO.verifier])
    with pytest.raises(NoteError, match="no known key"):
        note.verify(opened, [])


def test_one_false_signature_by_a_known_key_refuses_the_note() -> None:
    opened = Note(TEXT, (ONE.sign(TEXT), TWO.sign("another text\n")))
    with pytest.raises(NoteError, match=r"example\.org/two does not fit"):
        note.verify(opened, [ONE.verifier, TWO.verifier])
    assert note.verify(opened, [ONE.verifier])


@pytest.mark.parametrize("length", [0, 1, 63, 65])
def test_a_signature_of_another_length_does_not_verify(length: int) -> None:
    assert not ONE.verifier.verifies(TEXT, b"\0" * length)


GOOD = "text\n\n— example.org/one AAAAAAE=\n"


def test_the_shortest_signature_parses() -> None:
    assert note.parse(GOOD) == Note("text\n", (Signature("example.org/one", bytes(4), b"\x01"),))


@pytest.mark.parametrize(
    ("bad", "why"),
    [
        ("text\n— example.org/one AAAAAAE=\n", "no empty line"),
        ("text\n\n", "newline, or is missing"),
        (GOOD[:-1], "ended by a newline"),
        (GOOD.replace("— ", "- "), "em dash"),
        (GOOD.replace("— ", "—"), "em dash"),
        (GOOD.replace(" AAAAAAE=", ""), "holds no signature"),
        (GOOD.replace("example.org/one", ""), "cannot name a key"),
        (GOOD.replace("example.org/one", "a+b"), "cannot name a key"),
        (GOOD.replace("example.org/one", "a\u00a0b"), "cannot name a key"),
        (GOOD.replace("AAAAAAE=", "AAAAAA=="), "too short"),
        (GOOD.replace("AAAAAAE=", "AAAAAAF="), "proper form"),
        (GOOD.replace("AAAAAAE=", "AAAAAAE"), "not base64"),
        (GOOD.replace("AAAAAAE=", "AAAA-_E="), "not base64"),
        (GOOD.replace("AAAAAAE=", "AAAA AAE="), "not base64"),
        (GOOD.replace("AAAAAAE=", "AAAAAAÉ="), "not base64"),
        (GOOD.replace("text", "te\rxt"), "control character"),
        (GOOD.replace("text", "te\txt"), "control character"),
        (GOOD.replace("text", "te\x00xt"), "control character"),
        (GOOD + "tail\n", "em dash"),
        (GOOD + "\n", "missing"),
        (GOOD + "— example.org/one AAAAAAE=\n" * 100, "more than 100"),
        ("x" * 1_000_001, "refused"),
        ("", "no empty line"),
        ("\ud800" + GOOD, "surrogate"),
    ],
)
def test_every_break_of_the_format_is_refused(bad: str, why: str) -> None:
    with pytest.raises(NoteError, match=why):
        note.parse(bad)


def test_bytes_that_are_not_utf8_are_refused() -> None:
    with pytest.raises(NoteError, match="UTF-8"):
        note.parse(b"te\xffxt" + GOOD[4:].encode())


def test_sixteen_signatures_are_accepted() -> None:
    """signed-note: a reader must accept at least up to 16 signatures."""
    others = [Signature(f"example.org/{n}", b"abcd", b"x" * 4627) for n in range(15)]
    opened = note.parse(note.write(TEXT, [*others, ONE.sign(TEXT)]))
    assert note.verify(opened, [ONE.verifier]) == (ONE.sign(TEXT),)


def test_what_cannot_be_a_note_is_not_written() -> None:
    for text in ("no newline", "bell\x07\n", ""):
        with pytest.raises(NoteError):
            note.write(text, [ONE.sign("x\n")])
    with pytest.raises(NoteError, match="at least one"):
        note.write(TEXT, [])


def test_a_verifier_key_comes_back() -> None:
    assert Verifier.parse(ONE.verifier.text) == ONE.verifier
    name, hex_id, encoded = ONE.verifier.text.split("+", 2)
    assert name == "example.org/one"
    assert bytes.fromhex(hex_id) == ONE.verifier.key_id
    assert base64.b64decode(encoded) == b"\x01" + ONE.verifier.public_key


@pytest.mark.parametrize(
    ("bad", "why"),
    [
        ("example.org/one", "name.id.key"),
        ("example.org/one+00000000+AQ==", "32 bytes"),
        ("example.org/one+00000000+", "type"),
        ("example.org/one+00000000+BAAA", "type"),
        ("example.org/one+00000000+!", "base64"),
        ("exa mple+00000000+" + ONE.verifier.text.split("+", 2)[2], "cannot name"),
        ("example.org/one+00000000+" + ONE.verifier.text.split("+", 2)[2], "does not fit"),
        (ONE.verifier.text.replace("one", "two"), "does not fit"),
    ],
)
def test_a_wrong_verifier_key_is_refused(bad: str, why: str) -> None:
    with pytest.raises(NoteError, match=why):
        Verifier.parse(bad)

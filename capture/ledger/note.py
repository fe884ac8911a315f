"""Signed notes (C2SP signed-note): a text, an empty line, then one line for each signature.

::

    — <key name> <base64 of key id (4 bytes) ‖ signature>

The whole is UTF-8 without control characters but the newline. A key is known by its name and
its id together; the id is the first four bytes of SHA-256(name ‖ 0x0A ‖ type ‖ public key). Only
type 0x01, plain Ed25519 over the text (RFC 8032), is signed and verified here; other types
parse, and are ignored like any other key that is not known.

A *verifier key* is one line of text: name, id in hex, base64 of type ‖ public key, joined by
plus signs.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Final

from capture.errors import CaptureError

ED25519: Final = 0x01
MOST_SIGNATURES: Final = 100
LONGEST: Final = 1_000_000
_DASH: Final = "— "
_KEY_SIZE: Final = 32
_SIGNATURE_SIZE: Final = 64


class NoteError(CaptureError):
    """A note, key or proof text that breaks its format, or that no known key signed."""


@dataclass(frozen=True, slots=True)
class Signature:
    """One signature line: key name, 4-byte key id, signature bytes."""

    name: str
    key_id: bytes
    signature: bytes

    def line(self) -> str:
        """The line as it stands in a note, with its newline."""
        return f"{_DASH}{self.name} {base64_text(self.key_id + self.signature)}\n"


@dataclass(frozen=True, slots=True)
class Note:
    """A parsed note. The text means nothing until ``verify`` has accepted the signatures."""

    text: str
    signatures: tuple[Signature, ...]


@dataclass(frozen=True, slots=True)
class Verifier:
    """An Ed25519 public key (32 bytes) under a name."""

    name: str
    public_key: bytes

    def __post_init__(self) -> None:
        check_name(self.name)
        if len(self.public_key) != _KEY_SIZE:
            raise NoteError(f"an Ed25519 public key has {_KEY_SIZE} bytes")

    @property
    def key_id(self) -> bytes:
        """The four bytes that, with the name, tell this key from others."""
        return key_id(self.name, ED25519, self.public_key)

    @property
    def text(self) -> str:
        """The verifier key as one line, without newline."""
        key = base64_text(bytes([ED25519]) + self.public_key)
        return f"{self.name}+{self.key_id.hex()}+{key}"

    @classmethod
    def parse(cls, text: str) -> Verifier:
        """Read a verifier key; ``NoteError`` says what is wrong with it."""
        parts = text.split("+", 2)
        if len(parts) != 3:
            raise NoteError("a verifier key is name+id+key")
        name, hex_id, encoded = parts
        key = unbase64(encoded, "the verifier key's key")
        if not key or key[0] != ED25519:
            raise NoteError("the verifier key is of a type not known here; Ed25519 is 0x01")
        verifier = cls(name, key[1:])
        if verifier.key_id.hex() != hex_id:
            raise NoteError("the verifier key's id does not fit its name and key")
        return verifier

    def verifies(self, text: str, signature: bytes) -> bool:
        """Whether ``signature`` is this key's over ``text``."""
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

        if len(signature) != _SIGNATURE_SIZE:
            return False
        try:
            Ed25519PublicKey.from_public_bytes(self.public_key).verify(signature, text.encode())
        except (InvalidSignature, ValueError):
            return False
        return True


def key_id(name: str, kind: int, public_key: bytes) -> bytes:
    """First four bytes of SHA-256(name ‖ 0x0A ‖ type byte ‖ public key)."""
    return sha256(name.encode() + b"\n" + bytes([kind]) + public_key).digest()[:4]


def check_name(name: str) -> None:
    """Raise ``NoteError`` unless ``name`` can be a key name."""
    if not name or "+" in name or any(c.isspace() or _is_control(c) for c in name):
        raise NoteError(f"{name!r} cannot name a key: it is empty or holds a space or plus sign")
    _check_characters(name)


def check_text(text: str) -> None:
    """Raise ``NoteError`` unless ``text`` can be the text of a note."""
    if not text.endswith("\n"):
        raise NoteError("a note's text must end in a newline")
    _check_characters(text)


def write(text: str, signatures: Iterable[Signature]) -> str:
    """The whole note. Raises ``NoteError`` where text or signatures break the format."""
    check_text(text)
    lines = [signature.line() for signature in signatures]
    if not lines:
        raise NoteError("a note needs at least one signature")
    return f"{text}\n{''.join(lines)}"


def parse(note: str | bytes) -> Note:
    """Split a note into its text and signatures, verifying nothing.

    Raises ``NoteError`` for every break of the format.
    """
    if len(note) > LONGEST:
        raise NoteError(f"a note of more than {LONGEST} characters is refused")
    if isinstance(note, bytes):
        try:
            note = note.decode()
        except UnicodeDecodeError as error:
            raise NoteError("the note is not UTF-8") from error
    _check_characters(note)
    # The last empty line parts text and signatures; the text may hold others.
    end = note.rfind("\n\n")
    if end < 0:
        raise NoteError("the note has no empty line before its signatures")
    text, tail = note[: end + 1], note[end + 2 :]
    if not tail.endswith("\n"):
        raise NoteError("the note's last line is not ended by a newline, or is missing")
    lines = tail[:-1].split("\n")
    if len(lines) > MOST_SIGNATURES:
        raise NoteError(f"a note with more than {MOST_SIGNATURES} signatures is refused")
    return Note(text, tuple(_parse_line(line) for line in lines))


def verify(note: Note, verifiers: Sequence[Verifier]) -> tuple[Signature, ...]:
    """The signatures made by known keys.

    Signatures by keys not in ``verifiers`` are ignored. Raises ``NoteError`` if one by a known
    key is false, or if none is by a known key.
    """
    known = {(verifier.name, verifier.key_id): verifier for verifier in verifiers}
    good: list[Signature] = []
    for signature in note.signatures:
        verifier = known.get((signature.name, signature.key_id))
        if verifier is None:
            continue
        if not verifier.verifies(note.text, signature.signature):
            raise NoteError(f"the signature by {signature.name} does not fit the text")
        good.append(signature)
    if not good:
        raise NoteError("no known key signed the note")
    return tuple(good)


def _parse_line(line: str) -> Signature:
    if not line.startswith(_DASH):
        raise NoteError("a signature line does not begin with an em dash and a space")
    name, space, encoded = line[len(_DASH) :].partition(" ")
    if not space:
        raise NoteError("a signature line holds no signature")
    check_name(name)
    data = unbase64(encoded, "a signature")
    if len(data) < 5:
        raise NoteError("a signature is too short to hold a key id and a signature")
    return Signature(name, data[:4], data[4:])


def _check_characters(text: str) -> None:
    if any(_is_control(character) and character != "\n" for character in text):
        raise NoteError("a note may hold no control character but the newline")
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise NoteError("the note holds half a surrogate pair") from error


def _is_control(character: str) -> bool:
    return character < " "


def base64_text(data: bytes) -> str:
    return base64.b64encode(data).decode()


def unbase64(text: str, what: str) -> bytes:
    """Strict RFC 4648 §4: padded, no other characters, no stray bits."""
    try:
        data = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError) as error:
        raise NoteError(f"{what} is not base64") from error
    if base64_text(data) != text:
        raise NoteError(f"{what} is not base64 in its one proper form")
    return data

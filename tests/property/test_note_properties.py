from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from capture.ledger import note
from capture.ledger.checkpoint import Checkpoint, Proof
from capture.ledger.note import Note, NoteError, Signature, Verifier

names = st.text(
    st.characters(exclude_categories=["Cs", "Cc", "Zs", "Zl", "Zp"], exclude_characters="+"),
    min_size=1,
    max_size=12,
)
lines = st.text(st.characters(exclude_categories=["Cs"], min_codepoint=0x20), max_size=12)
texts = st.lists(lines, min_size=1, max_size=4).map(lambda parts: "\n".join(parts) + "\n")
signatures = st.builds(
    Signature,
    name=names,
    key_id=st.binary(min_size=4, max_size=4),
    signature=st.binary(min_size=1, max_size=80),
)
hashes = st.binary(min_size=32, max_size=32)
notes = st.tuples(texts, st.lists(signatures, min_size=1, max_size=3))


@given(notes)
def test_a_written_note_parses_to_what_was_written(made: tuple[str, list[Signature]]) -> None:
    text, signed = made
    assert note.parse(note.write(text, signed)) == Note(text, tuple(signed))


@given(st.binary(max_size=200) | notes.map(lambda made: note.write(*made).encode()), st.data())
def test_any_bytes_are_a_note_or_an_error(data: bytes, draw: st.DataObject) -> None:
    if data:
        at = draw.draw(st.integers(0, len(data) - 1))
        data = data[:at] + draw.draw(st.binary(max_size=2)) + data[at + 1 :]
    try:
        opened = note.parse(data)
    except NoteError:
        return
    assert note.write(opened.text, opened.signatures).encode() == data


@given(st.text(max_size=60))
def test_any_text_is_a_verifier_key_or_an_error(text: str) -> None:
    try:
        assert Verifier.parse(text).text == text
    except NoteError:
        return


@given(st.integers(0, 2**63 - 1), hashes, names)
def test_a_checkpoint_comes_back(size: int, root: bytes, origin: str) -> None:
    head = Checkpoint(origin, size, root)
    assert Checkpoint.parse(head.text()) == head


@given(
    st.integers(0, 2**63 - 1),
    st.lists(hashes, max_size=5),
    st.none() | st.binary(max_size=20),
    notes,
)
def test_a_proof_comes_back(
    index: int, path: list[bytes], extra: bytes | None, made: tuple[str, list[Signature]]
) -> None:
    proof = Proof(index, tuple(path), note.write(*made), extra)
    assert Proof.parse(proof.text()) == proof


@given(st.text(max_size=80))
def test_any_text_is_a_proof_or_an_error(text: str) -> None:
    for candidate in (text, "c2sp.org/tlog-proof@v1\n" + text):
        try:
            assert Proof.parse(candidate).text() == candidate
        except NoteError:
            continue


@given(st.text(max_size=80))
def test_any_text_is_a_checkpoint_or_an_error(text: str) -> None:
    try:
        head = Checkpoint.parse(text)
    except NoteError:
        return
    assert text.startswith(head.text())

from __future__ import annotations

from pathlib import Path

import pytest

from capture.ledger import note, tree
from capture.ledger.checkpoint import Checkpoint, Proof, open_checkpoint, open_checkpoint_text
from capture.ledger.keys import BenchKey, create
from capture.ledger.note import NoteError

ROOT = bytes(range(32))
ENTRIES = [b"entry %d" % n for n in range(11)]
LEAVES = [tree.leaf_hash(entry) for entry in ENTRIES]


class Held:
    def leaf_hashes(self, start: int, stop: int) -> list[bytes]:
        return LEAVES[start:stop]

    def node(self, level: int, index: int) -> bytes:
        raise AssertionError("a tree of eleven leaves has no stored nodes")


@pytest.fixture
def key(tmp_path: Path) -> BenchKey:
    return create(tmp_path / "bench.key")


def _proof(key: BenchKey, index: int, size: int = 11) -> Proof:
    head = Checkpoint(key.origin, size, tree.root_of(LEAVES[:size]))
    path = tree.inclusion_proof(index, size, Held())
    return Proof(index, tuple(path), key.sign(head.text()))


def test_the_text_is_three_lines() -> None:
    """tlog-checkpoint: origin, decimal size, base64 of the root, each ended by a newline."""
    head = Checkpoint("witnessmark/0123456789abcdef", 20852163, ROOT)
    assert head.text() == (
        "witnessmark/0123456789abcdef\n20852163\nAAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=\n"
    )
    assert Checkpoint.parse(head.text()) == head


def test_extension_lines_are_read_over() -> None:
    head = Checkpoint("example.org/log", 0, ROOT)
    assert Checkpoint.parse(head.text() + "something else\n") == head


@pytest.mark.parametrize(
    "text",
    [
        "",
        "o\n1\n",
        "o\n1\nAAEC\n",
        "o\n01\nAAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=\n",
        "o\n-1\nAAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=\n",
        "o\n1_0\nAAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=\n",
        "o\n²\nAAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=\n",
        "o\n١\nAAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=\n",
        "o\n99999999999999999999\nAAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=\n",
        "o\n1\nAAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8\n",
        "o\n1\nAAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=",
        "o\n1\nAAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=\n\n",
        "\n1\nAAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=\n",
    ],
)
def test_a_malformed_checkpoint_is_refused(text: str) -> None:
    with pytest.raises(NoteError):
        Checkpoint.parse(text)


def test_impossible_checkpoints_are_not_made() -> None:
    for origin, size, root in [("", 1, ROOT), ("a\nb", 1, ROOT), ("a", -1, ROOT), ("a", 1, b"")]:
        with pytest.raises(NoteError):
            Checkpoint(origin, size, root)


def test_a_signed_checkpoint_opens_for_who_knows_the_key(key: BenchKey, tmp_path: Path) -> None:
    head = Checkpoint(key.origin, 3, ROOT)
    signed = key.sign(head.text())
    assert open_checkpoint(signed, [key.verifier])[0] == head
    assert open_checkpoint_text(signed) == (head, note.parse(signed))
    stranger = create(tmp_path / "other.key")
    with pytest.raises(NoteError, match="no known key"):
        open_checkpoint(signed, [stranger.verifier])


def test_a_witness_alone_does_not_speak_for_the_log(key: BenchKey) -> None:
    signed = key.sign(Checkpoint("witnessmark/another", 3, ROOT).text())
    with pytest.raises(NoteError, match="witnessmark/another did not sign"):
        open_checkpoint(signed, [key.verifier])


def test_one_changed_character_is_found(key: BenchKey) -> None:
    signed = key.sign(Checkpoint(key.origin, 3, ROOT).text())
    with pytest.raises(NoteError):
        open_checkpoint(signed.replace("\n3\n", "\n4\n"), [key.verifier])


def test_a_proof_file_reads_as_the_format_says(key: BenchKey) -> None:
    proof = _proof(key, 9, 11)
    lines = proof.text().split("\n")
    assert lines[:2] == ["c2sp.org/tlog-proof@v1", "index 9"]
    assert lines[2:5] == [note.base64_text(value) for value in proof.path]
    assert len(proof.path) == 3
    assert lines[5] == ""
    assert "\n".join(lines[6:]) == proof.checkpoint
    assert Proof.parse(proof.text()) == proof


def test_every_entry_can_be_proved_and_no_other(key: BenchKey) -> None:
    for size in (1, 2, 7, 8, 11):
        for index in range(size):
            proof = Proof.parse(_proof(key, index, size).text())
            assert proof.verify(ENTRIES[index], [key.verifier]).size == size
            with pytest.raises(NoteError, match=f"not leaf {index}"):
                proof.verify(b"another entry", [key.verifier])


def test_extra_data_is_carried_but_not_trusted(key: BenchKey) -> None:
    plain = _proof(key, 0, 1)
    assert plain.path == ()
    extra = Proof(0, (), plain.checkpoint, b"seq 1")
    assert extra.text().split("\n")[1] == "extra c2VxIDE="
    assert Proof.parse(extra.text()) == extra
    assert extra.verify(ENTRIES[0], [key.verifier]).size == 1


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (("@v1", "@v2"), "begins with the line"),
        (("index 5", "inde 5"), "which index"),
        (("index 5", "index 05"), "leading zeros"),
        (("index 5", "index 5\nAAAA"), "32 bytes"),
        (("index 5", "index 5\n!"), "base64"),
        (("index 5", "extra !\nindex 5"), "base64"),
        (("index 5", "index 5" + "\n" + note.base64_text(ROOT)), "not leaf 5"),
        (("index 5", "index 6"), "not leaf 6"),
        (("index 5", "index 5" + ("\n" + note.base64_text(ROOT)) * 65), "more than 64"),
        (("\n\nwitnessmark", "\nwitnessmark"), "32 bytes"),
        (("\n\nwitnessmark", "\n\n\nwitnessmark"), "does not fit"),
    ],
)
def test_a_broken_proof_is_refused(key: BenchKey, change: tuple[str, str], why: str) -> None:
    text = _proof(key, 5).text()
    assert change[0] in text
    with pytest.raises(NoteError, match=why):
        Proof.parse(text.replace(*change)).verify(ENTRIES[5], [key.verifier])


def test_a_proof_without_a_checkpoint_is_refused(key: BenchKey) -> None:
    with pytest.raises(NoteError, match="no checkpoint"):
        Proof.parse("c2sp.org/tlog-proof@v1\nindex 0\n")

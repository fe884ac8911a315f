from __future__ import annotations

import os
import shutil
import stat
import subprocess
import sys
from hashlib import sha256
from pathlib import Path

import pytest

from capture.errors import StoreDamaged, StoreError
from capture.ledger import keys, note
from capture.ledger.keys import create, load, load_or_create


def test_the_identity_comes_from_the_public_key(tmp_path: Path) -> None:
    key = create(tmp_path / "bench.key")
    assert key.bench_id == sha256(key.verifier.public_key).hexdigest()[:16]
    assert key.origin == key.verifier.name == f"witnessmark/{key.bench_id}"


def test_a_key_is_made_once_and_read_again(tmp_path: Path) -> None:
    path = tmp_path / "bench.key"
    first = load_or_create(path)
    content = path.read_bytes()
    assert load_or_create(path) == load(path) == first
    assert path.read_bytes() == content
    assert os.listdir(tmp_path) == ["bench.key"]


def test_two_benches_differ(tmp_path: Path) -> None:
    assert create(tmp_path / "a").bench_id != create(tmp_path / "b").bench_id


@pytest.mark.skipif(os.name == "nt", reason="file modes are a POSIX matter")
def test_only_the_owner_can_read_it_whatever_the_umask(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        create(tmp_path / "bench.key")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "bench.key").stat().st_mode) == 0o600


def test_a_key_is_never_replaced(tmp_path: Path) -> None:
    path = tmp_path / "bench.key"
    create(path)
    content = path.read_bytes()
    with pytest.raises(StoreError, match="cannot be made"):
        create(path)
    assert path.read_bytes() == content
    assert os.listdir(tmp_path) == ["bench.key"]


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match=r"nowhere.*cannot be made"):
        create(tmp_path / "nowhere" / "bench.key")
    with pytest.raises(StoreError, match=r"bench\.key.*cannot be read"):
        load(tmp_path / "bench.key")


def test_what_it_signs_verifies(tmp_path: Path) -> None:
    path = tmp_path / "bench.key"
    create(path)
    key = load(path)
    opened = note.parse(key.sign("a text\n"))
    assert opened.text == "a text\n"
    assert [s.name for s in note.verify(opened, [key.verifier])] == [key.origin]


def test_a_private_key_swapped_under_its_line_is_found(tmp_path: Path) -> None:
    mine, other = tmp_path / "mine", tmp_path / "other"
    create(mine)
    create(other)
    first_line = mine.read_text().split("\n", 1)[0]
    mine.write_text(first_line + "\n" + other.read_text().split("\n", 1)[1])
    with pytest.raises(StoreDamaged, match="does not fit"):
        load(mine).sign("a text\n")


@pytest.mark.parametrize("cut", [0, 10, 70, 120, 180])
def test_a_cut_key_file_is_refused(tmp_path: Path, cut: int) -> None:
    path = tmp_path / "bench.key"
    create(path)
    whole = path.read_bytes()
    assert len(whole) > 200
    path.write_bytes(whole[:cut])
    with pytest.raises(StoreDamaged):
        load(path).sign("a text\n")


def test_a_name_that_does_not_fit_the_key_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bench.key"
    key = create(path)
    named = note.Verifier("witnessmark/0000000000000000", key.verifier.public_key)
    path.write_text(path.read_text().replace(key.verifier.text, named.text))
    with pytest.raises(StoreDamaged, match="not a bench"):
        load(path)


def test_bytes_that_are_no_text_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "bench.key"
    path.write_bytes(b"\xff\x00\xfe" * 30)
    with pytest.raises(StoreDamaged, match="not a bench"):
        load(path)


def test_a_key_of_another_kind_is_refused(tmp_path: Path) -> None:
    from cryptography.hazmat.primitives import serialization as form
    from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey

    path = tmp_path / "bench.key"
    key = create(path)
    pem = X25519PrivateKey.generate().private_bytes(
        form.Encoding.PEM, form.PrivateFormat.PKCS8, form.NoEncryption()
    )
    path.write_bytes(key.verifier.text.encode() + b"\n" + pem)
    with pytest.raises(StoreDamaged, match="not an Ed25519"):
        load(path).sign("a text\n")


def test_reading_the_identity_does_not_load_the_cryptography(tmp_path: Path) -> None:
    path = tmp_path / "bench.key"
    key = create(path)
    program = (
        "import sys, pathlib\n"
        "from capture.ledger import checkpoint, keys\n"
        "print(keys.load(pathlib.Path(sys.argv[1])).bench_id)\n"
        "print('cryptography' in sys.modules)\n"
    )
    root = Path(keys.__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", program, str(path)],
        capture_output=True, text=True, cwd=root, timeout=60, check=True,
    )  # fmt: skip
    assert done.stdout.split() == [key.bench_id, "False"]


def test_stock_tools_read_the_key_and_verify_the_signature(tmp_path: Path) -> None:
    """OpenSSL as an outside judge of the PEM file and of RFC 8032's signature."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("no openssl command on this machine")
    path, text, made = tmp_path / "bench.key", tmp_path / "text", tmp_path / "signature"
    key = create(path)
    der = subprocess.run(
        [openssl, "pkey", "-in", str(path), "-pubout", "-outform", "DER"],
        capture_output=True, timeout=60, check=True,
    ).stdout  # fmt: skip
    assert der.endswith(key.verifier.public_key)
    text.write_bytes("a text — signed\n".encode())
    opened = note.parse(key.sign("a text — signed\n"))
    made.write_bytes(opened.signatures[0].signature)
    verify = [openssl, "pkeyutl", "-verify", "-rawin", "-inkey", str(path)]
    verify += ["-in", str(text), "-sigfile", str(made)]
    done = subprocess.run(verify, capture_output=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    text.write_bytes(b"another text\n")
    assert subprocess.run(verify, capture_output=True, timeout=60, check=False).returncode != 0

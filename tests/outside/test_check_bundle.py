"""The program that travels in a bundle against published proofs and a published signed note.

Sources: transparency-dev/merkle testdata (Apache-2.0), read from the folder OUTSIDE_DATA names; the
worked example printed in C2SP signed-note.
"""

from __future__ import annotations

import base64
import importlib.util
import json
import os
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

SCRIPT = Path(__file__).parents[2] / "capture/takehome/check_bundle.py"


@pytest.fixture(scope="module")
def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("check_bundle", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def vectors() -> Any:
    folder = os.environ.get("OUTSIDE_DATA")
    if not folder:
        pytest.skip("OUTSIDE_DATA does not name the folder of published test data")
    return json.loads((Path(folder) / "rfc6962_vectors.json").read_text("utf-8"))


def _hashes(proof: list[str] | None) -> list[bytes]:
    return [base64.b64decode(value) for value in proof or []]


def test_published_inclusion_proofs(script: ModuleType, vectors: Any) -> None:
    """It accepts exactly those that shall be accepted; a path of the wrong length is an error."""
    for vector in vectors["inclusion"]:
        index, size = vector["leafIdx"], vector["treeSize"]
        leaf, root = base64.b64decode(vector["leafHash"]), base64.b64decode(vector["root"])
        try:
            accepted = index < size and script.includes(
                leaf, index, size, _hashes(vector["proof"]), root
            )
        except ValueError:
            accepted = False
        assert accepted != vector["wantErr"], vector["desc"]


def test_published_consistency_proofs(script: ModuleType, vectors: Any) -> None:
    for vector in vectors["consistency"]:
        first, size = vector["size1"], vector["size2"]
        roots = [base64.b64decode(vector[name]) for name in ("root1", "root2")]
        try:
            accepted = first <= size and script.continues(
                first, roots[0], size, roots[1], _hashes(vector["proof"])
            )
        except (ValueError, LookupError):
            accepted = False
        assert accepted != vector["wantErr"], vector["desc"]


def test_a_second_implementation_agrees(script: ModuleType) -> None:
    """pymerkle: every inclusion and consistency proof in trees of up to 40 leaves."""
    from pymerkle import InmemoryTree

    judge = InmemoryTree(algorithm="sha256")
    judge.append_entries([b"entry %d" % number for number in range(40)])
    for size in range(1, 41):
        root = judge.get_root(size)
        for index in range(size):
            # the judge counts leaves from one and puts the leaf itself before its path
            leaf, *path = judge.prove_inclusion(index + 1, size).path
            assert script.includes(leaf, index, size, path, root)
            wrong = [*path[:-1], bytes(32)]
            if path:
                assert not script.includes(leaf, index, size, wrong, root)


def test_the_printed_signed_note(script: ModuleType) -> None:
    """C2SP signed-note: its worked example verifies, and not with a letter changed.

    Its text is no checkpoint, so what comes after the signature was accepted is an error.
    """
    key = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k"
    text = "This is an example message.\n"
    line = (
        "\u2014 example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXs"
        "YjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n"
    )
    with pytest.raises(ValueError, match="not enough values"):
        script.opened(f"{text}\n{line}", key)
    with pytest.raises(script.InvalidSignature):
        script.opened(f"{text.replace('T', 't')}\n{line}", key)
    with pytest.raises(ValueError, match="its id is not its own"):
        script.opened(f"{text}\n{line}", key.replace("530d", "530e"))

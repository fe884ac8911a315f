"""Properties of loading a spec: any bytes give a spec or a SpecError, and nothing else."""

from __future__ import annotations

import hashlib
import re
import tomllib
from decimal import Decimal
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from capture.errors import Problem, SpecError
from capture.spec.cycle import cycles
from capture.spec.lines import line_of, lines
from capture.spec.load import load, step_count, warnings
from capture.spec.model import Limits
from capture.spec.plausible import silent

ENGINE = Path(__file__).parents[2] / "simulators/scenarios/inline-four/engine.toml"
GOOD = ENGINE.read_bytes()
PIECES = re.findall(rb"[A-Za-z_]+|\"[^\"\n]*\"|\[\[?[a-z_.]+\]\]?|.|\n", GOOD)
DRAWN = settings(max_examples=150, deadline=None)


def loads_or_explains(data: bytes) -> None:
    problems: tuple[Problem, ...] = ()
    spec = None
    try:
        spec = load(data, "any.toml")
    except SpecError as error:
        problems = error.problems
    if spec is not None:
        assert spec.hash == hashlib.sha256(data).hexdigest()
        assert spec.text.encode() == data
        assert all(step_count(spec, index) >= 1 for index in range(len(spec.operations)))
        warnings(spec)
        return
    assert problems
    bottom = data.count(b"\n") + 1
    for problem in problems:
        assert problem.file == "any.toml"
        assert 1 <= problem.line <= bottom
        assert problem.key
        assert problem.message
        assert problem.mend


@DRAWN
@given(st.binary(max_size=200))
def test_any_bytes(data: bytes) -> None:
    loads_or_explains(data)


@DRAWN
@given(st.text(max_size=200))
def test_any_text(text: str) -> None:
    loads_or_explains(text.encode("utf-8", "surrogatepass"))


@DRAWN
@given(st.lists(st.sampled_from(PIECES), max_size=60))
def test_any_mixture_of_pieces_of_a_spec(pieces: list[bytes]) -> None:
    loads_or_explains(b" ".join(pieces))


@DRAWN
@given(
    st.lists(
        st.tuples(st.integers(0, len(PIECES) - 1), st.sampled_from(PIECES) | st.binary(max_size=4)),
        min_size=1,
        max_size=3,
    )
)
def test_a_good_spec_with_a_few_pieces_exchanged(changes: list[tuple[int, bytes]]) -> None:
    pieces = list(PIECES)
    for place, piece in changes:
        pieces[place] = piece
    loads_or_explains(b"".join(pieces))


VALUES = st.recursive(
    st.one_of(
        st.integers(),
        st.booleans(),
        st.text(max_size=8),
        st.decimals(allow_nan=False, allow_infinity=False),
        st.sampled_from(["mm", "N·m", "bore", "1.5", "inf", "nan", "1979-05-27", "mean"]),
    ),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=6,
)


def toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return (
            '"' + "".join(f"\\U{ord(c):08x}" for c in value if not 0xD800 <= ord(c) < 0xE000) + '"'
        )
    if isinstance(value, list):
        return "[" + ", ".join(toml(one) for one in value) + "]"
    if isinstance(value, Decimal):
        return f"{value.scaleb(0):e}".replace("E", "e") if value else "0.0"
    return str(value)


@DRAWN
@given(st.data())
def test_any_value_at_any_key(data: st.DataObject) -> None:
    """A value of any type where another stands never escapes as something but a SpecError."""
    rows = GOOD.decode().split("\n")
    assigned = [place for place, row in enumerate(rows) if re.match(r"\s*[a-z_]+ = [^\[{\"]*", row)]
    place = data.draw(st.sampled_from(assigned))
    key = rows[place].split("=")[0]
    text = "\n".join([*rows[:place], f"{key}= {toml(data.draw(VALUES))}", *rows[place + 1 :]])
    loads_or_explains(text.encode())


@DRAWN
@given(st.lists(st.lists(st.sampled_from("abcd"), max_size=4), max_size=4))
def test_every_key_that_toml_finds_has_its_line(content: list[list[str]]) -> None:
    """The scanner against tomllib: a marker in every string says on which line it stands."""
    rows = ['# [[t]] "', "title = '''one"]
    rows += ["[[t]] \" = 1''' # '"]
    for index, words in enumerate(content):
        rows += [f"[[t]] # {index}", 'note = """', "x = 1 \\", '"""']
        for number, word in enumerate(words):
            rows.append(f'"{word}.{number}"."q" = {{ at = "{len(rows) + 1}", l = [')
            rows.append(f'   # ] }}\n  "{len(rows) + 2}", {{ z = "{len(rows) + 2}" }} ] }}')
            rows = "\n".join(rows).split("\n")
    text = "\n".join(rows)
    found = lines(text)

    def visit(value: object, path: tuple[str | int, ...]) -> None:
        if isinstance(value, dict):
            for key, inner in value.items():
                visit(inner, (*path, key))
        elif isinstance(value, list):
            for index, inner in enumerate(value):
                visit(inner, (*path, index))
        elif isinstance(value, str) and value.isdigit():
            assert found[path] == int(value), path

    document = tomllib.loads(text)
    visit(document, ())
    for index in range(len(document.get("t", []))):
        assert text.split("\n")[line_of(("t", index, "missing"), found) - 1] == f"[[t]] # {index}"


AMOUNTS = st.decimals("0.001", "1000", places=3)


@DRAWN
@given(AMOUNTS, st.decimals("0", "50", places=3), st.sampled_from(["mm", "in", "N·m", "lbf·ft"]))
def test_a_band_contains_its_limits_and_no_mistaken_unit(
    lower: Decimal, tolerance: Decimal, unit: str
) -> None:
    upper = lower + tolerance
    band = silent(Limits(lower, upper), unit)
    slip = Decimal("25.4") if unit in ("mm", "in") else Decimal("1.3558179483314004")

    assert band.lower is not None
    assert band.upper is not None
    assert 0 <= band.lower <= lower <= upper <= band.upper
    # half-way is rounded to four digits, so stay that far from where it stops to matter
    if lower * slip > upper * Decimal("1.01"):
        assert upper / slip < band.lower
        assert band.upper < lower * slip


@DRAWN
@given(st.dictionaries(st.integers(0, 9), st.sets(st.integers(0, 9), max_size=3), max_size=10))
def test_circles_are_the_nodes_that_reach_themselves(edges: dict[int, set[int]]) -> None:
    """Against reachability, worked out by repeated steps."""
    graph = {str(a): [str(b) for b in sorted(found) if b in edges] for a, found in edges.items()}
    reach = {node: set(after) for node, after in graph.items()}
    for _ in graph:
        for seen in reach.values():
            for node in list(seen):
                seen.update(reach[node])
    groups = cycles(graph)

    assert sorted(node for group in groups for node in group) == sorted(
        node for node in graph if node in reach[node]
    )
    for group in groups:
        for node in group:
            assert set(group) == {o for o in graph if o in reach[node] and node in reach[o]}

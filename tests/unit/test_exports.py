"""Readings as files: CSV, JSON Lines, Parquet, and which readings are chosen."""

from __future__ import annotations

import csv
import gc
import io
import json
import tracemalloc
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import httpx
import orjson
import pytest

from capture.archive import Archive
from capture.errors import NotFound, RequestError
from capture.exports import chosen, comma, parquet
from capture.exports.columns import COLUMNS, DECIMAL, Sort, row
from capture.exports.formats import FORMATS, written
from capture.exports.grounds import Kept
from capture.ledger.search import Filters
from tests.exported import MOMENT, Told, file, objected, reading
from tests.running import SPEC
from tests.served import run, served

pytestmark = pytest.mark.timeout(120)


def table(data: bytes) -> list[dict[str, str]]:
    """A CSV file as the standard library reads it."""
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))


# CSV ------------------------------------------------------------------------------------------


def test_a_row_says_what_the_reading_says() -> None:
    (found,) = table(file("csv", [reading(12, because="It was cylinder 1.", operator="A. B.")]))
    assert found == {
        "seq": "12",
        "received_at": "2026-01-31T08:00:00.000012Z",
        "build": "b5",
        "kind": "measure",
        "part": "sleeve",
        "number": "1",
        "piece": "sleeve-1",
        "characteristic": "diameter",
        "point": "top",
        "pass": "1",
        "repeat": "1",
        "instrument": "mic-1",
        "raw": "32352e303031",
        "value": "25.001",
        "unit": "mm",
        "measured": "25.001",
        "measured_exact": "",
        "this_repeat": "",
        "measured_unit": "mm",
        "verdict": "conforming",
        "lower": "24.990",
        "upper": "25.010",
        "expanded_uncertainty": "0.0023",
        "coverage_factor": "2",
        "rule": "guarded",
        "guard_band": "0.0023",
        "notes": "",
        "simulated": "false",
        "typed": "false",
        "void": "false",
        "corrected": "",
        "corrected_unit": "",
        "not_placed": "",
        "reason": "It was cylinder 1.",
        "operator": "A. B.",
        "decided_by": "rule",
        "decision_seq": "13",
    }


def test_void_and_corrected_are_told_with_their_reason() -> None:
    void, corrected = table(
        file(
            "csv",
            [
                objected("void", "The gauge slipped.", decided_by="person"),
                reading(
                    20,
                    corrected={"digits": "25.01", "unit": "mm"},
                    because="Misread by one division.",
                    verdict={"measured": "25.01"},
                ),
            ],
        )
    )
    assert (void["void"], void["not_placed"], void["reason"]) == (
        "true",
        "void",
        "The gauge slipped.",
    )
    assert (void["verdict"], void["measured"], void["build"]) == ("not_evaluated", "", "")
    assert void["value"] == "25.001"
    assert (corrected["value"], corrected["corrected"], corrected["measured"]) == (
        "25.001",
        "25.01",
        "25.01",
    )
    assert (corrected["void"], corrected["reason"]) == ("false", "Misread by one division.")


@pytest.mark.parametrize(
    "text",
    [
        "=1+1",
        '=HYPERLINK("http://invented.invalid","click")',
        "+1",
        "-1+1",
        "@SUM(A1)",
        "\t=1+1",
        "\r=1+1",
        "  =1+1",
        "\n=1+1",
        "＝1+1",
        "＋1",
        "－1",
        "＠A1",
        "'=1+1",
        "'",
    ],
)
def test_no_cell_of_text_starts_a_formula(text: str) -> None:
    placement = {"piece": text, "point": text}
    (found,) = table(file("csv", [reading(operator=text, because=text, placement=placement)]))
    for name in ("piece", "point", "operator", "reason"):
        assert found[name] == f"'{text}"
        assert comma.original(found[name]) == text


def test_numbers_stay_numbers_and_what_is_no_number_does_not_pass_for_one() -> None:
    below = reading(value="-0.0050", verdict={"measured": "-0.0050", "lower": "-1"})
    false = reading(value="-1+cmd", verdict={"lower": "=1"})
    first, second = table(file("csv", [below, false]))
    assert (first["value"], first["measured"], first["lower"]) == ("-0.0050", "-0.0050", "-1")
    assert (second["value"], second["lower"]) == ("'-1+cmd", "'=1")


@pytest.mark.parametrize("text", ['a,"b"\r\nc', "a\rb", "a\nb", '"', ",", "ä µ ° 汉", "\x00"])
def test_commas_quotes_and_line_ends_come_back(text: str) -> None:
    found = table(file("csv", [reading(operator=text), reading(14)]))
    assert [found[0]["operator"], found[0]["decision_seq"]] == [text, "11"]
    assert found[1]["seq"] == "14"


def test_of_repeats_the_mean_and_the_own_value_are_told_apart() -> None:
    mean = {"measured": "25.0003333333", "measured_exact": "75001/3000", "this": "25.001"}
    (found,) = table(file("csv", [reading(verdict=mean)]))
    assert found["measured"] == "25.0003333333"
    assert found["measured_exact"] == "75001/3000"
    assert found["this_repeat"] == found["value"] == "25.001"


def test_every_line_ends_as_rfc_4180_has_it() -> None:
    data = file("csv", [reading(), reading(12)])
    assert data.count(b"\r\n") == 3
    assert data.endswith(b"\r\n")
    assert b"\n" not in data.replace(b"\r\n", b"")


def test_no_readings_are_a_file_with_names_only() -> None:
    assert file("csv", []).decode().strip().split(",") == [name for name, _ in COLUMNS]
    assert file("jsonl", []) == b""


# Parquet --------------------------------------------------------------------------------------


def read_parquet(data: bytes) -> Any:
    pytest.importorskip("pyarrow", reason="Parquet is an extra")
    from pyarrow.parquet import read_table

    return read_table(io.BytesIO(data))


def test_parquet_keeps_digits_and_gives_floats_beside_them() -> None:
    pytest.importorskip("pyarrow", reason="Parquet is an extra")
    exact = "85.99513334280000001"
    given = [reading(verdict={"measured": exact, "upper": None}), objected("void", "Slipped.", 14)]
    found = read_parquet(file("parquet", given))
    assert found.column("measured").to_pylist() == [exact, None]
    assert found.column("measured_float").to_pylist() == [float(exact), None]
    assert found.column("upper").to_pylist() == [None, None]
    assert found.column("seq").to_pylist() == [10, 14]
    assert found.column("void").to_pylist() == [False, True]
    assert found.column("received_at").to_pylist()[0].isoformat() == (
        "2026-01-31T08:00:00.000010+00:00"
    )
    types = {field.name: str(field.type) for field in found.schema}
    assert types["measured"] == "string"
    assert types["measured_float"] == "double"
    assert types["received_at"] == "timestamp[us, tz=UTC]"


def test_parquet_has_the_columns_of_the_csv_with_the_same_cells() -> None:
    pytest.importorskip("pyarrow", reason="Parquet is an extra")
    given = [reading(seq, operator=f"=A{seq}", typed=seq % 3 == 0) for seq in range(10, 60, 2)]
    found = read_parquet(file("parquet", given)).to_pylist()
    assert [comma.cell(found[at]["operator"], Sort.TEXT) for at in range(25)] == [
        one["operator"] for one in table(file("csv", given))
    ]
    for name, sort in COLUMNS:
        if sort is not Sort.MOMENT:
            assert [one[name] for one in found] == [row(one)[name] for one in given], name


def test_parquet_is_written_in_row_groups(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("pyarrow", reason="Parquet is an extra")
    from pyarrow.parquet import ParquetFile

    monkeypatch.setattr(parquet, "ROWS", 4)
    data = file("parquet", [reading(seq) for seq in range(10, 30, 2)])
    assert ParquetFile(io.BytesIO(data)).metadata.num_row_groups == 3
    assert read_parquet(data).num_rows == 10
    assert read_parquet(file("parquet", [])).num_rows == 0


def test_without_the_library_parquet_says_how_to_mend_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(RequestError) as caught:
        written("parquet", iter(()), Told(), MOMENT)
    assert "pyarrow is not installed" in str(caught.value)
    assert "witnessmark[parquet]" in caught.value.mend


# all of them ----------------------------------------------------------------------------------


def peak(form: str, many: int) -> int:
    """Bytes in use at the most while a file of so many readings is written."""
    items: Iterator[bytes] = (orjson.dumps(reading(2 * at + 2)) for at in range(many))
    gc.collect()
    tracemalloc.start()
    for _ in written(form, items, Told(), MOMENT):
        pass
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return most


@pytest.mark.parametrize("form", ["csv", "jsonl", "qif"])
def test_memory_does_not_grow_with_the_readings(form: str) -> None:
    peak(form, 10)  # what is imported and cached once
    few, many = peak(form, 200), peak(form, 2000)
    assert many < few + 300_000, (few, many)


# of a store -----------------------------------------------------------------------------------


class Known:
    """What a bench with a small history knew, asked over HTTP before it stopped."""

    def __init__(
        self,
        folder: Path,
        readings: list[dict[str, Any]],
        of_the_build: list[int],
        files: dict[str, Any],
    ) -> None:
        self.store = folder / "store"
        self.readings = readings
        self.of_the_build = of_the_build
        self.files = files


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Known:
    folder = tmp_path_factory.mktemp("small")
    with served(folder) as up, httpx.Client(base_url=up["url"], timeout=30) as http:
        digest = http.post("/v1/specs", content=SPEC.encode()).raise_for_status().json()["id"]
        http.post("/v1/builds", json={"spec": digest, "title": "=1+1"}).raise_for_status()
        for value in ("25.000", "25.009", "25.020"):
            body = {"instrument": "mic-1", "value": value, "unit": "mm", "operator": "@first"}
            made = http.post("/v1/readings", json=body).raise_for_status().json()
        reason = {"reason": '=The anvil, "dirty"'}
        http.post(f"/v1/readings/{made['seq']}/voids", json=reason).raise_for_status()
        body = {"instrument": "bore-1", "value": "-0.004", "unit": "mm"}
        http.post("/v1/readings", json=body).raise_for_status()
        readings = http.get("/v1/readings").json()["readings"]
        middle = readings[1]["received_at"]
        build = readings[0]["placement"]["build"]
        paged = http.get("/v1/readings", params={"build": build}).json()["readings"]
        assert paged
        files = {
            **{form: http.get("/v1/exports/readings", params={"as": form}) for form in FORMATS},
            "of bore-1": http.get("/v1/exports/readings?as=csv&instrument=bore-1"),
            "since": http.get("/v1/exports/readings", params={"as": "csv", "since": middle}),
            "until": http.get("/v1/exports/readings", params={"as": "csv", "until": middle}),
            "of the build": http.get("/v1/exports/readings", params={"as": "csv", "build": build}),
            **{
                wrong: http.get(f"/v1/exports/readings?{wrong}")
                for wrong in (
                    "as=csv&build=b1",
                    "as=csv&build=bx",
                    "as=csv&build=b99999999999999999999",
                    "as=csv&instrument=none",
                    "as=csv&since=then",
                    "as=pdf",
                    "build=b5",
                )
            },
        }  # fmt: skip
    assert len(readings) == 4
    return Known(folder, readings, [one["seq"] for one in paged], files)


def seqs(data: bytes) -> list[int]:
    return [int(one["seq"]) for one in table(data)]


def test_json_lines_are_the_api_s_readings(small: Known) -> None:
    lines = small.files["jsonl"].content.splitlines()
    assert [json.loads(line) for line in lines] == small.readings


def test_a_file_comes_with_its_name_and_kind(small: Known) -> None:
    for form, kind in FORMATS.items():
        answer = small.files[form]
        if form == "parquet" and answer.status_code != 200:
            continue  # without the library: told below
        assert answer.status_code == 200
        assert answer.headers["content-disposition"] == (
            f'attachment; filename="readings.{kind.suffix}"'
        )
        assert answer.headers["content-type"] == kind.media
        assert answer.headers["cache-control"] == "no-store"


def test_csv_of_a_store_equals_the_ledger(small: Known) -> None:
    found = table(small.files["csv"].content)
    assert [one["value"] for one in found] == [one["value"] for one in small.readings]
    for cells, one in zip(found, small.readings, strict=True):
        for name, sort in COLUMNS:
            assert cells[name] == comma.cell(row(one)[name], sort), name
    assert [one["void"] for one in found] == ["false", "false", "true", "false"]
    assert found[2]["reason"] == '\'=The anvil, "dirty"'
    assert {one["operator"] for one in found[:3]} == {"'@first"}
    assert found[3]["value"] == "-0.004"


def test_filters_leave_what_they_name(small: Known) -> None:
    every = [one["seq"] for one in small.readings]
    assert seqs(small.files["of bore-1"].content) == every[3:]
    assert seqs(small.files["since"].content) == every[1:]
    assert seqs(small.files["until"].content) == every[:1]
    assert seqs(small.files["of the build"].content) == small.of_the_build


def test_what_is_not_there_is_refused_with_its_mend(small: Known) -> None:
    for wrong, status in (
        ("as=csv&build=b1", 404),
        ("as=csv&build=bx", 404),
        ("as=csv&build=b99999999999999999999", 404),
        ("as=csv&instrument=none", 404),
        ("as=csv&since=then", 422),
        ("as=pdf", 422),
        ("build=b5", 422),
    ):
        answer = small.files[wrong]
        assert answer.status_code == status, (wrong, answer.text)
        assert answer.headers["content-type"] == "application/problem+json"


def test_the_command_writes_the_same_files(small: Known, tmp_path: Path) -> None:
    for form, name in (("csv", "csv"), ("readings", "jsonl")):
        path = tmp_path / f"out.{name}"
        said = run("export", str(small.store), "--format", form, "--save", str(path))
        assert said.returncode == 0, said.stderr
        assert path.read_bytes() == small.files[name].content
    only = ("--instrument", "bore-1", "--since", "2000-01-01T00:00:00Z")
    said = run("export", str(small.store), "--format", "readings", *only)
    assert [json.loads(line) for line in said.stdout.splitlines()] == small.readings[3:]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--format", "csv", "--build", "b1"), "There is no build b1"),
        (("--format", "csv", "--instrument", "none"), "There is no instrument none"),
        (("--format", "csv", "--since", "then"), "since is not a moment"),
        (("--format", "csv", "--after", "3"), "not for readings"),
        (("--format", "jsonl", "--instrument", "mic-1"), "for formats of readings"),
    ],
)
def test_the_command_refuses_what_makes_no_sense(
    small: Known, words: tuple[str, ...], told: str
) -> None:
    said = run("export", str(small.store), *words)
    assert said.returncode == 2
    assert told in said.stderr
    assert said.stdout == ""


def test_an_export_ends_where_the_ledger_ended_when_it_began(small: Known) -> None:
    archive = Archive(small.store)
    try:
        last = small.readings[1]["seq"]
        found = chosen.readings(archive, Filters(), last)
        assert [orjson.loads(one)["seq"] for one in found] == [
            one["seq"] for one in small.readings[:2]
        ]
        assert list(chosen.readings(archive, Filters(), 0)) == []
    finally:
        archive.close()


def test_pages_join_without_loss(small: Known, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(chosen, "PAGE", 1)
    archive = Archive(small.store)
    try:
        found = [orjson.loads(one) for one in chosen.readings(archive, Filters())]
        assert found == small.readings
        with pytest.raises(NotFound):
            chosen.known(archive, Filters(build="b2"))
    finally:
        archive.close()


def test_grounds_are_what_the_ledger_says(small: Known) -> None:
    archive = Archive(small.store)
    try:
        kept = Kept(archive)
        build = small.readings[0]["placement"]["build"]
        spec = kept.spec_of(build)
        assert spec is not None
        assert spec.id == "small-pump"
        assert (kept.spec_of("b1"), kept.spec_of("bx"), kept.spec_of("b999999")) == (None,) * 3
        record = kept.record_of(small.readings[0]["seq"])
        assert record is not None
        assert record.body["calibration"]["expanded_uncertainty"] == "0.002"
        assert len(kept.bench) == 16
    finally:
        archive.close()


def test_decimals_of_the_ledger_look_as_columns_expect(small: Known) -> None:
    def decimals(one: dict[str, Any]) -> list[Any]:
        return [row(one)[name] for name, sort in COLUMNS if sort is Sort.DECIMAL]

    found = [value for one in small.readings for value in decimals(one) if value is not None]
    assert len(found) > 10
    assert all(DECIMAL.match(value) and Decimal(value).is_finite() for value in found)

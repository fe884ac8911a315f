"""bench.toml: what it may say, and what is wrong with it, all at once."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from capture.errors import BenchError, Problem
from capture.instrument import Calibration, Instrument
from drivers.bench import Bench, load_bench, parse_bench
from drivers.transports.settings import PortSettings

GAUGE = """[[instrument]]
id = "{id}"
kind = "micrometer"
port = "{port}"
profile = "{profile}"
unit = "mm"
resolution = "0.001"
"""


def gauge(name: str, port: str, profile: str = "decimal-line", more: str = "") -> str:
    return GAUGE.format(id=name, port=port, profile=profile) + more


def bench(text: str, folder: Path = Path()) -> Bench:
    return parse_bench(text, "bench.toml", folder)


def places(text: str, folder: Path = Path()) -> list[tuple[int, str]]:
    with pytest.raises(BenchError) as caught:
        bench(text, folder)
    assert all(problem.message and problem.mend for problem in caught.value.problems)
    return [(problem.line, problem.key) for problem in caught.value.problems]


FULL = """title = "Bench by the window"
[[instrument]]
id = "bore-gauge-1"
kind = "bore-gauge"
port = "cable-1"
profile = "decimal-line"
unit = "MM"
resolution = "0.001"
range = ["-1.000", "1.000"]
comparative = true
simulated = true
calibration = { certificate = "C-1", due = 2027-06-30, expanded_uncertainty = "0.0020", \
coverage_factor = "2" }
[[instrument]]
id = "scale"
kind = "scale"
port = "typed"
unit = "g"
resolution = "0.1"
[[port]]
id = "cable-1"
device = "/dev/ttyUSB0"
usb_serial = "A1B2"
baud = 4800
data_bits = 7
parity = "even"
stop_bits = 2
dtr = false
"""


def test_a_full_bench(tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    path.write_text(FULL, "utf-8")

    read = load_bench(path)

    assert read.title == "Bench by the window"
    assert read.instruments[0] == Instrument(
        id="bore-gauge-1",
        kind="bore-gauge",
        unit="mm",
        resolution=Decimal("0.001"),
        port="cable-1",
        profile="decimal-line",
        range=(Decimal("-1.000"), Decimal("1.000")),
        comparative=True,
        simulated=True,
        calibration=Calibration("C-1", "2027-06-30", Decimal("0.0020"), Decimal(2)),
    )
    assert str(read.instruments[0].calibration.expanded_uncertainty) == "0.0020"  # type: ignore[union-attr] # just compared
    assert read.instruments[1].profile == "typed"
    (port,) = read.ports
    assert port.settings == PortSettings(
        "cable-1", "/dev/ttyUSB0", "A1B2", 4800, 7, "even", 2, dtr=False, rts=True
    )
    assert list(read.profiles) == ["decimal-line"]


@pytest.mark.parametrize(
    "port",
    ["/dev/ttyUSB0", "COM3", r"\\\\.\\COM12", "socket://10.0.0.5:4001", "rfc2217://host:2217",
     "socket://[::1]:4001", "rfc2217://host:2217?timeout=5"],
)  # fmt: skip
def test_a_port_needs_no_table_where_the_defaults_fit(port: str) -> None:
    read = bench(gauge("a", port))

    device = "COM12" if "COM12" in port else port  # both spellings name one port
    assert read.ports[0].settings == PortSettings(device, device)


def test_several_instruments_on_one_receiver() -> None:
    read = bench(
        gauge("a", "/dev/ttyS0", "channel-line", 'channel = "1"\n')
        + gauge("b", "rx", "channel-line", 'channel = "02"\n')
        + '[[port]]\nid = "rx"\ndevice = "/dev/ttyS0"\n'
    )

    (port,) = read.ports
    assert [instrument.id for instrument in port.instruments] == ["a", "b"]


def test_a_users_profile_beside_the_bench(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(
        '[frame]\nkind="fixed"\nlength=4\n[decode]\nkind="text"\nlayout="{number}"\n', "utf-8"
    )

    read = bench(gauge("a", "COM1", "mine.toml"), tmp_path)

    assert read.profiles["mine.toml"].framing.limit == 4


def test_problems_of_the_bench_and_of_its_profiles_come_together(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('[frame]\nkind = "fixed"\n', "utf-8")
    text = gauge("a", "COM1", "mine.toml") + gauge("a b", "http://x", "none.toml")

    with pytest.raises(BenchError) as caught:
        bench(text, tmp_path)

    found = {(Path(p.file).name, p.line, p.key) for p in caught.value.problems}
    assert ("bench.toml", 9, "instrument[2].id") in found
    assert ("bench.toml", 11, "instrument[2].port") in found
    assert ("bench.toml", 5, "instrument[a].profile") in found
    assert ("mine.toml", 1, "frame.length") in found
    assert ("mine.toml", 0, "decode") in found


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("title = 'x'", [(0, "instrument")]),
        (gauge("a", "COM1").replace("0.001", "fine"), [(7, "instrument[a].resolution")]),
        (gauge("a", "COM1").replace('"0.001"', "0.001"), [(7, "instrument[a].resolution")]),
        (gauge("a", "COM1").replace('"0.001"', '"0"'), [(7, "instrument[a].resolution")]),
        (gauge("a", "COM1").replace('"mm"', '"nm"'), [(6, "instrument[a].unit")]),
        (gauge("a", "COM1").replace('"micrometer"', '"Mike!"'), [(3, "instrument[a].kind")]),
        (gauge("a", "COM1", more='range = ["2", "1"]\n'), [(8, "instrument[a].range")]),
        (gauge("a", "COM1", more="comparativ = true\n"), [(8, "instrument[a].comparativ")]),
        (gauge("a", "COM1", more='simulated = "yes"\n'), [(8, "instrument[a].simulated")]),
        (gauge("a", "COM1", more='channel = "1"\n'), [(8, "instrument[a].channel")]),
        (gauge("a", "COM1", "channel-line"), [(1, "instrument[a].channel")]),
        (gauge("a", "COM1") + gauge("a", "COM2"), [(9, "instrument[a].id")]),
        (gauge("a", "COM1") + gauge("b", "COM1"), [(11, "instrument[b].port")]),
        (gauge("a", "COM1", "decimal-line") + gauge("b", "COM1", "integer-le"),
         [(12, "instrument[b].profile"), (11, "instrument[b].port")]),
        (gauge("a", "COM1", "channel-line", 'channel = "1"\n')
         + gauge("b", "COM1", "channel-line", 'channel = "01"\n'), [(16, "instrument[b].channel")]),
        (gauge("a", "COM1", more='calibration = { certificate = "c", due = "soon", '
               'expanded_uncertainty = "0", coverage_factor = "0.5" }\n'),
         [(8, "instrument[a].calibration.due"),
          (8, "instrument[a].calibration.expanded_uncertainty"),
          (8, "instrument[a].calibration.coverage_factor")]),
        (gauge("a", "x") + '[[port]]\nid = "x"\n', [(8, "port[x].device")]),
        (gauge("a", "x") + '[[port]]\nid = "x"\ndevice = "COM1"\nurl = "socket://h:1"\n',
         [(10, "port[x].device")]),
        (gauge("a", "x") + '[[port]]\nid = "x"\ndevice = "COM1"\nparity = "mark"\n',
         [(11, "port[x].parity")]),
        (gauge("a", "x") + '[[port]]\nid = "x"\ndevice = "COM1"\nstop_bits = 3\n',
         [(11, "port[x].stop_bits")]),
        (gauge("a", "x") + '[[port]]\nid = "x"\ndevice = "COM1"\npoll_seconds = "1"\n',
         [(11, "port[x].poll_seconds")]),
        (gauge("a", "COM2") + '[[port]]\nid = "x"\ndevice = "COM1"\n', [(9, "port[x].id")]),
        (gauge("a", "COM1", more="instrumen = 1\n").replace("[[instrument]]", "[[instruments]]"),
         [(0, "instrument"), (1, "instruments")]),
        ("title = ", [(1, "syntax")]),
        # what is wrong with one key of a table hides nothing else in the file
        (gauge("a", "COM1").replace("0.001", "fine") + gauge("a", "COM2").replace('"mm"', '"nm"'),
         [(7, "instrument[a].resolution"), (9, "instrument[a].id"), (13, "instrument[a].unit")]),
        (gauge("a", "COM1", "channel-line", 'channel = "1"\n').replace('"mm"', '"nm"')
         + gauge("b b", "COM1", "channel-line", 'channel = "01"\n'),
         [(6, "instrument[a].unit"), (10, "instrument[2].id"), (16, "instrument[2].channel")]),
        (gauge("a", "COM1").replace('port = "COM1"\n', "").replace("decimal-line", "nix"),
         [(1, "instrument[a].port"), (4, "instrument[a].profile")]),
        (gauge("a", "COM1", more="channel = 1\n").replace("decimal-line", "channel-line"),
         [(8, "instrument[a].channel")]),
        (gauge("a", "x") + '[[port]]\nid = "x"\nbaud = 1\n[[port]]\nid = "x"\ndevice = "COM1"\n',
         [(8, "port[x].device"), (10, "port[x].baud"), (12, "port[x].id")]),
        (gauge("a", "x y") + '[[port]]\nid = "x y"\ndevice = "COM1"\n', [(9, "port[1].id")]),
        (gauge("a", "x") + '[[port]]\nid = "x"\ndevice = "http://h"\n', [(10, "port[x].device")]),
    ],
)  # fmt: skip
def test_each_mistake_with_its_line(text: str, where: list[tuple[int, str]]) -> None:
    assert sorted(places(text)) == sorted(where)


def mistakes(text: str) -> list[Problem]:
    with pytest.raises(BenchError) as caught:
        bench(text)
    return list(caught.value.problems)


CABLES = "".join(f'[[port]]\nid = "cable-{n}"\ndevice = "COM{n}"\n' for n in (1, 2, 3))


def test_a_mistyped_port_is_told_once_with_the_nearest_port_that_is_free() -> None:
    text = gauge("a", "cable-1") + gauge("b", "cable-3") + gauge("c", "cable-9") + CABLES

    (problem,) = mistakes(text)

    assert (problem.line, problem.key) == (18, "instrument[c].port")
    assert problem.message == "'cable-9' is neither the id of a [[port]] nor a device."
    assert problem.mend.startswith("did you mean cable-2? ")
    assert "cable-1, cable-2, cable-3" in problem.mend


def test_a_port_that_nobody_meant_is_still_told_beside_a_mistyped_one() -> None:
    spare = '[[port]]\nid = "spare"\ndevice = "COM9"\n'
    text = gauge("a", "cable-1") + gauge("b", "cabel-2") + gauge("c", "cable-3") + CABLES + spare

    assert [problem.key for problem in mistakes(text)] == ["instrument[b].port", "port[spare].id"]


def test_an_unlike_port_is_told_once_and_no_port_called_unused() -> None:
    (problem,) = mistakes(gauge("a", "zz") + CABLES)

    assert problem.key == "instrument[a].port"
    assert "did you mean" not in problem.mend


def test_a_number_with_a_comma_is_told_that_the_comma_is_the_fault() -> None:
    quoted = gauge("a", "COM1", more='range = ["-1,5", "1,5"]\n').replace("0.001", "0,001")
    resolution, span = mistakes(quoted)
    assert resolution.message == "'0,001' has a comma in it."
    assert resolution.mend == 'write it with a point, like "0.001".'
    assert (span.line, span.mend) == (8, 'write it with a point, like "-1.5".')

    (bare,) = mistakes(gauge("a", "COM1").replace('"0.001"', "0,001"))
    assert (bare.line, bare.key) == (7, "syntax")
    assert bare.mend == 'write the number with a point, in quotes: "0.001".'


def test_missing_instruments_are_to_be_added_as_tables() -> None:
    (problem,) = mistakes('title = "x"')

    assert problem.mend.startswith("add a line [[instrument]],")


def test_a_mistyped_profile_is_told_once_with_the_nearest() -> None:
    (problem,) = mistakes(gauge("a", "COM1", "decimalline") + gauge("b", "COM2", "decimalline"))

    assert (problem.line, problem.key) == (5, "instrument[a].profile")
    assert problem.mend.startswith("did you mean decimal-line? ")
    assert "torque-peak-line" in problem.mend


@pytest.mark.parametrize("data", [b"title = ", b"title = '\xff'", None])
def test_a_file_that_cannot_be_read_is_placed_without_a_gap(
    tmp_path: Path, data: bytes | None
) -> None:
    path = tmp_path / "bench.toml"
    if data is not None:
        path.write_bytes(data)

    with pytest.raises(BenchError) as caught:
        load_bench(path)

    assert str(path) in str(caught.value)
    assert ": :" not in str(caught.value)


def test_a_bench_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(BenchError, match=r"cannot be read: No such file"):
        load_bench(tmp_path / "bench.toml")


def test_a_mistake_names_its_instrument_or_counts_from_one() -> None:
    text = gauge("bore-gauge-1", "COM1").replace('"0.001"', '"0"')
    text += gauge("b", "COM2").replace('id = "b"\n', "").replace('"0.001"', '"0"')
    assert [problem.key for problem in mistakes(text)] == [
        "instrument[bore-gauge-1].resolution",
        "instrument[2].id",
        "instrument[2].resolution",
    ]

"""bench.toml: instruments that type, and foot pedals; and what is wrong with them, all at once."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from capture.errors import BenchError
from drivers.bench import Bench, parse_bench
from drivers.keys.address import is_keys, name_in
from drivers.keys.attached import attached
from drivers.keys.pedal import Pedal

DEVICE = "/dev/input/by-id/usb-invented-pedals-event-kbd"


def gauge(
    name: str = "mike", port: str = "/dev/ttyUSB0", profile: str = "asked-decimal-line"
) -> str:
    return (
        f'[[instrument]]\nid = "{name}"\nkind = "micrometer"\nport = "{port}"\n'
        f'profile = "{profile}"\nunit = "mm"\nresolution = "0.001"\n'
    )


def pedal(does: str = "send", more: str = "", device: str = DEVICE) -> str:
    return f'[[pedal]]\ndevice = "{device}"\ndoes = "{does}"\n{more}\n'


def bench(*tables: str, folder: Path = Path()) -> Bench:
    return parse_bench("".join(tables), "bench.toml", folder)


def problems(*tables: str, folder: Path = Path()) -> list[tuple[str, str]]:
    """Key and words of each problem."""
    with pytest.raises(BenchError) as caught:
        bench(*tables, folder=folder)
    assert all(one.line and one.message and one.mend for one in caught.value.problems)
    return [(one.key, f"{one.message} {one.mend}") for one in caught.value.problems]


def problem(*tables: str, folder: Path = Path()) -> tuple[str, str]:
    found = problems(*tables, folder=folder)
    assert len(found) == 1, found
    return found[0]


def test_pedals() -> None:
    found = bench(
        gauge(),
        pedal("send", 'key = "f13"\ninstrument = "mike"\nid = "left"'),
        pedal("confirm", 'key = "Page Down"'),
        pedal("void", device="keys:Foot Switch"),
    )

    assert found.pedals == (
        Pedal("left", DEVICE, "send", 183, "mike"),
        Pedal("pedal-2", DEVICE, "confirm", 109),
        Pedal("pedal-3", "keys:Foot Switch", "void"),
    )
    assert bench(gauge()).pedals == ()


def test_an_instrument_that_types_is_on_a_port_of_its_own() -> None:
    found = bench(
        gauge(port="keys:Invented Gauge", profile="decimal-line"),
        gauge("two", "typist", "decimal-line"),
        f'[[port]]\nid = "typist"\ndevice = "{DEVICE}"\nkeys = {{ "/" = "-", "shift+1" = "1" }}\n',
    )

    assert [port.settings.device for port in found.ports] == ["keys:Invented Gauge", DEVICE]
    assert found.ports[1].settings.keys == (("/", "-"), ("shift+1", "1"))


@pytest.mark.parametrize(
    ("tables", "key", "words"),
    [
        ([gauge(), pedal(more='ket = "f13"')], "pedal[1].ket", "did you mean key?"),
        ([gauge(), '[[pedal]]\ndoes = "void"\n'], "pedal[1].device", "missing"),
        ([gauge(), pedal("stop")], "pedal[1].does", "send, confirm, void"),
        ([gauge(), pedal(device="/dev/ttyUSB1")], "pedal[1].device", "no input device"),
        ([gauge(), pedal(device="keys: ")], "pedal[1].device", "no input device"),
        ([gauge(), pedal(more='key = "pedal"')], "pedal[1].key", "no key known here"),
        ([gauge(), pedal(more='id = "a b"')], "pedal[1].id", "letters, digits"),
        ([gauge(), pedal(more='id = "mike"')], "pedal[mike].id", "already the id"),
        ([gauge(), pedal(more='instrument = "m"')], "pedal[1].instrument", "can be asked are mike"),
        ([gauge(), pedal("void", 'instrument = "mike"')], "pedal[1].instrument", "take it away"),
        ([gauge(profile="decimal-line"), pedal()], "pedal[1].does", "add a [request]"),
        (
            [
                gauge(),
                gauge("two", "/dev/ttyUSB1", "decimal-line"),
                pedal(more='instrument = "two"'),
            ],
            "pedal[1].instrument",
            "has no request",
        ),
        ([gauge(), pedal(), pedal("void")], "pedal[2].key", "takes any key"),
        (
            [gauge(), pedal(more='key = "f13"'), pedal("void", 'key = "key-183"')],
            "pedal[2].key",
            "is the key of pedal-1",
        ),
        (
            [gauge(port=DEVICE, profile="decimal-line"), pedal("void")],
            "pedal[1].device",
            "is the port of an instrument",
        ),
        ([gauge(port="keys:", profile="decimal-line")], "instrument[mike].port", "names no device"),
        (
            [gauge(port="keys:Gauge")],
            "instrument[mike].profile",
            "an instrument that types takes none",
        ),
        (
            [gauge(port=DEVICE, profile="torque-stream-text")],
            "instrument[mike].profile",
            "is of a stream of samples",
        ),
        (
            [gauge(port="a"), '[[port]]\nid = "a"\ndevice = "COM3"\nkeys = { a = "b" }\n'],
            "port[a].keys",
            "take it away",
        ),
        (
            [
                gauge(port="a", profile="decimal-line"),
                f'[[port]]\nid = "a"\ndevice = "{DEVICE}"\nkeys = {{ a = "bc" }}\n',
            ],
            "port[a].keys",
            "not one character",
        ),
    ],
)
def test_what_is_wrong(tables: list[str], key: str, words: str) -> None:
    found, said = problem(*tables)

    assert found == key
    assert words in said


def test_a_message_that_no_key_can_end(tmp_path: Path) -> None:
    (tmp_path / "cr.toml").write_text(
        '[frame]\nkind = "terminator"\nterminators = ["\\r"]\n'
        '[decode]\nkind = "text"\nlayout = "{number}"\n'
    )
    port = f'[[port]]\nid = "a"\ndevice = "{DEVICE}"\n'

    key, said = problem(gauge(port="a", profile="cr.toml"), port, folder=tmp_path)

    assert key == "instrument[mike].profile"
    assert r'keys = { enter = "\r" }' in said
    mended = port + 'keys = { enter = "\\r" }\n'
    assert bench(gauge(port="a", profile="cr.toml"), mended, folder=tmp_path).ports


def test_a_profile_that_does_not_load_is_not_blamed_on_the_pedal() -> None:
    found = problems(gauge(profile="no-such"), pedal(more='instrument = "mike"'))

    assert [key for key, _ in found] == ["instrument[mike].profile"]


def test_what_is_a_keyboards_port() -> None:
    assert is_keys(DEVICE)
    assert is_keys("keys:Gauge")
    assert not is_keys("/dev/ttyUSB0")
    assert name_in("keys: Gauge 3 ") == "Gauge 3"
    assert name_in(DEVICE) is None


def test_what_is_attached_by_what_the_system_shows(tmp_path: Path) -> None:
    """As class/input of sysfs lays it out: the kernel's Documentation/input/event-codes.rst names
    the folder; that the highest word comes first and a word is a long, from memory."""
    system, nodes = tmp_path / "sys", tmp_path / "dev"
    digits = "ffc"  # keys 2 to 11
    for number, (name, keys) in enumerate(
        [("Lid", ""), ("Gauge", f"1 0 {digits}"), ("Wheel", "1f0000 0 0 0 0"), ("Bad", "x")]
    ):
        about = system / f"event{number}" / "device"
        (about / "capabilities").mkdir(parents=True)
        (about / "id").mkdir()
        (about / "name").write_text(name + "\n")
        (about / "capabilities" / "key").write_text(keys + "\n")
        (about / "id" / "vendor").write_text("12ab\n")
        (about / "id" / "product").write_text("0001\n")
    for folder, link in itertools.product(("by-path", "by-id"), ("gauge-event-kbd",)):
        (nodes / folder).mkdir(parents=True)
        (nodes / folder / link).symlink_to("../event1")

    found = attached(system, nodes)

    assert [(one.name, one.types_digits) for one in found] == [("Gauge", True), ("Wheel", False)]
    assert found[0].keys == {*range(2, 12), 128}
    assert found[0].stable == str(nodes / "by-id" / "gauge-event-kbd")
    assert found[0].usb == ("12ab", "0001")
    assert found[1].keys == {272, 273, 274, 275, 276}
    assert found[1].stable == found[1].device == str(nodes / "event2")
    assert attached(tmp_path / "none", nodes) == []

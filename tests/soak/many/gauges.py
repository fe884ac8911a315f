"""The sixty-four gauges of the long run, and their bench.toml."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from simulators.ble.gauges import LINE_OUT, VALUE, describing, integer, line
from simulators.torque_streaming import STREAM
from simulators.torque_streaming import radio as adapter
from simulators.wire import wire_for
from tests.soak.many.gauge import Gauge, Pressed
from tests.soak.many.lines import BleLine, Line, Radio, Rfc2217Line, SerialLine, TcpLine
from tests.soak.many.streams import Streaming, write_profile

TEXT, TORQUE = "decimal-line", "torque-peak-line"
CABLES = (TEXT,) * 8 + ("framed-line-xor", "packed-bcd", "integer-le", TORQUE) * 4
SOCKETS = (TEXT, "integer-le") * 4
REMOTE = (TEXT,) * 4
CHANNELS = 4
SELF_DESCRIBING, LINES_BY_RADIO = 12, 4


def gauges(folder: Path, radio: Radio) -> list[Gauge]:
    """All of them, on all kinds of lines."""
    made: list[Gauge] = []
    for number, profile in enumerate(CABLES):
        made.append(_wired(f"cable-{number}", profile, SerialLine(f"cable-{number}", folder)))
    receiver = SerialLine("receiver", folder)
    for channel in range(1, CHANNELS + 1):
        made.append(_wired(f"handset-{channel}", "channel-line", receiver, channel))
    for number, profile in enumerate(SOCKETS):
        made.append(_wired(f"socket-{number}", profile, TcpLine(f"socket-{number}")))
    for number, profile in enumerate(REMOTE):
        made.append(_wired(f"remote-{number}", profile, Rfc2217Line(f"remote-{number}")))
    made += [_radio(number, radio) for number in range(SELF_DESCRIBING)]
    made += [_radio_line(number, radio) for number in range(LINES_BY_RADIO)]
    profile = write_profile(folder.parent)
    for number in range(4):
        made.append(_streaming(SerialLine(f"torque-cable-{number}", folder), profile))
    for number in range(2):
        made.append(_streaming(TcpLine(f"torque-socket-{number}"), profile))
    for number in range(2):
        device = adapter(f"C2:00:00:00:03:{number:02X}", f"torque-radio-{number}")
        line = BleLine(f"torque-radio-{number}", radio, device, STREAM)
        made.append(_streaming(line, profile))
    return made


def bench_toml(gauges: list[Gauge]) -> str:
    """The bench of all of them."""
    lines = {gauge.line.name: gauge.line for gauge in gauges}
    return 'title = "Many instruments (invented)"\n' + "".join(
        [_port(line) for line in lines.values()] + [gauge.row for gauge in gauges]
    )


def _wired(name: str, profile: str, line: Line, channel: int | None = None) -> Gauge:
    unit = "N·m" if profile == TORQUE else "mm"
    wire = wire_for(profile, None if channel is None else str(channel))
    more = f'profile = "{profile}"\n' + (f'channel = "{channel}"\n' if channel else "")
    row = _row(name, line, "torque-adapter" if profile == TORQUE else "micrometer", unit, more)
    return Pressed(name, line, row, lambda number: wire.message(Decimal(number).scaleb(-3), unit))


def _radio(number: int, radio: Radio) -> Gauge:
    name = f"radio-{number}"
    device = describing(f"C2:00:00:00:01:{number:02X}", name)
    line = BleLine(name, radio, device, VALUE)
    return Pressed(name, line, _row(name, line, "micrometer", "mm", ""), integer, places=6)


def _radio_line(number: int, radio: Radio) -> Gauge:
    name = f"radio-line-{number}"
    device = line(f"C2:00:00:00:02:{number:02X}", name)
    device.mtu = 23
    port = BleLine(name, radio, device, LINE_OUT)
    return _wired(name, TEXT, port)


def _streaming(line: Line, profile: str) -> Gauge:
    row = _row(line.name, line, "torque-adapter", "N·m", f'profile = "{profile}"\n')
    return Streaming(line.name, line, row)


def _port(line: Line) -> str:
    key = "url" if "://" in line.device else "device"
    more = f'notify = "{line.uuid}"\n' if isinstance(line, BleLine) else ""
    if isinstance(line, BleLine):
        more += 'silence_seconds = "5"\n'
    return f'[[port]]\nid = "{line.name}"\n{key} = "{line.device}"\n{more}\n'


def _row(name: str, line: Line, kind: str, unit: str, more: str) -> str:
    return (
        f'[[instrument]]\nid = "{name}"\nkind = "{kind}"\nport = "{line.name}"\nunit = "{unit}"\n'
        f'resolution = "0.001"\nsimulated = true\n{more}\n'
    )

"""bench.toml for a simulated bench: the file a person would write for the same gauges."""

from __future__ import annotations

import json
from pathlib import Path

from simulators.plan import InstrumentPlan, PortPlan, Scenario


def quoted(text: str) -> str:
    """A TOML basic string; JSON's escapes are among TOML's."""
    return json.dumps(text, ensure_ascii=False)


def bench_toml(scenario: Scenario, devices: dict[str, Path]) -> str:
    """The file's text; ``devices`` gives the device name of each port."""
    blocks = [f"title = {quoted(scenario.title)}\n"]
    blocks += [_port(port, devices[port.id]) for port in scenario.ports]
    blocks += [_instrument(instrument) for instrument in scenario.instruments]
    return "\n".join(blocks)


def _port(port: PortPlan, device: Path) -> str:
    return (
        "[[port]]\n"
        f"id = {quoted(port.id)}\n"
        f"device = {quoted(str(device))}\n"
        f"baud = {port.baud}\n"
        f"data_bits = {port.data_bits}\n"
        f"parity = {quoted(port.parity)}\n"
        f"stop_bits = {port.stop_bits}\n"
    )


def _instrument(instrument: InstrumentPlan) -> str:
    lines = [
        "[[instrument]]",
        f"id = {quoted(instrument.id)}",
        f"kind = {quoted(instrument.kind)}",
        f"port = {quoted(instrument.port)}",
        f"profile = {quoted(instrument.profile)}",
        f"unit = {quoted(instrument.unit)}",
        f"resolution = {quoted(format(instrument.resolution, 'f'))}",
    ]
    if instrument.channel is not None:
        lines.append(f"channel = {quoted(instrument.channel)}")
    if instrument.range is not None:
        lines.append(f"range = [{', '.join(quoted(end) for end in instrument.range)}]")
    if instrument.comparative:
        lines.append("comparative = true")
    if instrument.leaves:
        lines.append(f"leaves = [{', '.join(quoted(leaf) for leaf in instrument.leaves)}]")
    if instrument.expansion is not None:
        lines.append(f"expansion = {quoted(instrument.expansion)}")
    lines.append("simulated = true")
    if instrument.calibration is not None:
        inside = ", ".join(f"{key} = {quoted(v)}" for key, v in instrument.calibration.items())
        lines.append(f"calibration = {{ {inside} }}")
    return "\n".join(lines) + "\n"

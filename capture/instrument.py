"""A gauge or torque tool on this bench, as bench.toml describes it and the ledger records it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any


@dataclass(frozen=True, slots=True)
class Calibration:
    """What the calibration certificate says."""

    certificate: str
    due: str
    """The last day it is valid, ``YYYY-MM-DD``."""
    expanded_uncertainty: Decimal
    """In the instrument's unit."""
    coverage_factor: Decimal
    """k of the expanded uncertainty; usually 2."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """Identity and metrology of one instrument. How it connects stays in the drivers."""

    id: str
    kind: str
    """A word of the trade: ``micrometer``, ``bore-gauge``, ``torque-wrench``… Specs ask by kind."""
    unit: str
    """The unit it is meant to be read in, by our name for it."""
    resolution: Decimal
    """Smallest step of its display, in ``unit``."""
    port: str
    profile: str
    channel: str | None = None
    range: tuple[Decimal, Decimal] | None = None
    """Smallest and largest value it can show, in ``unit``."""
    comparative: bool = False
    """It reads a deviation from its setting standard (a bore gauge), not a size."""
    simulated: bool = False
    calibration: Calibration | None = None
    leaves: tuple[Decimal, ...] = ()
    """Of a feeler set: its leaves in the order of the fan, in ``unit``."""
    expansion: Decimal | None = None
    """Linear expansion of its scale, or of what it is set on, 10⁻⁶ per °C."""

    repeatability: Decimal | None = None
    """Standard deviation of single readings, as a gauge study found it, in ``unit``."""
    drift: Decimal | None = None
    """The most it may have changed since its calibration, either way, in ``unit``."""

    def to_body(self) -> dict[str, Any]:
        """The body of its ``instrument`` entry. Keys that came later stand in it only where they
        say something, so that an unchanged instrument is not recorded anew."""
        calibration = self.calibration
        more: dict[str, Any] = {}
        if self.leaves:
            more["leaves"] = [format(leaf, "f") for leaf in self.leaves]
        for name in ("expansion", "repeatability", "drift"):
            value = getattr(self, name)
            if value is not None:
                more[name] = format(value, "f")
        return {
            **more,
            "id": self.id,
            "kind": self.kind,
            "unit": self.unit,
            "resolution": format(self.resolution, "f"),
            "port": self.port,
            "profile": self.profile,
            "channel": self.channel,
            "range": None if self.range is None else [format(end, "f") for end in self.range],
            "comparative": self.comparative,
            "simulated": self.simulated,
            "calibration": None
            if calibration is None
            else {
                "certificate": calibration.certificate,
                "due": calibration.due,
                "expanded_uncertainty": format(calibration.expanded_uncertainty, "f"),
                "coverage_factor": format(calibration.coverage_factor, "f"),
            },
        }

    @classmethod
    def from_body(cls, body: dict[str, Any]) -> Instrument:
        """The instrument that ``to_body`` described."""
        calibration = body["calibration"]
        ends = body["range"]
        return cls(
            id=body["id"],
            kind=body["kind"],
            unit=body["unit"],
            resolution=Decimal(body["resolution"]),
            port=body["port"],
            profile=body["profile"],
            channel=body["channel"],
            range=None if ends is None else (Decimal(ends[0]), Decimal(ends[1])),
            comparative=body["comparative"],
            simulated=body["simulated"],
            leaves=tuple(Decimal(leaf) for leaf in body.get("leaves", ())),
            **{
                name: Decimal(body[name])
                for name in ("expansion", "repeatability", "drift")
                if name in body
            },
            calibration=None
            if calibration is None
            else Calibration(
                certificate=calibration["certificate"],
                due=calibration["due"],
                expanded_uncertainty=Decimal(calibration["expanded_uncertainty"]),
                coverage_factor=Decimal(calibration["coverage_factor"]),
            ),
        )

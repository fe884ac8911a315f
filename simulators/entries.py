"""What a person enters at the bench beside readings: settings, voids, temperatures, extensions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from simulators.client import Client, Refused
from simulators.plan import Reach, Standard
from simulators.workbench import Station

Json = dict[str, Any]
Report = Callable[[Json], None]


@dataclass(slots=True)
class Tally:
    """What was done so far."""

    confirmations: int = 0
    settings: int = 0
    voided: int = 0
    placed: int = 0
    reworks: int = 0
    concessions: int = 0
    mistakes: list[str] = field(default_factory=list)
    caught: list[str] = field(default_factory=list)
    """Mistakes that the service itself questioned."""
    brackets: int = 0
    pulls: int = 0
    fits: int = 0
    remeasured: int = 0


class Entries:
    """What a person says rather than measures; each is reported."""

    def __init__(self, client: Client, report: Report) -> None:
        self.client = client
        self.report = report
        self.tally = Tally()

    def set_gauge(self, station: Station, standard: Standard) -> None:
        """Says which standard a comparative gauge was set on."""
        body = {
            "instrument": station.plan.id,
            "standard": standard.id,
            "size": standard.size,
            "unit": standard.unit,
        }
        if standard.expanded_uncertainty is not None:
            body["expanded_uncertainty"] = standard.expanded_uncertainty
        if standard.coverage_factor is not None:
            body["coverage_factor"] = standard.coverage_factor
        if standard.from_instrument is not None:
            body["from_instrument"] = standard.from_instrument
        self.client.post("/v1/settings", body)
        self.tally.settings += 1
        self.report({"event": "set", "instrument": station.plan.id, "standard": standard.id})

    def void(self, reading: Json, reason: str) -> None:
        """Takes a reading out of the count."""
        self.client.post(f"/v1/readings/{reading['seq']}/voids", {"reason": reason})
        self.tally.voided += 1
        self.report({"event": "void", "seq": reading["seq"], "reason": reason})

    def place(self, reading: Json, build: str, step: str, reason: str) -> bool:
        """Says which step a reading answers; False if the service will not have it."""
        body = {"build": build, "step": step, "reason": reason}
        try:
            self.client.post(f"/v1/readings/{reading['seq']}/placements", body)
        except Refused as error:
            self.report({"event": "refused", "seq": reading["seq"], "detail": str(error)})
            return False
        self.tally.placed += 1
        self.report({"event": "place", "seq": reading["seq"], "step": step, "reason": reason})
        return True

    def warmth(self, instrument: str, celsius: float) -> None:
        """Says how warm a gauge is."""
        body = {"instrument": instrument, "value": f"{celsius:.1f}", "unit": "°C"}
        self.client.post("/v1/temperatures", body)
        self.report({"event": "temperature", **body})

    def reach(self, extension: Reach) -> None:
        """Says that this extension is on its tool; one of length 0 takes it off."""
        body = {
            "instrument": extension.instrument,
            "tool_length": extension.tool_length,
            "length": extension.length,
            "angle": extension.angle,
            "unit": extension.unit,
        }
        self.client.post("/v1/extensions", body)
        self.report({"event": "extension", **body})

    def questioned(self, kind: str, reading: Json) -> bool:
        """Whether the service saw that something is wrong with this reading; noted if so."""
        reason = reading["placement"].get("reason")
        result = (reading.get("verdict") or {}).get("result")
        if reading["placement"].get("step") is not None and result != "nonconforming":
            return False
        said = reason if isinstance(reason, dict) else {"code": reason or result}
        self.caught(kind, str(said.get("code")), said.get("detail"))
        return True

    def caught(self, kind: str, by: str, detail: str | None = None) -> None:
        """Takes note that a mistake was found by the service."""
        self.tally.caught.append(kind)
        self.report({"event": "caught", "kind": kind, "by": by, "detail": detail})

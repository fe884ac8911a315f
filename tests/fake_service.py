"""A tiny stand-in for the bench service, to test the robot builder alone.

It speaks only the part of the HTTP interface that the builder uses, reads decimal lines from the
ports of a bench.toml, and judges in the plainest way. Its "spec" is a list of steps in TOML. It is
no model of the service: what it accepts says nothing about what the service accepts.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import select
import threading
import time
import tomllib
from decimal import Decimal
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from types import TracebackType
from typing import Any
from urllib.parse import parse_qs, urlsplit

Json = dict[str, Any]
LINE = re.compile(rb"\s*([+-]?[0-9]+\.?[0-9]*)\s*(\S*)\s*")


class FakeService:
    """Use as a context; ``url`` answers within it."""

    def __init__(self, bench: Path) -> None:
        data = tomllib.loads(bench.read_text("utf-8"))
        self.instruments: dict[str, Json] = {one["id"]: one for one in data["instrument"]}
        self.devices = {one["id"]: Path(one["device"]) for one in data.get("port", ())}
        self.state = dict.fromkeys(self.instruments, "opening")
        self.steps: list[Json] = []
        self.readings: list[Json] = []
        self.undecodable: list[bytes] = []
        self.settings: dict[str, Json] = {}
        self.factors: dict[str, Decimal] = {}
        self.pieces: dict[str, str] = {}
        self.posts: list[tuple[str, Json]] = []
        self.keys: set[str] = set()
        self.window = 0.0
        self._last: dict[str, tuple[str, float]] = {}
        self._open: dict[str, int] = {}
        self._lock = threading.RLock()
        self._end = threading.Event()
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(self))
        self._server.daemon_threads = False
        self._server.block_on_close = True
        self._threads = [
            threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.01}),
            *(threading.Thread(target=self._read, args=(port,)) for port in self.devices),
        ]

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._server.server_address[1]}"

    def __enter__(self) -> FakeService:
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._end.set()
        self._server.shutdown()
        self._server.server_close()
        for thread in self._threads:
            thread.join()

    # ports ------------------------------------------------------------------------------------

    def _read(self, port: str) -> None:
        """Opens the port whenever it is there; each line is a reading."""
        (name,) = (one for one, each in self.instruments.items() if each["port"] == port)
        while not self._end.is_set():
            try:
                descriptor = os.open(self.devices[port], os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
            except FileNotFoundError:
                self._end.wait(0.005)
                continue
            self._open[name] = descriptor
            self.state[name] = "ready"
            try:
                self._lines(name, descriptor)
            except OSError:
                pass
            finally:
                self.state[name] = "lost"
                del self._open[name]
                os.close(descriptor)

    def _lines(self, name: str, descriptor: int) -> None:
        rest = b""
        while not self._end.is_set():
            if not select.select([descriptor], [], [], 0.01)[0]:
                continue
            chunk = os.read(descriptor, 4096)
            if not chunk:
                return
            *lines, rest = (rest + chunk).split(b"\r\n")
            for line in lines:
                found = LINE.fullmatch(line)
                if found is None:
                    self.undecodable.append(line)
                else:
                    self.take(name, found[1].decode(), found[2].decode())

    # judging ----------------------------------------------------------------------------------

    def current(self) -> Json | None:
        return next((step for step in self.steps if not step["done"]), None)

    def take(self, name: str, digits: str, unit: str) -> None:
        """Stores a reading, placed on the current step or not."""
        with self._lock:
            step, now = self.current(), time.monotonic()
            unit = unit or self.instruments[name]["unit"]
            last, self._last[name] = self._last.get(name), (digits, now)
            reading: Json = {
                "seq": len(self.readings) + 1,
                "instrument": name,
                "value": digits.lstrip("+"),
                "unit": unit,
                "verdict": None,
            }
            reason = "repeated-press" if last and last[0] == digits else None
            if last and now - last[1] >= self.window:
                reason = None
            size = self._size(name, digits, unit)
            if size is None:
                reason = "gauge-not-set"
            elif step is None or self.instruments[name]["kind"] not in step["instruments"]:
                reason = "unsuitable-instrument"
            elif reason is None and abs(size - Decimal(step["middle"])) > Decimal(step["band"]):
                reason = "implausible-size"
            reading["placement"] = {"step": None, "reason": reason}
            if reason is None:
                assert step is not None
                assert size is not None
                self._place(reading, step, size)
            self.readings.append(reading)

    def take_bracket(self, name: str, unit: str, bracket: Json) -> None:
        """A gap between two leaves: judged in the middle, if the leaf can stand where it did."""
        with self._lock:
            step = self.current()
            assert step is not None
            ends = [Decimal(end) for end in (bracket["lower"], bracket["upper"]) if end]
            reading: Json = {
                "seq": len(self.readings) + 1,
                "instrument": name,
                "value": None,
                "unit": unit,
                "bracket": bracket,
                "verdict": None,
            }
            leaves = self.instruments[name]["leaves"]
            beside = bracket.get("beside")
            reading["placement"] = {"step": None, "reason": "hidden-leaf"}
            if len(bracket["leaves"]) != 1 or beside == _neighbours(leaves, bracket["leaves"][0]):
                low, high = Decimal(step["lower"]), Decimal(step["upper"])
                single = len(bracket["leaves"]) == 1
                if single and any(ends[0] < limit < ends[-1] for limit in (low, high)):
                    reason = {"code": "finer-step-wanted", "detail": "Try stacked leaves."}
                    reading["placement"] = {"step": None, "reason": reason}
                else:
                    self._place(reading, step, sum(ends, Decimal(0)) / len(ends))
            self.readings.append(reading)

    def _size(self, name: str, digits: str, unit: str) -> Decimal | None:
        size = Decimal(digits) * (Decimal("25.4") if unit == "in" else 1)
        if not self.instruments[name].get("comparative"):
            return size * self.factors.get(name, 1)
        step = self.current()
        if step is not None and step["kind"] == "zero":
            return size
        setting = self.settings.get(name)
        return None if setting is None else size + Decimal(setting["size"])

    def _place(self, reading: Json, step: Json, size: Decimal) -> None:
        result = "conforming"
        if not Decimal(step["lower"]) <= size <= Decimal(step["upper"]):
            result = "nonconforming"
        reading["placement"] = {"step": step["id"]}
        reading["verdict"] = {"result": result}
        step.update(done=True, result=result, reading=reading["seq"])

    # HTTP -------------------------------------------------------------------------------------

    def get(self, path: str, query: dict[str, list[str]]) -> Any:
        if path == "/v1/health":
            return {"status": "ready"}
        if path == "/v1/instruments":
            return {
                "instruments": [
                    {"id": name, "device": {"state": state}} for name, state in self.state.items()
                ]
            }
        if path == "/v1/readings":
            after = int(query["after"][0])
            with self._lock:
                return {"readings": self.readings[after:], "next": len(self.readings)}
        if path == "/v1/builds/b1/steps":
            return {"steps": self.steps}
        if path == "/v1/builds/b1/next":
            step = self.current()
            return {"step": step, "waiting": self._holds(), "done": step is None}
        if path == "/v1/builds/b1":
            done = sum(step["done"] for step in self.steps)
            pieces = [
                {"part": "piston", "number": int(number), "piece": piece}
                for number, piece in self.pieces.items()
            ]
            return {"holds": self._holds(), "steps_done": done, "pieces": pieces}
        if path.startswith("/v1/builds/b1/fits/"):
            return {"order": {"1": "b", "2": "a"}, "changes": {"1": "b", "2": "a"}}
        return None

    def _holds(self) -> list[Json]:
        return [
            {"subject": step["id"], "result": step["result"]}
            for step in self.steps
            if step["done"] and step["result"] == "nonconforming"
        ]

    def post(self, path: str, body: bytes, key: str | None) -> Any:
        if key is None or key in self.keys:
            return None
        self.keys.add(key)
        if path == "/v1/specs":
            return self._spec(body)
        data = json.loads(body)
        self.posts.append((path, data))
        with self._lock:
            return self._act(path, data)

    def _spec(self, body: bytes) -> Json:
        spec = tomllib.loads(body.decode())
        self.window = spec["decision"]["repeat_window_ms"] / 1000
        self.steps = [
            {"done": False, "pass": 1, "piece": None, "nominal_size": None, "result": None, **step}
            for step in spec["step"]
        ]
        return {"id": hashlib.sha256(body).hexdigest(), "title": "fake"}

    def _act(self, path: str, data: Json) -> Any:
        *_, parent, number, act = ["", "", *path.split("/")]
        if path == "/v1/builds":
            return {"id": "b1"}
        if path == "/v1/settings":
            self.settings[data["instrument"]] = data
        elif act == "ask":
            os.write(self._open[number], b"V\r")
        elif path == "/v1/readings" and "bracket" in data:
            self.take_bracket(data["instrument"], data["unit"], data["bracket"])
        elif path == "/v1/readings":
            self.take(data["instrument"], data["value"], data["unit"])
        elif path == "/v1/pulls":
            peak = max(Decimal(torque) for torque in data["torque"])
            self.take(data["instrument"], format(peak, "f"), data["unit"])
        elif path == "/v1/extensions":
            reach = Decimal(data["length"]) / Decimal(data["tool_length"])
            self.factors[data["instrument"]] = 1 + reach
        elif number == "fits":
            self.pieces.update(data["order"])
            for step in self.steps:
                if step["result"] == "nonconforming":
                    step["result"] = "conforming"
        elif act == "sets":
            for step in self.steps:
                if step["operation"] != "close" or step["result"] == "nonconforming":
                    step.update(done=False, result=None, **{"pass": step["pass"] + 1})
        elif parent == "readings":
            self._decide(self.readings[int(number) - 1], act, data)
        elif act == "confirmations":
            self._step(data["step"]).update(done=True, result="conforming")
        elif act == "concessions":
            self._step(data["subject"])["result"] = "conceded"
        elif act == "reworks":
            for step in self.steps:
                if step["part"] == data["part"] and step["number"] == data["number"]:
                    step.update(done=False, result=None, **{"pass": step["pass"] + 1})
        return {}

    def _decide(self, reading: Json, act: str, data: Json) -> None:
        held = reading["placement"].get("step")
        if held:
            self._step(held).update(done=False, result=None)
        reading["placement"] = {"step": None, "reason": act}
        if act == "placements":
            size = self._size(reading["instrument"], reading["value"], reading["unit"])
            assert size is not None
            self._place(reading, self._step(data["step"]), size)

    def _step(self, step: str) -> Json:
        return next(each for each in self.steps if each["id"] == step)


def _neighbours(leaves: list[str], leaf: str) -> list[str | None]:
    """The leaves that lie on either side of one in the fan."""
    around: list[str | None] = [None, *leaves, None]
    at = leaves.index(leaf)
    return [around[at], around[at + 2]]


def _handler(service: FakeService) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"
        wbufsize = 65536  # one write an answer: two would wait for each other (Nagle)

        def do_GET(self) -> None:
            url = urlsplit(self.path)
            self._answer(service.get(url.path, parse_qs(url.query)), 200)

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            key = self.headers["Idempotency-Key"]
            self._answer(service.post(urlsplit(self.path).path, body, key), 201)

        def _answer(self, data: Any, status: int) -> None:
            missing = data is None
            body = json.dumps({"title": "Not there", "mend": "?"} if missing else data).encode()
            self.send_response(404 if missing else status)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - its name there
            """Says nothing."""

    return Handler

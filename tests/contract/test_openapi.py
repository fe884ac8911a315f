"""The OpenAPI document against the service: requests made from it, answers held against it."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis.checks import CHECKS, load_all_checks
from schemathesis.config import SchemathesisConfig
from schemathesis.core.failures import FailureGroup

from api.openapi import ANSWERS, CALCULATION
from tests.contract import trade
from tests.running import SPEC
from tests.served import served

EXAMPLES = 15
TORQUE = ["0.0", "0.0", *(f"{10 * step}.0" for step in range(6)), "41.0", "40.0", "10.0", "0.0"]
STREAMS = {("get", "/v1/events")}
OPERATIONS = sorted(set(ANSWERS) - STREAMS)
NOT_OURS = {
    # A valid form may still name what is not there, or contradict it: 404, 409 and 422 are right.
    "positive_data_acceptance",
    # Security is optional on the loopback, where this runs.
    "ignored_auth",
    "missing_required_header",
    # Nothing is ever deleted here, and what was made can be read at once.
    "use_after_free",
    "ensure_resource_availability",
    "object_level_authorization",
}


@schemathesis.serializer("application/toml")
def as_text(_: Any, value: Any) -> bytes:
    """TOML goes out as it stands."""
    return value if isinstance(value, bytes) else str(value).encode("utf-8", "surrogatepass")


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A service with a build open and readings stored, some placed and some not."""
    folder = tmp_path_factory.mktemp("openapi")
    (folder / "bench.toml").write_text(trade.BENCH, "utf-8")
    with served(folder) as up:
        _fill(str(up["url"]))
        yield str(up["url"])


def _fill(url: str) -> None:
    with httpx.Client(base_url=url, timeout=30) as http:
        press = {"instrument": "mic-1", "value": "25.000", "unit": "mm"}
        http.post("/v1/readings", json=press).raise_for_status()
        for text in (trade.SPEC, SPEC):
            spec = http.post("/v1/specs", content=text.encode()).raise_for_status().json()
            http.post("/v1/builds", json={"spec": spec["id"], "title": "x"}).raise_for_status()
            if text == trade.SPEC:
                _measure(http)
        for value in ("25.000", "25.030", "0.984"):
            http.post("/v1/readings", json={**press, "value": value}).raise_for_status()
        setting = {"instrument": "bore-1", "standard": "ring", "size": "25", "unit": "mm"}
        http.post("/v1/settings", json=setting).raise_for_status()


def _measure(http: httpx.Client) -> None:
    """Of the invented twin: a whole set with its zero checks, pistons, a gap, a pull."""
    http.post("/v1/settings", json=trade.RING).raise_for_status()
    thermometer = {"instrument": "thermometer-1", "value": "20.0", "unit": "°C"}
    http.post("/v1/readings", json=thermometer).raise_for_status()
    for value in ("0.000", *trade.BORES, "0.001"):
        bore = {"instrument": "bore-1", "value": value, "unit": "mm"}
        http.post("/v1/readings", json=bore).raise_for_status()
    for value in ("79.972", "79.957"):
        press = {"instrument": "mic-1", "value": value, "unit": "mm"}
        http.post("/v1/readings", json=press).raise_for_status()
    gap = {"instrument": "feeler-1", "unit": "mm", "bracket": trade.GAP}
    http.post("/v1/readings", json=gap).raise_for_status()
    pull = {"instrument": "adapter-1", "unit": "N·m", "interval_us": 20_000, "torque": TORQUE}
    http.post("/v1/pulls", json=pull).raise_for_status()


@functools.cache
def _document(url: str) -> Any:
    raw = httpx.get(f"{url}/openapi.json", timeout=30).raise_for_status().json()
    return schemathesis.openapi.from_dict(raw, config=SchemathesisConfig())


@functools.cache
def _checks() -> list[Any]:
    load_all_checks()
    return [check for check in CHECKS.get_all() if check.__name__ not in NOT_OURS]


@functools.cache
def _known(url: str) -> dict[str, list[Any]]:
    """What is there, to be put in the place of made-up names half of the time."""
    with httpx.Client(base_url=url, timeout=30) as http:
        return {
            "build": [one["id"] for one in http.get("/v1/builds").json()["builds"]],
            "spec": [one["id"] for one in http.get("/v1/specs").json()["specs"]],
            "seq": [one["seq"] for one in http.get("/v1/readings").json()["readings"]],
            "instrument": ["mic-1", "bore-1", "click-1", "feeler-1", "adapter-1"],
            "unit": ["mm", "in", "N·m", "°C"],
            "step": ["measure-bore/1/top", "zero-after/1", "tighten-cap-bolts/1/final"],
            "part": ["cylinder", "piston", "bolt"],
            "from_instrument": ["mic-1"],
            "derived": ["piston-clearance"],
            "study": ["mic-study"],
            "check": ["click-check"],
            "name": ["trade-twin"],
            "quantity": ["bore", "piston-clearance"],
            "digest": [
                one["trace"]["sha256"]
                for one in http.get("/v1/readings").json()["readings"]
                if "trace" in one
            ],
        }


@pytest.mark.parametrize(("method", "path"), OPERATIONS)
def test_requests_from_the_document(url: str, method: str, path: str) -> None:
    checks = _checks()
    operation = _document(url)[path][method]
    known = _known(url)

    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(data=st.data())
    def ask(data: st.DataObject) -> None:
        case = data.draw(operation.as_strategy())
        for name in case.path_parameters or {}:
            if name in known and data.draw(st.booleans()):
                case.path_parameters[name] = data.draw(st.sampled_from(known[name]))
        if isinstance(case.body, dict):
            for name in case.body.keys() & known.keys():
                if data.draw(st.booleans()):
                    case.body[name] = data.draw(st.sampled_from(known[name]))
        case.call_and_validate(base_url=url, checks=checks, timeout=10)

    ask()


def test_an_answer_that_breaks_the_document_is_found(url: str) -> None:
    """The control: with a document that says otherwise, the same check must fail."""
    raw = httpx.get(f"{url}/openapi.json", timeout=30).json()
    raw["components"]["schemas"]["Health"]["properties"]["boot"] = {"type": "string"}
    operation = schemathesis.openapi.from_dict(raw)["/v1/health"]["get"]
    checks = _checks()
    with pytest.raises(FailureGroup):
        operation.Case().call_and_validate(base_url=url, checks=checks)


def test_the_examples_of_the_document_are_right(url: str) -> None:
    """Each example is accepted as far as its form goes, and real ones are carried out."""
    document = httpx.get(f"{url}/openapi.json", timeout=30).json()
    with httpx.Client(base_url=url, timeout=30) as http:
        for path, methods in document["paths"].items():
            content = methods.get("post", {}).get("requestBody", {}).get("content", {})
            if "example" not in content.get("application/json", {}):
                continue
            where = path
            for name, values in _known(url).items():
                where = where.replace(f"{{{name}}}", str(values[0]))
            answer = http.post(where, json=content["application/json"]["example"])
            if answer.is_error:
                assert answer.json()["type"] != "/problems/invalid", (path, answer.text)


def test_every_json_answer_has_an_example_of_its_form(url: str) -> None:
    document = httpx.get(f"{url}/openapi.json", timeout=30).json()
    models = {says.model.__name__: says.model for says in ANSWERS.values() if says.model}
    seen = 0
    for path, methods in document["paths"].items():
        for operation in methods.values():
            for status, said in operation["responses"].items():
                media = said.get("content", {}).get("application/json")
                if not status.startswith("2") or media is None:
                    continue
                model = models[media["schema"]["$ref"].rpartition("/")[2]]
                model.model_validate(media["example"], strict=True)
                missing = set(model.model_fields) - set(media["example"])
                assert not {n for n in missing if model.model_fields[n].is_required()}, path
                seen += 1
    assert seen >= len(OPERATIONS)


def test_examples_of_answers_hold_what_answers_hold(url: str) -> None:
    """Each key of an example is one that the service really gives."""
    document = httpx.get(f"{url}/openapi.json", timeout=30).json()

    def example(method: str, path: str) -> Any:
        said = document["paths"][path][method]["responses"]
        return next(iter(said.values()))["content"]["application/json"]["example"]

    with httpx.Client(base_url=url, timeout=30) as http:
        for path in ("/v1/health", "/v1/instruments", "/v1/specs", "/v1/builds", "/v1/bench"):
            _same_keys(example("get", path), http.get(path).json(), path)
        for path, body in (
            ("/v1/operator", {"operator": "x"}),
            ("/v1/zeros", {"instrument": "bore-1"}),
            ("/v1/temperatures", {"instrument": "bore-1", "value": "20.5", "unit": "°C"}),
            (
                "/v1/extensions",
                {"instrument": "click-1", "tool_length": "400", "length": "50", "unit": "mm"},
            ),
            ("/v1/settings", {"instrument": "bore-1", "standard": "r", "size": "2", "unit": "mm"}),
            ("/v1/readings", {"instrument": "mic-1", "value": "25.002", "unit": "mm"}),
        ):
            _same_keys(example("post", path), http.post(path, json=body).json(), path)


def test_examples_of_what_is_computed_over_a_build_hold_what_answers_hold(url: str) -> None:
    document = httpx.get(f"{url}/openapi.json", timeout=30).json()
    known = _known(url)
    names = {name: str(values[0]) for name, values in known.items()}
    with httpx.Client(base_url=url, timeout=30) as http:
        placed = [one for one in http.get("/v1/readings").json()["readings"] if "zero" in one]
        names["seq"] = str(placed[0]["seq"])
        for path, methods in document["paths"].items():
            if path.startswith(("/v1/builds/{build}/", "/v1/readings/{seq}/", "/v1/traces/")):
                for operation in [methods[method] for method in methods if method == "get"]:
                    content = operation["responses"]["200"]["content"]
                    if "application/json" not in content:
                        continue  # a picture has no keys
                    example = content["application/json"]
                    answer = http.get(path.format(**names))
                    assert answer.status_code == 200, (path, answer.text)
                    _same_keys(example["example"], answer.json(), path)


DEPENDS = ("/placement", "/verdict", "/body", "/numbers", "/story", "/changes", "/order")
"""What is in these depends on the reading, the finding or the pieces."""


def _same_keys(example: Any, real: Any, where: str) -> None:
    if isinstance(example, dict) and isinstance(real, dict):
        for key, value in example.items():
            if where.endswith(DEPENDS):
                continue
            assert key in real, f"{where}: {key}"
            _same_keys(value, real[key], f"{where}/{key}")
    elif isinstance(example, list) and isinstance(real, list) and example and real:
        _same_keys(example[0], real[0], where)


@pytest.mark.parametrize("path", ["/v1/readings", "/v1/entries", "/v1/events"])
def test_a_place_beyond_the_end_is_described(url: str, path: str) -> None:
    said = httpx.get(f"{url}/openapi.json", timeout=30).json()["paths"][path]["get"]["responses"][
        "409"
    ]
    assert "another store" in said["description"]
    assert "application/problem+json" in said["content"]


def test_every_operation_is_described(url: str) -> None:
    document = httpx.get(f"{url}/openapi.json", timeout=30).json()
    listed = {(method, path) for path, found in document["paths"].items() for method in found}
    assert listed == set(ANSWERS)
    names = [found[m]["operationId"] for found in document["paths"].values() for m in found]
    assert len(set(names)) == len(names)
    for method, path in listed:
        operation = document["paths"][path][method]
        assert operation.get("description"), (method, path)
        headers = [p["name"] for p in operation["parameters"] if p["in"] == "header"]
        records = method == "post" and path != CALCULATION
        assert ("Idempotency-Key" in headers) is records, path


def test_every_reference_leads_somewhere(url: str) -> None:
    text = httpx.get(f"{url}/openapi.json", timeout=30).text
    names = set(re.findall(r'"#/components/schemas/([^"]+)"', text))
    document = httpx.get(f"{url}/openapi.json", timeout=30).json()
    assert names <= set(document["components"]["schemas"])
    assert len(names) > 30


def test_the_service_is_well_after_all_that(url: str) -> None:
    assert httpx.get(f"{url}/v1/health", timeout=30).json()["status"] == "ready"

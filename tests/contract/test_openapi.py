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

from api.openapi import ANSWERS
from tests.running import SPEC
from tests.served import served

EXAMPLES = 15
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
    with served(tmp_path_factory.mktemp("openapi")) as up:
        _fill(str(up["url"]))
        yield str(up["url"])


def _fill(url: str) -> None:
    with httpx.Client(base_url=url) as http:
        press = {"instrument": "mic-1", "value": "25.000", "unit": "mm"}
        http.post("/v1/readings", json=press).raise_for_status()
        spec = http.post("/v1/specs", content=SPEC.encode()).raise_for_status().json()
        http.post("/v1/builds", json={"spec": spec["id"], "title": "x"}).raise_for_status()
        for value in ("25.000", "25.030", "0.984"):
            http.post("/v1/readings", json={**press, "value": value}).raise_for_status()
        setting = {"instrument": "bore-1", "standard": "ring", "size": "25", "unit": "mm"}
        http.post("/v1/settings", json=setting).raise_for_status()


@functools.cache
def _document(url: str) -> Any:
    raw = httpx.get(f"{url}/openapi.json").raise_for_status().json()
    return schemathesis.openapi.from_dict(raw, config=SchemathesisConfig())


@functools.cache
def _checks() -> list[Any]:
    load_all_checks()
    return [check for check in CHECKS.get_all() if check.__name__ not in NOT_OURS]


@functools.cache
def _known(url: str) -> dict[str, list[Any]]:
    """What is there, to be put in the place of made-up names half of the time."""
    with httpx.Client(base_url=url) as http:
        return {
            "build": [one["id"] for one in http.get("/v1/builds").json()["builds"]],
            "spec": [one["id"] for one in http.get("/v1/specs").json()["specs"]],
            "seq": [one["seq"] for one in http.get("/v1/readings").json()["readings"]],
            "instrument": ["mic-1", "bore-1"],
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
        case.call_and_validate(base_url=url, checks=checks, timeout=10)

    ask()


def test_an_answer_that_breaks_the_document_is_found(url: str) -> None:
    """The control: with a document that says otherwise, the same check must fail."""
    raw = httpx.get(f"{url}/openapi.json").json()
    raw["components"]["schemas"]["Health"]["properties"]["boot"] = {"type": "string"}
    operation = schemathesis.openapi.from_dict(raw)["/v1/health"]["get"]
    checks = _checks()
    with pytest.raises(FailureGroup):
        operation.Case().call_and_validate(base_url=url, checks=checks)


def test_the_examples_of_the_document_are_right(url: str) -> None:
    """Each example is accepted as far as its form goes, and real ones are carried out."""
    document = httpx.get(f"{url}/openapi.json").json()
    with httpx.Client(base_url=url) as http:
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


def test_every_operation_is_described(url: str) -> None:
    document = httpx.get(f"{url}/openapi.json").json()
    listed = {(method, path) for path, found in document["paths"].items() for method in found}
    assert listed == set(ANSWERS)
    names = [found[m]["operationId"] for found in document["paths"].values() for m in found]
    assert len(set(names)) == len(names)
    for method, path in listed:
        operation = document["paths"][path][method]
        assert operation.get("description"), (method, path)
        headers = [p["name"] for p in operation["parameters"] if p["in"] == "header"]
        assert ("Idempotency-Key" in headers) is (method == "post"), path


def test_every_reference_leads_somewhere(url: str) -> None:
    text = httpx.get(f"{url}/openapi.json").text
    names = set(re.findall(r'"#/components/schemas/([^"]+)"', text))
    document = httpx.get(f"{url}/openapi.json").json()
    assert names <= set(document["components"]["schemas"])
    assert len(names) > 30


def test_the_service_is_well_after_all_that(url: str) -> None:
    assert httpx.get(f"{url}/v1/health").json()["status"] == "ready"

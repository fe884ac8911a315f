"""QIF 3 results against the standard's own schema files, and value for value against the ledger.

Source: ANSI/DMSC QIF 3.0 (ISO 23952:2020), schema files of the public repository
QualityInformationFramework/qif-community, read from the folder OUTSIDE_DATA names; not copied here.
"""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from capture.spec.load import load
from tests.built import Built
from tests.contract import trade
from tests.contract.trade import Bench
from tests.exported import RECORD, Told, file, objected, reading
from tests.running import SPEC, client, service
from tests.served import run
from tests.support import outside_data

pytestmark = pytest.mark.timeout(180)
NS = {"q": "http://qifstandards.org/xsd/qif3"}
STATUS = {
    "conforming": "PASS",
    "nonconforming": "FAIL",
    "undecided": "INDETERMINATE",
    "not_evaluated": "NOT_ANALYZED",
}
"""CharacteristicStatusEnumType of the schema: INDETERMINATE is neither PASS nor FAIL."""


@pytest.fixture(scope="module")
def schema() -> Any:
    etree = pytest.importorskip("lxml.etree", reason="lxml is not installed")
    # local files only: nothing is fetched
    parser = etree.XMLParser(no_network=True)
    return etree.XMLSchema(etree.parse(outside_data("qif3/QIFDocument.xsd"), parser))


def parsed(schema: Any, data: bytes) -> Any:
    """The document, which must be valid."""
    from lxml import etree

    document = etree.fromstring(data)
    schema.assertValid(document)
    return document


def attributes(element: Any) -> dict[str, str]:
    """The user-defined attributes of an element by name."""
    found = element.findall("q:Attributes/*", NS)
    listed = element.find("q:Attributes", NS)
    assert listed is None or int(listed.get("n")) == len(found)
    named = {}
    for one in found:
        value = one.get("value")
        named[one.get("name")] = one.findtext("q:Value", None, NS) if value is None else value
    assert len(named) == len(found)
    return named


def only(document: Any, number: str) -> Any:
    """The one element with this id."""
    (found,) = document.xpath("//*[@id=$id]", id=number)
    return found


def measurements(document: Any) -> dict[int, Any]:
    """Measured characteristics by the ledger's seq."""
    found = document.findall(".//q:CharacteristicMeasurements/*", NS)
    by_seq = {int(attributes(one)["ledger_seq"]): one for one in found}
    assert len(by_seq) == len(found)
    return by_seq


def results(readings: list[dict[str, Any]]) -> dict[int, dict[str, Any]]:
    """Those readings that are a result on the product."""
    return {
        one["seq"]: one
        for one in readings
        if one["placement"].get("step") is not None
        and one["placement"]["kind"] in ("measure", "tighten", "turn")
        and one["verdict"].get("measured") is not None
    }


UNIT = {
    "UserDefinedLinear": "linearUnit",
    "UserDefinedAngular": "angularUnit",
    "UserDefinedTemperature": "temperatureUnit",
    "UserDefinedUnit": "unitName",
}


def equal(document: Any, element: Any, one: dict[str, Any]) -> None:
    """What a measurement says equals what the ledger says of the reading, digit for digit."""
    verdict, placement = one["verdict"], one["placement"]
    name = element.tag.rpartition("}")[2].removesuffix("CharacteristicMeasurement")
    value = element.find("q:Value", NS)
    assert value.text == verdict["measured"]
    assert value.get(UNIT[name]) == verdict["unit"]
    assert (
        element.findtext("q:Status/q:CharacteristicStatusEnum", None, NS)
        == (STATUS[verdict["result"]])
    )
    assert element.findtext("q:TimeStamp", None, NS) == one["received_at"]

    uncertainty = value.get("combinedUncertainty")
    if verdict["expanded_uncertainty"] is None:
        assert uncertainty is None
    else:
        expanded = Fraction(uncertainty) * Fraction(verdict["coverage_factor"])
        off = abs(expanded - Fraction(verdict["expanded_uncertainty"]))
        assert off <= expanded * Fraction(1, 10**11)

    said = attributes(element)
    assert said["value_as_sent"] == one["value"]
    assert said["unit_as_sent"] == one["unit"]
    assert said.get("raw", "") == one["raw"]
    assert said["build"] == placement["build"]
    assert said["verdict"] == verdict["result"]
    assert said["simulated"] == str(one["simulated"]).lower()
    for key in ("lower", "upper", "expanded_uncertainty", "coverage_factor", "guard_band"):
        assert said.get(key) == verdict.get(key)
    assert ("Simulated" in (element.findtext("q:Description", "", NS))) is one["simulated"]

    component = only(document, element.findtext("q:ActualComponentId", None, NS))
    assert component.findtext("q:SerialNumber", None, NS) == (
        placement["piece"] or placement["build"]
    )
    assert component.findtext("q:Status/q:InspectionStatusEnum", None, NS) == "NOT_CALCULATED"
    device = only(document, element.findtext("q:MeasurementDeviceIds/q:Id", None, NS))
    assert device.findtext("q:Name", None, NS) == one["instrument"]
    limits_equal(document, element, one, name)


def limits_equal(document: Any, element: Any, one: dict[str, Any], name: str) -> None:
    item = only(document, element.findtext("q:CharacteristicItemId", None, NS))
    assert attributes(item)["number"] == str(one["placement"]["number"])
    nominal = only(document, item.findtext("q:CharacteristicNominalId", None, NS))
    definition = only(document, nominal.findtext("q:CharacteristicDefinitionId", None, NS))
    assert attributes(definition)["characteristic"] == one["placement"]["characteristic"]
    holder = nominal if name == "UserDefinedUnit" else definition.find("q:Tolerance", NS)
    verdict = one["verdict"]
    for word, key in (("MinValue", "lower"), ("MaxValue", "upper")):
        limit = None if holder is None else holder.findtext(f"q:{word}", None, NS)
        assert limit == verdict[key]
    if holder is None:
        assert definition.findtext("q:NonTolerance", None, NS) == "MEASURED"
    else:
        assert holder.findtext("q:DefinedAsLimit", None, NS) == "true"


def whole(document: Any, readings: list[dict[str, Any]]) -> None:
    """The document holds every result, equal to the ledger, and nothing else; its counts hold."""
    expected = results(readings)
    found = measurements(document)
    assert found.keys() == expected.keys()
    for seq, one in expected.items():
        equal(document, found[seq], one)
    for listed in document.xpath("//*[@n]"):
        assert int(listed.get("n")) == len(listed)
    numbers = [int(one) for one in document.xpath("//@id")]
    assert len(numbers) == len(set(numbers))
    assert int(document.get("idMax")) >= max(numbers)
    top = attributes(document)
    left_out = sum(int(count) for name, count in top.items() if name.startswith("left_out_"))
    assert int(top["readings_selected"]) == len(readings)
    assert int(top["results"]) == len(expected) == len(readings) - left_out


# (a) the demo's store -------------------------------------------------------------------------


def test_the_demo_s_engine_is_valid_and_equals_its_ledger(
    schema: Any, built: Built, tmp_path: Path
) -> None:
    store = str(built.store)
    lines = run("export", store, "--format", "readings").stdout.splitlines()
    readings = [json.loads(line) for line in lines]
    path = tmp_path / "engine.qif"
    made = run("export", store, "--format", "qif", "--save", str(path))
    assert made.returncode == 0, made.stderr
    document = parsed(schema, path.read_bytes())
    whole(document, readings)

    kinds = {one["verdict"]["result"] for one in results(readings).values()}
    assert {"conforming", "nonconforming", "undecided"} <= kinds
    assert int(attributes(document)["left_out_void"]) > 0
    assert int(attributes(document)["left_out_of_a_gauge"]) > 0
    assert attributes(document)["simulated"] == "true"
    assert "Simulated: no real part was measured." in document.findtext(
        "q:Header/q:Description", None, NS
    )
    units = document.findall("q:FileUnits/q:PrimaryUnits/*/q:UnitName", NS)
    assert [one.text for one in units] == ["°", "mm", "°C"]

    # a subset: one instrument
    made = run("export", store, "--format", "qif", "--instrument", "micrometer-inch")
    subset = [one for one in readings if one["instrument"] == "micrometer-inch"]
    assert subset
    whole(parsed(schema, made.stdout.encode()), subset)


# (b) a small store ----------------------------------------------------------------------------


@pytest.fixture
async def bench(tmp_path: Path) -> AsyncIterator[Bench]:
    (tmp_path / "bench.toml").write_text(trade.BENCH, "utf-8")
    async with service(tmp_path) as listening, client(listening) as http:
        yield Bench(http)


async def test_a_small_engine_is_valid_and_equals_the_api(bench: Bench, schema: Any) -> None:
    await bench.ready()
    for value in ("50.0", "60.0"):
        await bench.typed(value, "adapter-1", "N·m")
    waiting = await bench.typed("12.345", "mic-1")
    assert "step" not in waiting["placement"]
    slipped = await bench.typed("79.990", "mic-1")
    await bench.post(f"/v1/readings/{slipped['seq']}/voids", reason='<slipped> & "fell"')
    readings = (await bench.get("/v1/readings"))["readings"]
    answer = await bench.http.get("/v1/exports/readings?as=qif")
    assert answer.status_code == 200
    document = parsed(schema, answer.content)
    whole(document, readings)
    assert not {waiting["seq"], slipped["seq"]} & measurements(document).keys()
    assert int(attributes(document)["left_out_void"]) >= 1
    again = await bench.http.get("/v1/exports/readings?as=qif")
    strip = "q:Version/q:TimeCreated"
    other = parsed(schema, again.content)
    for one in (document, other):
        one.find(strip, NS).text = ""
    from lxml import etree

    assert etree.tostring(document) == etree.tostring(other)


async def test_a_store_without_readings_is_valid(bench: Bench, schema: Any) -> None:
    answer = await bench.http.get("/v1/exports/readings?as=qif")
    document = parsed(schema, answer.content)
    whole(document, [])
    status = document.findtext(".//q:InspectionStatus/q:InspectionStatusEnum", None, NS)
    assert status == "NOT_MEASURED"


# (c) what is rare -----------------------------------------------------------------------------

MARKUP = '<a href="x">&amp; \']]> é 汉 \U0001f527\ttab'


def test_names_with_markup_are_valid_and_come_back(schema: Any) -> None:
    spec = load(
        SPEC.replace('title = "Sleeve diameter"', "title = '<b>\"Sleeve\"</b> & ]]>'").encode(), "s"
    )
    record = {**RECORD, "id": MARKUP, "kind": "<kind>"}
    one = reading(
        instrument="<mic> & co",
        operator=MARKUP,
        because="line\nend\r\x00\x0b",
        placement={"piece": MARKUP, "build": "b<5>"},
        verdict={"notes": ['5 < 6 & "so" on', MARKUP]},
    )
    document = parsed(schema, file("qif", [one], Told(spec, record)))
    element = measurements(document)[10]
    said = attributes(element)
    assert said["operator"] == MARKUP
    assert said["reason"] == "line\nend\r\ufffd\ufffd"
    assert said["instrument"] == "<mic> & co"
    component = only(document, element.findtext("q:ActualComponentId", None, NS))
    assert component.findtext("q:SerialNumber", None, NS) == MARKUP
    assert document.findtext(".//q:WhatToMeasure", None, NS) == '<b>"Sleeve"</b> & ]]>'
    assert element.findtext("q:Description", None, NS) == f'5 < 6 & "so" on {MARKUP}'


def test_inches_are_declared_with_the_schema_s_own_factor(schema: Any) -> None:
    inch = {"unit": "in", "measured": "0.98425", "lower": "0.9839", "upper": "0.9846"}
    readings = [reading(verdict=inch, value="0.98425", unit="in"), reading(12)]
    document = parsed(schema, file("qif", readings))
    units = {
        one.findtext("q:UnitName", None, NS): one.findtext("q:UnitConversion/q:Factor", None, NS)
        for one in document.findall("q:FileUnits/*/q:LinearUnit", NS)
    }
    # documentation of UnitConversionType in Units.xsd
    assert {name: Decimal(factor) for name, factor in units.items()} == {
        "mm": Decimal("0.001"),
        "in": Decimal("0.0254"),
    }
    values = [one.find("q:Value", NS) for one in measurements(document).values()]
    assert [(one.text, one.get("linearUnit")) for one in values] == [
        ("0.98425", "in"),
        ("25.001", "mm"),
    ]


@pytest.mark.parametrize(
    ("unit", "factor", "offset"),
    # documentation of UnitConversionType in Units.xsd, to its digits
    [("°F", "0.555555556", "459.67"), ("°C", "1", "273.15"), ("°", "0.017453293", None),
     ("ft", "0.3048", None)],
)  # fmt: skip
def test_conversions_are_those_of_the_schema(
    unit: str, factor: str, offset: str | None, schema: Any
) -> None:
    given = reading(verdict={"unit": unit, "measured": "1.5", "lower": None, "upper": None})
    document = parsed(schema, file("qif", [given]))
    (found,) = document.xpath(
        "q:FileUnits/*/*[q:UnitName=$unit]/q:UnitConversion", unit=unit, namespaces=NS
    )
    digits = Decimal(found.findtext("q:Factor", None, NS))
    assert abs(digits - Decimal(factor)) <= Decimal("5e-10")
    assert found.findtext("q:Offset", None, NS) == offset
    if unit in ("°F", "ft"):
        assert document.findtext(".//q:NonTolerance", None, NS) == "MEASURED"


def test_no_uncertainty_is_no_uncertainty(schema: Any) -> None:
    bare = {"expanded_uncertainty": None, "guard_band": None, "rule": "simple"}
    document = parsed(schema, file("qif", [reading(verdict=bare)]))
    element = measurements(document)[10]
    assert element.find("q:Value", NS).get("combinedUncertainty") is None
    assert "expanded_uncertainty" not in attributes(element)


def test_the_combined_uncertainty_is_u_and_not_its_multiple(schema: Any) -> None:
    given = {"expanded_uncertainty": "0.0030", "coverage_factor": "3"}
    document = parsed(schema, file("qif", [reading(verdict=given)]))
    value = measurements(document)[10].find("q:Value", NS)
    # GUM (JCGM 100:2008) 6.2.1: U = k u_c
    assert Decimal(value.get("combinedUncertainty")) == Decimal("0.001")


@pytest.mark.parametrize(("result", "status"), STATUS.items())
def test_only_what_conforms_passes(result: str, status: str, schema: Any) -> None:
    document = parsed(schema, file("qif", [reading(verdict={"result": result})]))
    (found,) = document.findall(".//q:CharacteristicStatusEnum", NS)
    assert found.text == status


def test_void_waiting_and_gauge_readings_are_no_results(schema: Any) -> None:
    readings = [
        objected("void", "Slipped.", 10),
        objected("no_suited_step", "Nothing asks for it.", 12),
        reading(14, placement={"kind": "zero", "part": None, "piece": None}),
        reading(16, placement={"kind": "study", "part": None, "piece": None}),
        reading(18, placement={"kind": "check", "part": None, "piece": None}),
        reading(20, verdict={"measured": None}),
        reading(22, verdict={"unit": "N·m", "lower": None, "upper": None}),
        reading(24),
    ]
    document = parsed(schema, file("qif", readings))
    assert list(measurements(document)) == [24]
    told = attributes(document)
    assert {name: told[name] for name in told if name.startswith("left_out")} == {
        "left_out_void": "1",
        "left_out_not_placed": "1",
        "left_out_of_a_gauge": "3",
        "left_out_without_value": "1",
        "left_out_without_limits": "1",
    }


def test_what_is_wanted_is_the_spec_s(schema: Any) -> None:
    document = parsed(schema, file("qif", [reading()]))
    target = document.find(".//q:UserDefinedLinearCharacteristicNominal/q:TargetValue", NS)
    assert (target.text, target.get("linearUnit")) == ("25.000", "mm")
    part = document.find(".//q:Part", NS)
    assert part.findtext("q:Header/q:Name", None, NS) == "Sleeve"
    assert part.findtext("q:Version", None, NS) == "1"
    assert part.findtext("q:Header/q:Description", None, NS).startswith("Invented")
    end = document.findtext(".//q:Calibration/q:ExpirationDate", None, NS)
    assert end == "2099-12-31T23:59:59"


def test_a_limit_in_a_target_s_place_is_told(schema: Any) -> None:
    """The schema wants a target of every characteristic in a unit of the user's own."""
    torque = {"unit": "N·m", "measured": "5.0", "lower": "2", "upper": None}
    given = reading(verdict=torque, placement={"kind": "turn", "characteristic": "turns"})
    document = parsed(schema, file("qif", [given], Told(known=False)))
    nominal = document.find(".//q:UserDefinedUnitCharacteristicNominal", NS)
    assert nominal.findtext("q:TargetValue", None, NS) == "2"
    assert "no target is stated" in attributes(nominal)["target_note"]
    assert nominal.findtext("q:MinValue", None, NS) == "2"
    assert nominal.find("q:MaxValue", NS) is None
    (unit,) = document.findall(".//q:UserDefinedUnit", NS)
    assert unit.findtext("q:UnitName", None, NS) == "N·m"
    assert unit.findtext("q:WhatIsMeasured", None, NS) == "torque"


def test_simulated_is_said_where_it_is_so(schema: Any) -> None:
    document = parsed(schema, file("qif", [reading(), reading(12, simulated=True)]))
    real, simulated = measurements(document).values()
    assert attributes(real)["simulated"] == "false"
    assert attributes(simulated)["simulated"] == "true"
    assert simulated.findtext("q:Description", None, NS).startswith("Simulated")
    assert attributes(document)["simulated"] == "true"
    alone = parsed(schema, file("qif", [reading()]))
    assert attributes(alone)["simulated"] == "false"
    assert b"Simulated" not in file("qif", [reading()])


def test_identities_are_always_the_same_and_never_shared(schema: Any) -> None:
    first = parsed(schema, file("qif", [reading(), reading(12)]))
    again = parsed(schema, file("qif", [reading(12)]))
    uuids = {seq: attributes(one)["uuid"] for seq, one in measurements(first).items()}
    assert len(set(uuids.values())) == 2
    assert attributes(measurements(again)[12])["uuid"] == uuids[12]
    assert first.findtext("q:QPId", None, NS) != again.findtext("q:QPId", None, NS)


def test_without_the_spec_and_the_instrument_s_record_it_is_valid_too(schema: Any) -> None:
    document = parsed(schema, file("qif", [reading()], Told(known=False)))
    assert measurements(document)[10].find("q:MeasurementDeviceIds", NS) is None
    assert document.findtext(".//q:WhatToMeasure", None, NS) == "diameter"


def test_the_schema_finds_what_is_wrong(schema: Any) -> None:
    from lxml import etree

    data = file("qif", [reading()])
    for good, bad in (
        (b">PASS<", b">FINE<"),
        (b'versionQIF="3.0.0"', b'versionQIF="2.0.0"'),
        (b">25.001</Value>", b">25,001</Value>"),
        (b"<CharacteristicItemId>", b"<CharacteristicItemId>9"),
    ):
        assert data.count(good) == 1
        assert not schema.validate(etree.fromstring(data.replace(good, bad)))

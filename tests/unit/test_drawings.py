"""Drawings of steps: the lit point is where it should be, for any spec that loads."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import httpx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.labels.catalogue import labels
from api.pictures.directions import directions
from api.pictures.drawing import SHAPES, draw_pattern, draw_step
from api.pictures.guess import shape_of
from api.pictures.pattern import arrange
from api.pictures.strokes import HEIGHT, LIT, WIDTH
from capture.spec.load import load
from capture.spec.model import Spec
from capture.spec.shape import Shape
from capture.step import Step, steps_of
from tests.running import SPEC, client, service
from tests.unit.spec_page import edited, loaded, page, problems

NAME = "{http://www.w3.org/2000/svg}"
ENGINE = Path(__file__).parents[2] / "simulators/scenarios/inline-four/engine.toml"
ENGLISH, GERMAN = labels("en"), labels("de")
Spot = tuple[float, float]
NUMBERS = {"x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "font-size"}


@pytest.fixture(scope="module")
def engine() -> Spec:
    return load(ENGINE.read_bytes(), "engine.toml")


def steps(spec: Spec) -> dict[str, Step]:
    return {step.id: step for _, some in steps_of(spec) for step in some}


def drawn(spec: Spec, step: str, *done: str) -> ET.Element:
    return ET.fromstring(draw_step(spec, steps(spec)[step], labels=ENGLISH, done=done))


def lit(picture: ET.Element, name: str) -> list[ET.Element]:
    """The lit elements of this name, without the sister's outline."""
    return [one for one in picture.iter(NAME + name) if one.get("class") == "lit"]


def corners(shape: ET.Element) -> list[Spot]:
    return [
        (float(x), float(y)) for x, y in (p.split(",") for p in str(shape.get("points")).split())
    ]


def middle(shape: ET.Element) -> Spot:
    """Of the box round an arrow."""
    xs, ys = zip(*corners(shape), strict=True)
    return ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)


def size(shape: ET.Element) -> Spot:
    xs, ys = zip(*corners(shape), strict=True)
    return (max(xs) - min(xs), max(ys) - min(ys))


def texts(picture: ET.Element) -> list[str]:
    return [str(one.text) for one in picture.iter(f"{NAME}text")]


def desc(picture: ET.Element) -> str:
    return str(picture.findtext(f"{NAME}desc"))


def sound(svg: str) -> ET.Element:
    """What holds for every drawing and plot."""
    picture = ET.fromstring(svg)
    assert picture.get("role") in ("img", "group")
    assert [one.tag for one in picture][:2] == [f"{NAME}title", f"{NAME}desc"]
    assert picture.findtext(f"{NAME}title")
    for one in picture.iter():
        assert one.tag.removeprefix(NAME) in {
            "svg", "title", "desc", "g", "a", "path", "line", "rect", "circle", "polygon",
            "polyline", "text", "style",
        }  # fmt: skip
        assert not {"style", "id"} & set(one.attrib)
        assert not any(key.startswith("on") for key in one.attrib)
        assert all(math.isfinite(float(one.attrib[key])) for key in NUMBERS & set(one.attrib))
        assert str(one.get("href", "/")).startswith("/")
    return picture


# every step of every spec there is -------------------------------------------------------------


@pytest.mark.parametrize("text", [page(), SPEC, ENGINE.read_text("utf-8")])
def test_every_step_has_a_drawing_that_says_what_it_is(text: str) -> None:
    spec = load(text.encode(), "spec.toml")
    for step in steps(spec).values():
        picture = sound(draw_step(spec, step, labels=GERMAN))
        assert picture.get("viewBox", "").endswith(f" {WIDTH} {HEIGHT}")
        lights = [one for one in picture.iter() if "lit" in str(one.get("class")).split()]
        assert lights, step.id
        for one in lights:
            assert one.get("fill") == LIT, "a tone"
            assert one.get("stroke") == "currentColor", "and an outline that needs none"
        strokes = [float(one.get("stroke-width", WIDTH)) for one in picture.iter()]
        assert min(strokes) >= 0.01 * WIDTH, "to be seen from across the bench"


def test_every_shape_is_drawn_for_what_it_is_said_of() -> None:
    assert set(SHAPES) == set(Shape)
    for shape in Shape:
        spec = loaded(edited(('title = "Barrel"\n', f'title = "Barrel"\nshape = "{shape}"\n')))
        step = steps(spec)["measure-bore/1/bottom-across"]
        assert shape_of(spec, step) is shape
        picture = sound(draw_step(spec, step, labels=ENGLISH))
        assert lit(picture, "polygon"), shape


def test_what_the_spec_leaves_open_is_guessed() -> None:
    spec = loaded(page())
    found = {
        step.subject: shape_of(spec, step) for step in steps(spec).values() if step.part is not None
    }
    assert found["bore"] is Shape.BORE
    assert found["barrel-temperature"] is Shape.PROBE
    assert found["plunger-diameter"] is Shape.PART
    assert found["flange-flatness"] is Shape.FACE
    assert found["cover-screws"] is Shape.BOLT
    assert found["ring-gap"] is Shape.PART, "a plunger is no ring"
    pump = load(SPEC.encode(), "pump.toml")
    assert shape_of(pump, steps(pump)["measure-diameter/1/top"]) is Shape.JOURNAL


def test_an_engine_without_shapes_is_drawn_by_its_words_and_gauges(engine: Spec) -> None:
    """What the demo states, guessed from its ids and its kinds of gauge; where another gauge
    measures another point of the part, no point of it is lit at a guess."""
    kept = ("shape = ", "layout = ", "seen_from = ", "directions = ")
    lines = ENGINE.read_text("utf-8").splitlines()
    silent = load("\n".join(x for x in lines if not x.startswith(kept)).encode(), "silent.toml")
    assert not any(part.shape for part in silent.parts.values())
    unlike = set()
    for step in steps(silent).values():
        if step.part is not None:
            if shape_of(silent, step) is not shape_of(engine, steps(engine)[step.id]):
                unlike.add((step.subject, shape_of(silent, step)))
            sound(draw_step(silent, step, labels=ENGLISH))
    assert unlike == {
        ("crank-end-float", Shape.PART),
        ("deck-clearance", Shape.PART),
        ("deck-flatness", Shape.PART),
        ("ring-side-clearance", Shape.PART),
        ("rod-side-clearance", Shape.PART),
    }


# where the lit point is ------------------------------------------------------------------------


def test_a_bore_is_lit_at_its_depth_and_in_its_direction(engine: Spec) -> None:
    """Cylinder 3, second depth from the top, thrust: across the crankshaft, so upright."""
    picture = drawn(engine, "measure-bore/3/middle-thrust")
    across, along = sorted(lit(picture, "polygon"), key=lambda one: middle(one)[0])
    assert middle(across)[1] == pytest.approx((14 + 190) / 2, abs=1)
    assert size(across)[0] > 5 * size(across)[1] / 2
    assert size(along)[1] > 2 * size(along)[0]
    sister = next(one for one in picture.iter() if one.get("class") == "lit sister")
    row = [one for one in picture.iter() if one.get("data-number")]
    assert [one.get("data-number") for one in row] == ["1", "2", "3", "4"]
    assert row.index(sister) == 2
    assert [float(str(one.get("cx"))) for one in row] == sorted(
        float(str(o.get("cx"))) for o in row
    )
    assert texts(picture) == ["middle", "thrust", "3"]
    assert desc(picture) == "Cylinder, 3 of 4. Depth: middle. Direction: thrust."


def test_depths_go_from_the_top_down_and_directions_differ(engine: Spec) -> None:
    heights = []
    for depth in ("top", "middle", "bottom"):
        arrows = lit(drawn(engine, f"measure-bore/1/{depth}-axial"), "polygon")
        flat = [one for one in arrows if size(one)[0] > size(one)[1]]
        assert len(flat) == 2, "axial lies flat"
        heights.append(middle(min(flat, key=lambda one: middle(one)[0]))[1])
    assert heights == sorted(heights)
    assert len(set(heights)) == 3


def test_a_journal_is_lit_at_its_end(engine: Spec) -> None:
    places = []
    for end in ("front", "rear"):
        picture = drawn(engine, f"measure-main-journal-diameter/2/{end}-a")
        arrows = sorted(lit(picture, "polygon"), key=lambda one: middle(one)[0])
        places.append(middle(arrows[0])[0])
        assert size(arrows[0])[1] > size(arrows[0])[0], "across the journal"
        assert size(arrows[1])[0] > size(arrows[1])[1], "a is drawn at 0°"
    assert places[0] < places[1], "front on the left"


def test_stated_directions_are_drawn(engine: Spec) -> None:
    arrow = lit(drawn(engine, "measure-housing-bore/1/slanted"), "polygon")[0]
    wide, high = size(arrow)
    assert wide == pytest.approx(high, rel=0.02), "45°"


def test_points_round_a_piston_lie_on_their_own_sides(engine: Spec) -> None:
    spots = {}
    for side in ("thrust", "front", "opposite", "rear"):
        one = lit(drawn(engine, f"measure-deck-clearance/1/{side}"), "circle")[0]
        spots[side] = float(str(one.get("cx"))), float(str(one.get("cy")))
    assert spots["thrust"][1] < spots["front"][1] < spots["opposite"][1]
    assert spots["front"][0] < spots["thrust"][0] < spots["rear"][0]


def test_a_straight_edge_lies_where_the_layout_says(engine: Spec) -> None:
    upper = lit(drawn(engine, "measure-deck-flatness/1/intake-side"), "polygon")[0]
    lower = lit(drawn(engine, "measure-deck-flatness/1/exhaust-side"), "polygon")[0]
    slanted = lit(drawn(engine, "measure-deck-flatness/1/corner-to-corner"), "polygon")[0]
    assert middle(upper)[1] < middle(lower)[1], "y is upwards"
    assert size(slanted)[1] > 3 * size(upper)[1]


def test_end_float_is_pushed_to_its_side(engine: Spec) -> None:
    tips = []
    for word in ("forward", "rearward"):
        arrow = lit(drawn(engine, f"measure-crank-end-float/1/{word}/2"), "polygon")[0]
        ends = corners(arrow)
        far = [x for x, y in ends if abs(y - 218) < 0.2]
        tips.append(far[0])
    assert tips[0] < tips[1], "the front is on the left"


def test_grooves_are_counted_from_the_crown(engine: Spec) -> None:
    heights = []
    for word in ("top", "second"):
        picture = drawn(engine, f"measure-ring-side-clearance/2/{word}-groove")
        heights.append(float(str(lit(picture, "rect")[0].get("y"))))
    assert heights[0] < heights[1]


def test_what_is_done_on_the_same_part_is_marked(engine: Spec) -> None:
    def marks(*done: str) -> int:
        picture = drawn(engine, "measure-bore/1/bottom-thrust", *done)
        return sum(one.get("class") == "was" for one in picture.iter())

    assert marks() == 0
    assert marks("measure-bore/1/top-thrust") == 2
    assert marks("measure-bore/1/top-thrust", "measure-bore/1/middle-thrust") == 4
    assert marks("measure-bore/1/bottom-axial") == 2
    assert marks("measure-bore/2/top-thrust") == 0, "another bore"
    twice = [f"measure-crank-end-float/1/forward/{n}" for n in (1, 2)]
    assert "rearward" in texts(drawn(engine, "measure-crank-end-float/1/rearward/1", *twice))


# fasteners -------------------------------------------------------------------------------------


def bolts(picture: ET.Element) -> dict[int, Spot]:
    found = {}
    for one in picture.iter():
        if one.get("data-number"):
            at = (
                middle(one)
                if one.get("points")
                else (float(str(one.get("cx"))), float(str(one.get("cy"))))
            )
            found[int(str(one.get("data-number")))] = at
    return found


def test_bolts_stand_where_the_layout_says(engine: Spec) -> None:
    done = [f"tighten-main-bolts/{n}/snug" for n in (5, 6, 3)]
    picture = drawn(engine, "tighten-main-bolts/4/snug", *done)
    places = bolts(picture)
    assert sorted(places) == list(range(1, 11))
    for number in range(1, 10, 2):
        assert places[number][0] == pytest.approx(places[number + 1][0], abs=0.2), "one cap"
        assert places[number][1] < places[number + 1][1], "y is upwards"
    assert places[1][0] < places[3][0] < places[9][0]
    lights = [one for one in lit(picture, "polygon") if one.get("data-number")]
    assert [one.get("data-number") for one in lights] == ["4"]
    assert sum(one.get("class") == "was" for one in picture.iter()) == 3
    assert "Order: 5, 6, 3, 4, 7, 8, 1, 2, 9, 10." in desc(picture)
    assert "below, front on the left" in texts(picture)
    lead = next(one for one in picture.iter() if one.get("class") == "lit-line")
    ends = [float(str(lead.get(key))) for key in ("x2", "y2")]
    assert math.dist(ends, places[7]) < math.dist(ends, places[8]), "7 is next"


def test_bolts_without_a_layout_say_that_this_is_no_map() -> None:
    spec = loaded(page())
    picture = drawn(spec, "tighten-cover-screws/1/snug")
    assert "numbers only, places not stated" in texts(picture)
    places = bolts(picture)
    assert math.dist(places[1], places[3]) > 1.3 * math.dist(places[1], places[2]), "crosswise"
    where = arrange(spec.fasteners["gland-screws"], spec.parts["gland-screw"])
    assert not where.known
    assert where.places[1][0] == pytest.approx(where.places[2][0]), "both at one place"
    assert "above, lever to the left" in texts(drawn(spec, "tighten-flange-screws/2/final"))


def test_a_pattern_carries_verdicts_and_links(engine: Spec) -> None:
    svg = draw_pattern(
        engine, "rod-bolts", labels=GERMAN, results={1: "conforming", 2: "nonconforming"},
        hrefs={2: "/readings/12"},
    )  # fmt: skip
    picture = sound(svg)
    assert picture.get("role") == "group", "links may not stand inside an image"
    assert [one.get("href") for one in picture.iter(f"{NAME}a")] == ["/readings/12"]
    words = [one.get("data-result") for one in picture.iter() if one.get("class") == "mark"]
    assert words == ["conforming", "nonconforming"]
    assert GERMAN.named("common.verdict", "nonconforming") in desc(picture)


# rows and directions ---------------------------------------------------------------------------


def test_a_long_row_shows_those_round_the_wanted_one() -> None:
    text = SPEC.replace("count = 2", "count = 400")
    many = load(text.encode(), "many.toml")
    for number, first in ((1, 1), (200, 194), (400, 389)):
        picture = drawn(many, f"measure-diameter/{number}/top")
        row = [int(str(one.get("data-number"))) for one in picture.iter() if one.get("data-number")]
        assert row == list(range(first, first + 12))
        assert str(number) in texts(picture)


@pytest.mark.parametrize(
    ("axes", "cap", "ways", "degrees"),
    [
        (("thrust", "pin"), False, False, [90, 0]),
        (("across", "along"), False, False, [90, 0]),
        (("along", "across"), True, False, [90, 0]),
        (("square-to-split", "along-split"), True, False, [90, 0]),
        (("vertical", "horizontal"), False, False, [90, 0]),
        (("0", "90", "45deg"), False, False, [0, 90, 45]),
        (("a", "b"), False, False, [0, 90]),
        (("a", "b", "c"), False, False, [0, 60, 120]),
        (("thrust", "nearby"), False, False, [0, 90]),
        (("thrust", "across"), False, False, [0, 90]),
        (("thrust", "opposite"), False, True, [90, 270]),
        (("x",), True, False, [90]),
        (("x",), False, False, [0]),
    ],
)
def test_words_of_axes_are_directions(
    axes: tuple[str, ...], cap: bool, ways: bool, degrees: list[float]
) -> None:
    assert directions(axes, cap=cap, ways=ways) == degrees


# any spec --------------------------------------------------------------------------------------

WORD = st.text("abcdefghijklmnopqrstuvwxyz0123456789", min_size=1, max_size=64)
WORDS = st.lists(WORD, max_size=5, unique=True)
KIND = st.sampled_from(["bore-gauge", "micrometer", "feeler", "dial-indicator"])


@st.composite
def specs(draw: st.DrawFn) -> str:
    """A spec with one size and one group of fasteners of any form."""
    depths, axes = draw(WORDS), draw(WORDS)
    count, per = draw(st.integers(1, 9)), draw(st.integers(1, 3))
    shape = draw(st.none() | st.sampled_from(Shape))
    order = draw(st.permutations(range(1, count * per + 1)))
    number = st.integers(-(10**8), 10**8) | st.decimals(-1, 1, places=6)
    place = st.tuples(number, number)
    layout = draw(
        st.none() | st.lists(place, min_size=len(order), max_size=len(order), unique=True)
    )
    lines = [
        'format = 1\nid = "x"\ntitle = "<x> & y"\nrevision = "1"',
        f'[[part]]\nid = "p"\ntitle = "P"\ncount = {count}',
        f'[[part]]\nid = "b"\ntitle = "B"\ncount = {count * per}\nper = {per}\nposition = "p"',
        '[[characteristic]]\nid = "c"\ntitle = "C"\npart = "p"\nunit = "mm"\n'
        f'lower_limit_of_size = "10"\nupper_limit_of_size = "11"\ninstruments = ["{draw(KIND)}"]',
        f"repeats = {draw(st.integers(1, 2))}",
        f"depths = {depths}" if depths else "",
        f"axes = {axes}" if axes else "",
        f'shape = "{shape}"' if shape else "",
        f'[[fastener]]\nid = "f"\ntitle = "F"\npart = "b"\nlubricant = "dry"\norder = {order}\n'
        'instruments = ["torque-wrench"]',
        f"layout = {[[str(x), str(y)] for x, y in layout]}" if layout else "",
        '[[fastener.stage]]\nid = "s"\ntitle = "S"\nunit = "N·m"\ntarget = "5"\nupper_limit = "6"',
        '[[operation]]\nmeasure = "c"\n[[operation]]\ntighten = "f"',
    ]
    return "\n".join(lines).replace("'", '"')


@settings(max_examples=40)
@given(specs())
def test_any_spec_is_drawn_within_its_picture(text: str) -> None:
    spec = load(text.encode(), "any.toml")
    for at, step in enumerate(steps(spec).values()):
        if at % 7:
            continue
        picture = sound(draw_step(spec, step, labels=ENGLISH))
        for one in picture.iter(f"{NAME}polygon"):
            for x, y in corners(one):
                assert -1 <= x <= WIDTH + 1
                assert -46 <= y <= HEIGHT + 1


# the spec's keys -------------------------------------------------------------------------------

FLANGE = "layout = [[-40, -25, 40, -25], [0, -30, 0, 30]]"
SCREWS = "layout = [[0, 30], [26, -15], [-26, -15]]"


@pytest.mark.parametrize(
    ("old", "new", "key", "message", "mend"),
    [
        ('shape = "face"', 'shape = "fase"', "shape", "not known here", 'write "face"'),
        (FLANGE, "layout = [[0, 0]]", "layout", "1 places for 2 points", "one for each point"),
        (FLANGE, "layout = [[0, 0, 1], [0, 1]]", "layout[1]", "3 numbers", "write [x, y]"),
        (FLANGE, "layout = 3", "layout", "not an array", "in brackets"),
        (SCREWS, "layout = [[0, 30]]", "layout", "1 places for 3 fasteners", "each fastener"),
        (SCREWS, "layout = [[0, 30], [0, 30], [1, 1]]", "layout", "the same", "its own"),
        (SCREWS, 'layout = [[0, "3,5"], [0, 30], [1, 1]]', "layout[1]", "comma", '"3.5"'),
        (FLANGE, "directions = [90]", "directions", "1 directions for 2 axes", "each axis"),
        (FLANGE, "directions = [90, 400]", "directions", "full turn", "0 to 360"),
    ],
)
def test_a_wrong_key_is_explained(old: str, new: str, key: str, message: str, mend: str) -> None:
    found = problems(edited((old, new)))
    assert len(found) == 1, found
    assert found[0].key.endswith(key)
    assert message in found[0].message
    assert mend in found[0].mend


def test_geometry_is_read_as_it_stands() -> None:
    spec = loaded(edited((FLANGE, f"{FLANGE}\ndirections = [0, 90.5]")))
    assert spec.parts["flange"].shape == "face"
    lines = [list(place) for place in spec.characteristics["flange-flatness"].layout]
    assert lines == [[-40, -25, 40, -25], [0, -30, 0, 30]]
    assert list(spec.characteristics["flange-flatness"].directions) == [0, 90.5]
    assert list(spec.fasteners["flange-screws"].layout[1]) == [26, -15]
    assert spec.fasteners["flange-screws"].seen_from == "above, lever to the left"
    assert spec.parts["barrel"].shape is None


# the route -------------------------------------------------------------------------------------


async def test_the_service_draws_a_step(tmp_path: Path) -> None:
    async with service(tmp_path) as up, client(up) as http:
        spec = (await http.post("/v1/specs", content=SPEC.encode())).json()["id"]
        build = (await http.post("/v1/builds", json={"spec": spec, "title": "x"})).json()["id"]
        where = f"/v1/builds/{build}/drawings"
        asked: dict[str, Any] = {"step": "measure-diameter/1/bottom"}
        first = await http.get(where, params=asked)
        assert first.status_code == 200, first.text
        assert first.headers["content-type"] == "image/svg+xml"
        assert "sha256-" in first.headers["content-security-policy"]
        assert "<style>" in first.text
        kept = {"If-None-Match": first.headers["etag"]}
        assert (await http.get(where, params=asked, headers=kept)).status_code == 304
        press = {"instrument": "mic-1", "value": "25.000", "unit": "mm"}
        (await http.post("/v1/readings", json=press)).raise_for_status()
        then = await http.get(where, params=asked, headers=kept)
        assert then.status_code == 200, "the top of the same sleeve is done now"
        assert then.text.count('class="was"') == 2
        inline = await http.get(where, params={**asked, "inline": True, "language": "de"})
        assert "<style>" not in inline.text
        assert "1 von 2" in inline.text
        await _wrong(http, build)


async def _wrong(http: httpx.AsyncClient, build: str) -> None:
    wrong = await http.get(f"/v1/builds/{build}/drawings", params={"step": "measure-diameter/9"})
    assert wrong.status_code == 404
    assert "steps" in wrong.json()["mend"]
    unknown = await http.get("/v1/builds/b99/drawings", params={"step": "x"})
    assert unknown.status_code == 404
    assert (await http.get(f"/v1/builds/{build}/drawings")).status_code == 422

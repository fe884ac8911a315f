"""Parts that are not round, or not measured across: piston, rod, crankshaft, faces, any other."""

from __future__ import annotations

from api.pictures.seen import Seen
from api.pictures.strokes import (
    LIT,
    THIN,
    arrow,
    circle,
    dashed,
    line,
    path,
    rect,
    solid,
    span,
    spot,
    turn,
    was,
    words,
)
from capture.spec.shape import Place

CAPTION = 240.0
MIDDLE = 250.0
MOST_POINTS = 64
BACK = frozenset({"rear", "rearward", "rearwards", "back", "backward", "aft"})
FORWARD = frozenset({"front", "forward", "forwards"})


def piston(seen: Seen) -> list[str]:
    """From the side, square to the pin: the gauge point low on the skirt."""
    made = [
        path("M152 18H348V196H314L296 172H204L186 196H152Z"),
        circle(MIDDLE, 112, 24),
    ]
    made += [line(152, y, 348, y, stroke_width=THIN) for y in (40, 56, 72)]
    for at in seen.drawn_depths():
        y = seen.height(at, 80, 190)
        made.append(dashed(164, y, 336, y))
        made += [was(170, y), was(330, y)] if seen.done_depth(at) else []
    if seen.wanted:
        y = seen.height(seen.depth, 80, 190) if seen.depth is not None else 158.0
        made += [dashed(96, y, 404, y), arrow((92, y), (149, y)), arrow((408, y), (351, y))]
    return [*made, *_below(seen)]


def crown(seen: Seen) -> list[str]:
    """A piston in its bore from above: points round it."""
    x, y = 160.0, 122.0
    made = [circle(x, y, 82), circle(x, y, 70, stroke_width=THIN)]
    made.append(dashed(x - 70, y, x + 70, y))
    for at in seen.drawn_axes():
        place = seen.at(at, x, y, 50)
        made.append(was(*place) if seen.done_axis(at) else circle(*place, 9, stroke_width=THIN))
    if seen.axis is not None:
        made.append(arrow(seen.at(seen.axis, x, y, 116), seen.at(seen.axis, x, y, 66)))
        made.append(spot(*seen.at(seen.axis, x, y, 50)))
    elif seen.wanted:
        made += [arrow((x + 122, y), (x + 20, y)), spot(x, y)]
    return [*made, *_beside(seen, 390, 140, 210)]


def groove(seen: Seen) -> list[str]:
    """A piston's wall cut open, a ring in each groove; the gap above the ring is the clearance."""
    names = seen.axes or seen.depths
    count = min(max(len(names), 1), 4)
    at = (seen.axis if seen.axes else seen.depth) or 0
    high = 176.0 / count
    edge, mouth = 110.0, 230.0
    way = f"M{edge} 12H{mouth}"
    made, rings = [], []
    for n in range(count):
        top = 12 + n * high + high * 0.28
        tall = high * 0.5
        way += f"V{top:.1f}H{mouth - 80}V{top + tall:.1f}H{mouth}"
        room = tall * 0.3
        rings.append(rect(mouth - 62, top + room, 84, tall - room, fill="currentColor"))
        done = (0, n) in seen.done if seen.axes else (n, 0) in seen.done
        if n == min(at, count - 1) and seen.wanted:
            rings.append(rect(mouth - 78, top, 78, room, **_bright()))
            rings.append(arrow((mouth + 130, top + room / 2), (mouth + 4, top + room / 2), 7))
        elif done:
            rings.append(was(mouth + 44, top + tall / 2))
    made.append(path(f"{way}V196H{edge}", fill="currentColor", fill_opacity="0.22"))
    return [*made, *rings, *_below(seen)]


def rod(seen: Seen) -> list[str]:
    """A connecting rod from the front, its big end on the left."""
    made = [
        circle(150, 120, 92),
        circle(150, 120, 62),
        circle(408, 120, 50),
        circle(408, 120, 28),
        line(238, 94, 362, 102),
        line(238, 146, 362, 138),
        line(150, 28, 150, 58, stroke_width=THIN),
        line(150, 182, 150, 212, stroke_width=THIN),
    ]
    if seen.wanted:
        made += [arrow((300, 26), (300, 92)), spot(300, 120)]
    return [*made, *_below(seen)]


def beside_rod(seen: Seen) -> list[str]:
    """A rod between the cheeks of its crankpin; the gap at its side is the clearance."""
    made = [
        rect(86, 60, 56, 140, rx=6),
        rect(358, 60, 56, 140, rx=6),
        solid(180, 44, 172, 152),
        dashed(60, 130, 440, 130),
    ]
    if seen.wanted:
        made += [rect(146, 70, 31, 120, **_bright()), arrow((161, 4), (161, 66))]
    return [*made, *_below(seen)]


def cap(seen: Seen) -> list[str]:
    """A cap with its two bolts."""
    made = [path("M96 190V92H404V190H330A80 80 0 0 0 170 190Z")]
    for x in (138.0, 362.0):
        made += [rect(x - 28, 58, 56, 34, fill="currentColor"), dashed(x, 104, x, 184)]
    if seen.wanted:
        made += [arrow((250, 14), (250, 88)), spot(250, 104)]
    return [*made, *_below(seen)]


def bolt(seen: Seen) -> list[str]:
    """A bolt lying, its length below it."""
    made = [rect(60, 50, 56, 96, rx=6), rect(116, 76, 324, 44)]
    made += [line(x, 78, x - 12, 118, stroke_width=THIN) for x in range(300, 440, 22)]
    if seen.wanted:
        made += [dashed(60, 158, 60, 214), dashed(440, 132, 440, 214), span((63, 190), (437, 190))]
    return [*made, *_below(seen)]


def crankshaft(seen: Seen, *, turned: bool = False) -> list[str]:
    """On its axis: pushed to and fro, or turned."""
    made = [rect(x, 90, 44, 32) for x in (34, 158, 282)] + [rect(406, 90, 26, 32)]
    for x, cheek, pin in ((78, 26, 34), (202, 84, 152), (326, 26, 34)):
        made += [rect(x, cheek, 20, 102, rx=5), rect(x + 60, cheek, 20, 102, rx=5)]
        made.append(rect(x + 20, pin, 40, 26))
    made.append(dashed(10, 106, 452, 106))
    if turned:
        made.append(turn(432, 106, 46))
    elif seen.wanted:
        aim = {word for name in (seen.depth_word, seen.axis_word) for word in name.split("-")}
        if aim & BACK:
            made.append(arrow((50, 218), (230, 218), 10))
        elif aim & FORWARD:
            made.append(arrow((230, 218), (50, 218), 10))
        else:
            made.append(span((50, 218), (230, 218), 9))
        return [*made, *_beside(seen, 372, 232, 240)]
    return made


def chamber(seen: Seen) -> list[str]:
    """A chamber being filled from a burette."""
    made = [path("M60 96H120C130 190 370 190 380 96H440V206H60Z")]
    if seen.wanted:
        made.append(path("M126 116C144 180 356 180 374 116Z", **_bright()))
        made.append(arrow((250, 42), (250, 106), 7))
    made += [rect(232, 4, 36, 44), line(250, 48, 250, 60, stroke_width=THIN)]
    return [*made, *_below(seen)]


def block(seen: Seen) -> list[str]:
    """A cylinder block from the side."""
    made = [
        path("M70 30H430V150L456 196H44L70 150Z"),
        line(70, 58, 430, 58, stroke_width=THIN),
    ]
    made += [dashed(x, 64, x, 140) for x in (104, 164, 180, 240, 256, 316, 332, 392)]
    if seen.wanted:
        made += [arrow((250, 2), (250, 84)), spot(250, 104)]
    return [*made, *_below(seen)]


def probe(seen: Seen) -> list[str]:
    """A thermometer on the part."""
    made = [rect(70, 140, 360, 60, rx=10)]
    if seen.wanted:
        made += [
            path("M238 102V28a12 12 0 0 1 24 0V102", stroke_width=5),
            circle(250, 122, 24, **_bright()),
            line(250, 112, 250, 52, stroke_width=7),
            arrow((390, 70), (284, 116)),
        ]
    return [*made, *_below(seen)]


def face(seen: Seen) -> list[str]:
    """A flat face from above: where the layout says, else its points in rows."""
    return [rect(16, 12, 468, 184, rx=10), *_on_face(seen, 44, 40, 412, 128), *_below(seen)]


def part(seen: Seen) -> list[str]:
    """Any part."""
    return [rect(90, 24, 320, 170, rx=26), *_on_face(seen, 120, 50, 260, 118), *_below(seen)]


def _on_face(seen: Seen, x: float, y: float, wide: float, high: float) -> list[str]:
    axes = max(len(seen.axes), 1)
    count = axes * max(len(seen.depths), 1)
    here = (seen.depth or 0) * axes + (seen.axis or 0)
    if not seen.wanted:
        return []
    if seen.layout:
        places = fitted(seen.layout, x, y, wide, high)
    else:
        places = [_grid(n, axes, count, x, y, wide, high) for n in _few(count, here)]
        here = _few(count, here).index(here)
    made = []
    for n, place in enumerate(places):
        depth, axis = divmod(n, axes)
        if n != here:
            made += _one(place, (depth, axis) in seen.done)
    return [*made, *_wanted(places[here])]


def _few(count: int, here: int) -> list[int]:
    return list(range(count)) if count <= MOST_POINTS else [here]


def _one(place: Place, done: bool) -> list[str]:
    if len(place) == 4:
        made = [dashed(*place)]
        return [*made, was(*place[:2]), was(*place[2:])] if done else made
    x, y = place
    return [was(x, y) if done else circle(x, y, 9, stroke_width=THIN)]


def _wanted(place: Place) -> list[str]:
    if len(place) == 4:
        return [span((place[0], place[1]), (place[2], place[3]), 9)]
    x, y = place
    start = (x + 84, y - 44) if x <= MIDDLE else (x - 84, y - 44)
    end = (x + 17, y - 9) if x <= MIDDLE else (x - 17, y - 9)
    return [arrow(start, end), spot(x, y)]


def _grid(
    n: int, axes: int, count: int, x: float, y: float, wide: float, high: float
) -> tuple[float, float]:
    row, column = divmod(n, axes)
    rows = count // axes
    return (x + wide * (column + 0.5) / axes, y + high * (row + 0.5) / rows)


def fitted(
    places: tuple[Place, ...], x: float, y: float, wide: float, high: float
) -> list[tuple[float, ...]]:
    """Places of a layout, as large as the room allows, y downwards now; in the middle of it."""
    across = [one for place in places for one in place[0::2]]
    up = [one for place in places for one in place[1::2]]
    spread = max(across) - min(across), max(up) - min(up)
    scales = [room / size for room, size in zip((wide, high), spread, strict=True) if size > 0]
    scale = min(scales, default=1.0)
    left = x + wide / 2 - scale * (max(across) + min(across)) / 2
    top = y + high / 2 + scale * (max(up) + min(up)) / 2
    return [
        tuple(left + one * scale if at % 2 == 0 else top - one * scale for at, one in enumerate(p))
        for p in places
    ]


def _bright() -> dict[str, object]:
    return {"class_": "lit", "fill": LIT, "stroke_width": 5}


def _said(seen: Seen) -> str:
    return " ".join(word for word in (seen.depth_word, seen.axis_word) if word)


def _below(seen: Seen) -> list[str]:
    """The words of the point where the drawing has no place for each."""
    return [words(_said(seen), MIDDLE, CAPTION, 480)] if _said(seen) else []


def _beside(seen: Seen, x: float, y: float, room: float) -> list[str]:
    return [words(_said(seen), x, y, room)] if _said(seen) else []

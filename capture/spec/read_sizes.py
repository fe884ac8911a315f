"""Reads ``[[characteristic]]``: the sizes to measure, and where."""

from __future__ import annotations

from capture.spec import limits
from capture.spec.collection import Collection
from capture.spec.model import Characteristic, Part, Point
from capture.spec.plausible import plausible
from capture.spec.read_expansion import read_expansion
from capture.spec.read_factors import FACTOR_KEYS, by_factor, read_factors
from capture.spec.read_shape import SIZE_KEYS, read_directions, read_points, read_shape
from capture.spec.table import Table

KEYS = (
    "id",
    "title",
    "part",
    "unit",
    *limits.SIZE_KEYS,
    *FACTOR_KEYS,
    "expansion",
    "depths",
    "axes",
    "repeats",
    "instruments",
    "plausible",
    "cautions",
    *SIZE_KEYS,
)
DIMENSIONS = ("length", "angle", "temperature", "mass", "volume", "pressure")
MOST_REPEATS = 1_000_000
MOST_POINTS = 1_000_000

Written = list[tuple[Table, Characteristic]]
"""Sizes with the tables they stand in, for what is settled once all are read."""
Shared = dict[tuple[tuple[str, ...], tuple[str, ...]], tuple[Point, ...]]
"""Points by their depths and axes."""


def read_sizes(
    document: Table, parts: Collection[Part]
) -> tuple[Collection[Characteristic], Written]:
    """Every characteristic the file declares, and those that follow from others, unsettled yet."""
    sizes: Collection[Characteristic] = Collection("characteristic")
    written: Written = []
    shared: Shared = {}
    for table in document.tables("characteristic", KEYS):
        id_ = table.word("id")
        sizes.claim(table, id_)
        part = table.word("part")
        parts.find(table, "part", part)
        unit = limits.unit(table, DIMENSIONS)
        factors = read_factors(table) if by_factor(table) else None
        if factors is None:
            nominal, bounds = limits.size_limits(table)
            band = plausible(table, bounds, nominal, unit)
        else:  # settled when every size is read
            nominal, bounds = table.optional_number("nominal_size"), limits.UNLIMITED
            band = limits.UNLIMITED
        points = _points(table, shared)
        size = Characteristic(
            id=id_,
            title=table.line("title"),
            part=part,
            unit=unit,
            nominal_size=nominal,
            limits=bounds,
            points=points,
            repeats=table.whole("repeats", 1, 1, MOST_REPEATS),
            instruments=instruments(table),
            plausible=band,
            cautions=table.texts("cautions"),
            factors=factors,
            expansion=read_expansion(table, unit),
            shape=read_shape(table),
            layout=read_points(table, points),
            directions=read_directions(table, points),
        )
        if table.sound:
            sizes.sound[id_] = size
            if size.factors or size.expansion:
                written.append((table, size))
    return sizes, written


def instruments(table: Table) -> tuple[str, ...]:
    """Kinds of instrument suited, best first; at least one."""
    kinds = table.words("instruments")
    if not kinds and table.sound:
        table.problem(
            "instruments",
            "no kind of instrument is named, so no reading could be taken",
            'write the kinds suited, as instruments = ["bore-gauge"]',
        )
    return kinds


def _points(table: Table, shared: Shared) -> tuple[Point, ...]:
    """Depth-major points; sizes measured at the same points share them."""
    depths, axes = table.words("depths") or ("",), table.words("axes") or ("",)
    points = shared.get((depths, axes))
    if points is not None:
        return points
    if len(depths) * len(axes) > MOST_POINTS:
        message = f"{len(depths)} depths × {len(axes)} axes are too many points"
        table.problem("depths", message, f"keep to {MOST_POINTS} points")
        return ()
    points = tuple(Point(depth, axis) for depth in depths for axis in axes)
    if any("-" in word for word in (*depths, *axes)):
        _tell_apart(table, points)
    shared[depths, axes] = points
    return points


def _tell_apart(table: Table, points: tuple[Point, ...]) -> None:
    """A point is called ``depth-axis``: words with hyphens may give two points one name."""
    named: dict[str, Point] = {}
    for point in points:
        other = named.setdefault(point.id, point)
        if other is not point:
            message = f'two points would both be called "{point.id}"'
            table.problem("axes", message, "choose words without hyphens")
            return

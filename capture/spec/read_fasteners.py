"""Reads ``[[fastener]]`` with its ``[[fastener.stage]]``: groups, stages and tightening order."""

from __future__ import annotations

from collections import Counter

from capture.quantity import dimension
from capture.spec import limits
from capture.spec.collection import Collection
from capture.spec.model import Fastener, Part, Stage
from capture.spec.plausible import plausible
from capture.spec.problems import choose
from capture.spec.read_joint import read_joint
from capture.spec.read_parts import MOST
from capture.spec.read_shape import FASTENER_KEYS, read_pattern
from capture.spec.read_sizes import instruments
from capture.spec.table import Table

KEYS = (
    "id",
    "title",
    "part",
    "order",
    "instruments",
    "torque_to_yield",
    "lubricant",
    "together",
    "joint",
    "stage",
    "cautions",
    *FASTENER_KEYS,
)
STAGE_KEYS = (
    "id",
    "title",
    "unit",
    "target",
    *limits.PLAIN_KEYS,
    "permissible_deviation_percent",
    "plausible",
)
DIMENSIONS = ("torque", "angle", "length")


def read_fasteners(document: Table, parts: Collection[Part]) -> Collection[Fastener]:
    """Every group of fasteners the file declares."""
    fasteners: Collection[Fastener] = Collection("fastener")
    for table in document.tables("fastener", KEYS):
        id_ = table.word("id")
        fasteners.claim(table, id_)
        part = table.word("part")
        found = parts.find(table, "part", part)
        fastener = Fastener(
            id=id_,
            title=table.line("title"),
            part=part,
            order=_order(table, found),
            stages=_stages(table),
            instruments=instruments(table),
            torque_to_yield=table.flag("torque_to_yield", False),
            lubricant=table.line("lubricant"),
            cautions=table.texts("cautions"),
            together=_together(table, found),
            joint=read_joint(table),
            layout=read_pattern(table, found),
            seen_from=table.line("seen_from", ""),
        )
        if table.sound:
            fasteners.sound[id_] = fastener
    return fasteners


def _order(table: Table, part: Part | None) -> tuple[int, ...]:
    """The tightening order: every number of the part once. Never guessed, except for one alone."""
    order = table.wholes("order", 1, MOST)
    if part is None:
        return order
    if "order" not in table and part.count == 1:
        return (1,)
    every = set(range(1, part.count + 1))
    found = set(order)
    wrong = []
    if "order" not in table:
        wrong.append("the tightening order is missing")
    elif isinstance(table.content["order"], list) and len(order) == len(table.content["order"]):
        wrong += [f"{number} is missing" for number in sorted(every - found)[:5]]
        wrong += [f"there is no number {number}" for number in sorted(found - every)[:5]]
        twice = [number for number, times in Counter(order).items() if times > 1]
        wrong += [f"{number} stands more than once" for number in sorted(twice)[:5]]
    if wrong:
        mend = f"write every number from 1 to {part.count} once, in the engine maker's order"
        table.problem("order", "; ".join(wrong), mend)
    return order


def _together(table: Table, part: Part | None) -> int:
    """How many go through all stages at a time; 0 where the file is silent, which means all."""
    together = table.whole("together", 0, 1, MOST)
    if part is not None and together and part.count % together:
        message = f"{part.count} fasteners cannot be tightened {together} at a time"
        divisors = [str(n) for n in range(1, part.count) if part.count % n == 0]
        mend = f"write {choose(divisors)}" if divisors else "remove it"
        table.problem("together", message, mend)
    return together


def _stages(table: Table) -> tuple[Stage, ...]:
    stages: list[Stage] = []
    ids: Collection[Stage] = Collection("stage")
    written = list(table.tables("stage", STAGE_KEYS))
    for one in written:
        stage = _stage(one, ids, final=one is written[-1])
        if not one.sound:
            table.sound = False
        stages.append(stage)
    if "stage" not in table or table.content["stage"] == []:
        mend = "add [[fastener.stage]] with id, title, unit, target and limits"
        table.problem("stage", "there is no stage to tighten to", mend)
    return tuple(stages)


def _stage(table: Table, ids: Collection[Stage], *, final: bool) -> Stage:
    id_ = table.word("id")
    ids.claim(table, id_)
    unit = limits.unit(table, DIMENSIONS)
    target = table.number("target")
    if target <= 0 and "target" in table and table.sound:
        table.problem("target", f"the target {target:f} tightens nothing", "write more than 0")
    bounds = limits.torque_limits(table, target)
    if unit and dimension(unit) != "angle" and bounds.upper is None and table.sound:
        what = "over-pulled" if dimension(unit) == "torque" else "over-stretched"
        message = f"there is no upper limit: an {what} fastener would pass"
        table.problem("upper_limit", message, 'write upper_limit = "…"')
    return Stage(
        id=id_,
        title=table.line("title"),
        unit=unit,
        target=target,
        limits=bounds,
        plausible=plausible(table, bounds, target, unit),
        final=final,
    )

"""The life of an instrument, and control charts of what was measured over builds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Request, Response

from api import queries
from api.answers import view
from api.charted import chart, listed
from api.instrument_life import life_of, shelf
from api.labels.choose import labels_for

if TYPE_CHECKING:
    from api.labels.catalogue import Labels
    from api.pictures.control import Of

router = APIRouter(include_in_schema=False)
Data = dict[str, Any]

MOMENTS = 40
"""On the time line of an instrument, the newest."""
PICTURED: dict[str, tuple[Of, Of]] = {
    "individuals": ("individual", "moving-range"),
    "mean-and-range": ("mean", "range"),
    "mean-and-deviation": ("mean", "deviation"),
}
"""What the two pictures of each form of chart show."""


class Asked(queries.Charts):
    """What the page of a chart may be asked: also a language, as every page."""

    language: queries.Name | None = None


@router.get("/instruments")
async def instruments_page(request: Request) -> Response:
    """Every instrument of this bench."""
    from api.pages.render import html

    return html(request, "instruments.html", "instruments", instruments=await shelf(request))


@router.get("/instruments/{instrument}")
async def instrument_page(request: Request) -> Response:
    """One instrument's life."""
    from api.pages.render import html
    from capture.inquiry.life import moments

    found = await life_of(request, queries.name_of(request, "instrument"))
    titles = await view(request, lambda desk: {one.id: one.title for one in desk.cards.values()})
    return html(
        request,
        "instrument.html",
        "instruments",
        life=found,
        titles=titles,
        drift=_drift(found, labels_for(request)),
        moments=moments(found)[:MOMENTS],
    )


@router.get("/charts")
async def charts_page(request: Request) -> Response:
    """What can be charted over builds."""
    from api.pages.render import html
    from api.pictures.streak import streak

    found, words = await listed(request), labels_for(request)
    strips = {
        (spec["name"], one["quantity"]): streak(
            one["means"],
            labels=words,
            lower=one["lower"],
            upper=one["upper"],
            out=[at - 1 for at in one["stands_out"]],
            title=one["title"],
        )
        for spec in found["specs"]
        for one in spec["charts"]
    }
    return html(request, "charts.html", "charts", found=found, strips=strips)


@router.get("/charts/{name}/{quantity}")
async def chart_page(request: Request) -> Response:
    """One control chart."""
    from api.pages.render import html

    asked = queries.asked(request, Asked)
    name, quantity = queries.name_of(request, "name"), queries.name_of(request, "quantity")
    found = await chart(request, name, quantity, asked.form)
    pictures = _pictures(found, labels_for(request))
    return html(request, "chart.html", "charts", chart=found, pictures=pictures, asked=asked.form)


STEADY = {True: "conforming", False: "nonconforming", None: "not_evaluated"}


def _drift(found: Data, words: Labels) -> str | None:
    """The drift of the zero over every set, with its U; None without zero checks."""
    from api.pictures.drift import Check, Moment, drift_chart

    name, unit = found["instrument"]["id"], found["instrument"]["unit"]
    checks = [
        Check(
            one["at"],
            one["drift"],
            one["expanded_uncertainty"],
            STEADY[one["steady"]],
            f"/readings/{one['reading']}",
        )
        for one in found["zero_checks"]
        if one["unit"] == unit  # else it measured something else then
    ]
    if not checks:
        return None
    first = checks[0].at
    settings = [one for one in found["settings"] if one["at"] >= first]
    certified = [one for one in found["calibrations"] if one["at"] >= first and one["calibration"]]
    marks = [Moment(one["at"], words.text("instrument.life.set_anew")) for one in settings]
    marks += [Moment(one["at"], one["calibration"]["certificate"]) for one in certified]
    return drift_chart(
        checks,
        labels=words,
        title=words.text("instrument.life.drift_title", instrument=name),
        unit=unit,
        moments=marks,
    )


def _pictures(found: Data, words: Labels) -> list[str]:
    """The chart of where the values lie, and the one of how they scatter."""
    from api.pictures.control import Charted, control_chart

    of, spread_of = PICTURED[found["form"]]
    if found["form"] == "individuals" and found["size"] > 1:
        of = "mean"
    limits: Data = {"lower": None, "upper": None}
    if found["size_limits"] and not found["follows"]:
        limits = found["size_limits"][0]

    def points(value: str, signals: str) -> list[Charted]:
        return [
            Charted(
                one["title"],
                one[value],
                [words.named("instrument.signal", signal) for signal in one[signals]],
                f"/builds/{one['build']}",
            )
            for one in found["points"]
        ]

    title = words.text("instrument.chart.title", title=found["title"])
    drawn = [
        control_chart(
            points("mean", "signals"),
            labels=words,
            title=title,
            unit=found["unit"],
            **_lines(found["control"]),
            lower_limit=limits["lower"],
            upper_limit=limits["upper"],
            of=of,
        )
    ]
    if len(found["points"]) > 1:
        drawn.append(
            control_chart(
                points("spread", "spread_signals"),
                labels=words,
                title=title,
                unit=found["unit"],
                **_lines(found["spread_control"]),
                of=spread_of,
            )
        )
    return drawn


def _lines(control: Data | None) -> Data:
    control = control or {"centre": None, "lower": None, "upper": None}
    return {
        "centre": control["centre"],
        "lower_control": control["lower"],
        "upper_control": control["upper"],
    }

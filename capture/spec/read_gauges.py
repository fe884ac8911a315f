"""Reads ``[[zero_check]]``, ``[[study]]`` and ``[[tool_check]]``: how gauges themselves fare."""

from __future__ import annotations

import itertools
from decimal import Decimal

from capture.spec import limits
from capture.spec.collection import Collection
from capture.spec.model import Limits, Study, ToolCheck, ZeroCheck
from capture.spec.plausible import KEYS as BAND_KEYS
from capture.spec.plausible import around, own
from capture.spec.read_sizes import DIMENSIONS, instruments
from capture.spec.table import Table

ZERO_KEYS = ("id", "title", "unit", "plausible", "instruments", "cautions")
STUDY_KEYS = (
    "id",
    "title",
    "unit",
    "appraisers",
    "samples",
    "trials",
    "references",
    "lot",
    "tolerance",
    "plausible",
    "instruments",
    "cautions",
)
TOOL_KEYS = (
    "id",
    "title",
    "unit",
    "tool",
    "maximum",
    "points_percent",
    "readings",
    "preloads",
    "permissible_deviation_percent",
    "plausible",
    "instruments",
    "cautions",
)
POINTS = (Decimal(20), Decimal(60), Decimal(100))
READINGS = PRELOADS = 5
"""Where the file is silent, as ISO 6789-1 has it for setting tools (seen in a review sheet of the
standard): 20, 60 and 100 % of the maximum, five readings each, after five preloads."""
MOST = 1_000


def read_zero_checks(document: Table) -> Collection[ZeroCheck]:
    """Every zero check the file declares."""
    checks: Collection[ZeroCheck] = Collection("zero check")
    for table in document.tables("zero_check", ZERO_KEYS):
        id_ = table.word("id")
        checks.claim(table, id_)
        why = "how far a zero may be off before a reading is a mistake, only you can tell"
        check = ZeroCheck(
            id=id_,
            title=table.line("title"),
            unit=limits.unit(table, DIMENSIONS),
            plausible=own(table, [Decimal(0)], why),
            instruments=instruments(table),
            cautions=table.texts("cautions"),
        )
        if table.sound:
            checks.sound[id_] = check
    return checks


def read_studies(document: Table) -> Collection[Study]:
    """Every gauge study the file declares."""
    studies: Collection[Study] = Collection("study")
    for table in document.tables("study", STUDY_KEYS):
        id_ = table.word("id")
        studies.claim(table, id_)
        references = table.numbers("references")
        study = Study(
            id=id_,
            title=table.line("title"),
            unit=limits.unit(table, (*DIMENSIONS, "torque")),
            appraisers=_appraisers(table),
            samples=table.whole("samples", None, 1, MOST),
            trials=table.whole("trials", None, 2, MOST),
            references=references,
            lot=table.line("lot", id_),
            tolerance=table.optional_number("tolerance"),
            plausible=own(table, references, "a study has no limits"),
            instruments=instruments(table),
            cautions=table.texts("cautions"),
        )
        _check_study(table, study)
        if table.sound:
            studies.sound[id_] = study
    return studies


def _appraisers(table: Table) -> tuple[str, ...]:
    found = table.words("appraisers")
    if not found and table.fine("appraisers"):
        message = "a study needs somebody to measure"
        table.problem("appraisers", message, 'name them, as appraisers = ["A", "B", "C"]')
    return found


def _check_study(table: Table, study: Study) -> None:
    counted = table.fine("samples", "references")
    if counted and study.references and len(study.references) != study.samples:
        message = f"{len(study.references)} references are stated for {study.samples} samples"
        table.problem("references", message, "state one for each sample, in order, or none")
    if counted and not study.references and study.samples < 2:
        message = "one sample alone shows no difference between samples"
        table.problem("samples", message, "write 2 or more, or add its reference")
    if study.tolerance is not None and study.tolerance <= 0:
        message = f"a tolerance of {study.tolerance:f} is none"
        table.problem("tolerance", message, "write the width of the tolerance, more than 0")


def read_tool_checks(document: Table) -> Collection[ToolCheck]:
    """Every check of a torque tool the file declares."""
    checks: Collection[ToolCheck] = Collection("tool check")
    for table in document.tables("tool_check", TOOL_KEYS):
        id_ = table.word("id")
        checks.claim(table, id_)
        unit = limits.unit(table, ("torque",))
        maximum, percent = table.number("maximum"), table.number("permissible_deviation_percent")
        points = table.numbers("points_percent") if "points_percent" in table else POINTS
        if table.fine("maximum", "permissible_deviation_percent", "points_percent"):
            _check_tool(table, maximum, percent, points)
        check = ToolCheck(
            id=id_,
            title=table.line("title"),
            unit=unit,
            tool=table.word("tool"),
            maximum=maximum,
            points_percent=points,
            readings=table.whole("readings", READINGS, 1, MOST),
            preloads=table.whole("preloads", PRELOADS, 0, MOST),
            permissible_deviation_percent=percent,
            plausible=_band(table, maximum, percent, points, unit),
            instruments=instruments(table),
            cautions=table.texts("cautions"),
        )
        if table.sound:
            checks.sound[id_] = check
    return checks


def _check_tool(
    table: Table, maximum: Decimal, percent: Decimal, points: tuple[Decimal, ...]
) -> None:
    if maximum <= 0:
        message = f"a maximum of {maximum:f} is none"
        table.problem("maximum", message, "write the tool's largest setting")
    if not 0 < percent < 100:
        message = f"{percent:f} % is out of range"
        table.problem("permissible_deviation_percent", message, 'write more than 0, as "4"')
    if not points:
        table.problem(
            "points_percent", "there is no point to check at", 'write ["20", "60", "100"]'
        )
    elif not all(0 < point <= 100 for point in points):
        message = "a point lies outside the tool's range"
        table.problem("points_percent", message, "write per cent of the maximum, up to 100")
    elif any(one >= other for one, other in itertools.pairwise(points)):
        message = "the points do not rise"
        table.problem("points_percent", message, "write each once, the lowest first (ISO 6789-1)")


def _band(
    table: Table, maximum: Decimal, percent: Decimal, points: tuple[Decimal, ...], unit: str
) -> Limits:
    """As stated, holding every point; else around what the tool is set to, preloads included."""
    if not table.sound:
        return limits.UNLIMITED
    settings = [*(maximum * point / 100 for point in points), maximum]
    if table.table("plausible", BAND_KEYS) is not None:
        return own(table, settings, "")
    return around(settings, percent, unit)

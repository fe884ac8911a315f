"""A spec from the bytes of its TOML file, or every problem in it at once.

The format is our own; ``FORMAT.md`` beside this module describes every key. In short::

    format = 1            id, title, revision, invented, notice, cautions
    [decision]            rule, guard_factor, coverage_factor, overdue, repeat_window_ms
    [[part]]              id, title, count, position, per, shape
    [[given]]             a value the spec gives: a stroke, a gasket's thickness
    [[characteristic]]    a size to measure: part, unit, nominal_size and limits, depths, axes…
    [[derived]]           mean, taper, clearance… of characteristics, or a formula
    [[fastener]]          part, order, lubricant… with [[fastener.stage]]: target and limits
    [[confirmation]]      what only a person can confirm
    [[turning_test]]      the torque that turns the assembly
    [[zero_check]]        a gauge back on its setting standard
    [[study]]             how well a gauge measures in several hands
    [[tool_check]]        a torque tool against a reference
    [[operation]]         the order of work: measure, confirm, tighten, turn…; after, round

Decimals may be quoted or bare; either way the digits are kept and no float is ever made.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from capture.errors import Problem, SpecError
from capture.spec import advice, syntax
from capture.spec.collection import Collection
from capture.spec.model import Kind, Spec
from capture.spec.problems import Problems
from capture.spec.read_checks import read_confirmations, read_turning_tests
from capture.spec.read_decision import read_decision
from capture.spec.read_derived import read_derived
from capture.spec.read_fasteners import read_fasteners
from capture.spec.read_gauges import read_studies, read_tool_checks, read_zero_checks
from capture.spec.read_given import read_given
from capture.spec.read_order import read_order
from capture.spec.read_parts import read_parts
from capture.spec.read_sizes import read_sizes
from capture.spec.settle import settle
from capture.spec.table import Table

FORMAT = 1
KEYS = (
    "format",
    "id",
    "title",
    "revision",
    "invented",
    "notice",
    "cautions",
    "decision",
    "part",
    "given",
    "characteristic",
    "derived",
    "fastener",
    "confirmation",
    "turning_test",
    "zero_check",
    "study",
    "tool_check",
    "operation",
)
MOST_STEPS = 2_000_000


@lru_cache(maxsize=16)
def load(data: bytes, file: str) -> Spec:
    """The spec in ``data``; ``file`` is what messages call it.

    Raises SpecError: the first syntax error, or every semantic problem (a thousand at most) in
    the order of the file, each with file, line, key, message and mend.

    A spec just loaded is kept (it is immutable), so that whoever must not be held up by a large
    file can have it loaded elsewhere first.
    """
    text = syntax.decode(data, file)
    content = syntax.parse(text, file)
    problems = Problems(content)
    spec = _read(Table(content, (), problems, KEYS), data, text)
    if not problems:
        _bound(spec, problems)
    if problems:
        raise SpecError(problems.located(text, file))
    return spec


def warnings(spec: Spec, file: str = "") -> tuple[Problem, ...]:
    """What is allowed in ``spec`` but hardly meant; ``file`` is its id where not given."""
    content = syntax.parse(spec.text, file)
    problems = Problems(content)
    advice.advise(spec, problems)
    return problems.located(spec.text, file or spec.id)


def _read(document: Table, data: bytes, text: str) -> Spec:
    """The spec, as far as it is sound; the problems it notes decide whether it may be used."""
    _check_format(document)
    parts = read_parts(document)
    sizes, following = read_sizes(document, parts)
    given = read_given(document, sizes)
    derived = read_derived(document, parts, sizes, given)
    settle(following, sizes, derived, parts)
    fasteners = read_fasteners(document, parts)
    confirmations = read_confirmations(document, parts)
    turning_tests = read_turning_tests(document, parts)
    zero_checks = read_zero_checks(document)
    studies = read_studies(document)
    tool_checks = read_tool_checks(document)
    subjects: Mapping[Kind, Collection[Any]] = {
        Kind.MEASURE: sizes,
        Kind.CONFIRM: confirmations,
        Kind.TIGHTEN: fasteners,
        Kind.TURN: turning_tests,
        Kind.ZERO: zero_checks,
        Kind.STUDY: studies,
        Kind.CHECK: tool_checks,
    }
    return Spec(
        hash=hashlib.sha256(data).hexdigest(),
        id=document.word("id"),
        title=document.line("title"),
        revision=document.line("revision"),
        invented=document.flag("invented", False),
        notice=document.text("notice", ""),
        parts=parts.sound,
        characteristics=sizes.sound,
        derived=derived.sound,
        fasteners=fasteners.sound,
        confirmations=confirmations.sound,
        turning_tests=turning_tests.sound,
        operations=read_order(document, subjects, parts),
        decision=read_decision(document),
        cautions=document.texts("cautions"),
        given=given.sound,
        zero_checks=zero_checks.sound,
        studies=studies.sound,
        tool_checks=tool_checks.sound,
        text=text,
    )


def _check_format(document: Table) -> None:
    number = document.whole("format", None, 0, 10**9)
    if "format" in document and number != FORMAT and document.content["format"] == number:
        message = f"format {number} is not known to this version, which reads format {FORMAT}"
        document.problem("format", message, f"write format = {FORMAT}, or use a newer version")


def _bound(spec: Spec, problems: Problems) -> None:
    """Refuses a spec that asks for more steps than a build can hold."""
    steps = sum(step_count(spec, index) for index in range(len(spec.operations)))
    if steps > MOST_STEPS:
        message = f"this spec asks for {steps} steps; a build holds {MOST_STEPS} at most"
        problems.add(("operation",), message, "lower the counts, points or repeats")


def step_count(spec: Spec, index: int) -> int:
    """How many steps the operation at ``index`` in the order of work has."""
    operation = spec.operations[index]
    if operation.kind is Kind.MEASURE:
        size = spec.characteristics[operation.subject]
        return spec.parts[size.part].count * len(size.points) * size.repeats
    if operation.kind is Kind.TIGHTEN:
        fastener = spec.fasteners[operation.subject]
        return len(fastener.order) * len(fastener.stages)
    if operation.kind is Kind.STUDY:
        study = spec.studies[operation.subject]
        return len(study.appraisers) * study.samples * study.trials
    if operation.kind is Kind.CHECK:
        check = spec.tool_checks[operation.subject]
        return check.preloads + len(check.points_percent) * check.readings
    if operation.kind is Kind.ZERO:
        return 1
    if operation.kind is Kind.CONFIRM:
        part = spec.confirmations[operation.subject].part
    else:
        part = spec.turning_tests[operation.subject].part
    return 1 if part is None else spec.parts[part].count

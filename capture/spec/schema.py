"""The spec format as a JSON Schema (2020-12), for editors that complete and mark while one types.

It knows keys, shapes and choices, no more: what refers to what, units and limits are looked at by
``witnessmark spec check``. What each key means stands in ``FORMAT.md``.
"""

from __future__ import annotations

from typing import Any, Final

from capture.spec.shape import Shape

Json = dict[str, Any]

_TEXT: Final[Json] = {"type": "string", "minLength": 1}
_TEXTS: Final[Json] = {"type": "array", "items": _TEXT}
_WORD: Final[Json] = {"type": "string", "pattern": "^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$"}
_WORDS: Final[Json] = {"type": "array", "items": _WORD}
_DECIMAL: Final[Json] = {
    "description": "A decimal, in quotes or bare: its digits are kept.",
    "anyOf": [{"type": "string", "pattern": r"^[+-]?[0-9]{1,9}(\.[0-9]{1,12})?$"},
              {"type": "number"}],
}  # fmt: skip
_DECIMALS: Final[Json] = {"type": "array", "items": _DECIMAL}
_FLAG: Final[Json] = {"type": "boolean"}


def _whole(least: int, most: int | None = None) -> Json:
    return {"type": "integer", "minimum": least} | ({} if most is None else {"maximum": most})


def _one_of(*words: str) -> Json:
    return {"enum": list(words)}


def _table(needed: str, **keys: Json) -> Json:
    """A table with these keys and no others; ``needed`` names those it must have."""
    return {
        "type": "object",
        "properties": keys,
        "required": needed.split(),
        "additionalProperties": False,
    }


def _tables(needed: str, **keys: Json) -> Json:
    return {"type": "array", "items": _table(needed, **keys)}


_SHAPE: Final = _one_of(*Shape)


def _layout(*lengths: int) -> Json:
    """Places: arrays of as many decimals as one of ``lengths``."""
    sizes = [{"minItems": length, "maxItems": length} for length in lengths]
    return {"type": "array", "items": {**_DECIMALS, "anyOf": sizes}}


_BAND: Final = _table("lower upper", lower=_DECIMAL, upper=_DECIMAL)
_NAMED: Final = {"id": _WORD, "title": _TEXT}
_MEASURED: Final = {**_NAMED, "unit": _TEXT, "instruments": _WORDS, "cautions": _TEXTS}
_LIMITS: Final = {"lower_limit": _DECIMAL, "upper_limit": _DECIMAL}
_OPERATIONS: Final = ("measure", "confirm", "tighten", "turn", "zero", "study", "check")

_CHARACTERISTIC: Final = _tables(
    "id title part unit instruments",
    **_MEASURED,
    part=_WORD,
    nominal_size=_DECIMAL,
    lower_limit_deviation=_DECIMAL,
    upper_limit_deviation=_DECIMAL,
    lower_limit_of_size=_DECIMAL,
    upper_limit_of_size=_DECIMAL,
    lower_limit_factor=_DECIMAL,
    upper_limit_factor=_DECIMAL,
    factor_of=_WORD,
    expansion=_table(
        "temperature coefficient",
        temperature=_WORD,
        coefficient=_DECIMAL,
        coefficient_uncertainty=_DECIMAL,
    ),
    depths=_WORDS,
    axes=_WORDS,
    repeats=_whole(1),
    plausible=_BAND,
    shape=_SHAPE,
    layout=_layout(2, 4),
    directions=_DECIMALS,
)
_FASTENER: Final = _tables(
    "id title part lubricant instruments stage",
    **_NAMED,
    part=_WORD,
    order={"type": "array", "items": _whole(1)},
    lubricant=_TEXT,
    instruments=_WORDS,
    torque_to_yield=_FLAG,
    together=_whole(1),
    layout=_layout(2),
    seen_from=_TEXT,
    cautions=_TEXTS,
    joint=_table(
        "diameter",
        unit=_one_of("mm", "in"),
        diameter=_DECIMAL,
        pitch=_DECIMAL,
        threads_per_inch=_DECIMAL,
        series=_one_of("metric", "unified"),
        nut_factor=_DECIMAL,
        friction_thread=_DECIMAL,
        friction_head=_DECIMAL,
        bearing_diameter=_DECIMAL,
        scatter_percent=_DECIMAL,
        proof_stress=_DECIMAL,
        elastic_modulus=_DECIMAL,
        stress_unit=_one_of("MPa", "psi", "ksi"),
        clamped_length=_DECIMAL,
    ),
    stage=_tables(
        "id title unit target",
        **_NAMED,
        **_LIMITS,
        unit=_TEXT,
        target=_DECIMAL,
        permissible_deviation_percent=_DECIMAL,
        plausible=_BAND,
    ),
)
_QUANTITIES: Final = ("mean", "taper", "out-of-round", "cylindricity", "clearance", "formula")
_DERIVED: Final = _tables(
    "id title unit",
    **_NAMED,
    **_LIMITS,
    unit=_TEXT,
    quantity=_one_of(*_QUANTITIES),
    of=_WORDS,
    basis=_one_of("mean", "least", "greatest"),
    formula=_TEXT,
    target=_DECIMAL,
    cautions=_TEXTS,
)
_STUDY: Final = _tables(
    "id title unit appraisers samples trials plausible instruments",
    **_MEASURED,
    appraisers=_WORDS,
    samples=_whole(1),
    trials=_whole(2),
    references=_DECIMALS,
    lot=_TEXT,
    tolerance=_DECIMAL,
    plausible=_BAND,
)
_TOOL_CHECK: Final = _tables(
    "id title unit tool maximum permissible_deviation_percent instruments",
    **_MEASURED,
    tool=_WORD,
    maximum=_DECIMAL,
    permissible_deviation_percent=_DECIMAL,
    points_percent=_DECIMALS,
    readings=_whole(1),
    preloads=_whole(0),
    plausible=_BAND,
)
_OPERATION: Final = _tables(
    "",
    id=_WORD,
    after=_WORDS,
    round=_WORD,
    **dict.fromkeys(_OPERATIONS, _WORD),
)
_OPERATION["items"]["oneOf"] = [{"required": [key]} for key in _OPERATIONS]


def schema() -> Json:
    """The whole schema, ready to be written as JSON."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "An engine's spec",
        **_table(
            "format id title revision",
            format={"const": 1},
            **_NAMED,
            revision=_TEXT,
            invented=_FLAG,
            notice=_TEXT,
            cautions=_TEXTS,
            decision=_table(
                "",
                rule=_one_of("simple", "guarded", "iso14253"),
                guard_factor=_DECIMAL,
                coverage_factor=_DECIMAL,
                overdue=_one_of("mark", "hold"),
                repeat_window_ms=_whole(0, 60_000),
            ),
            part=_tables(
                "id title",
                **_NAMED,
                count=_whole(1, 10_000),
                position=_WORD,
                per=_whole(1),
                shape=_SHAPE,
            ),
            given=_tables("id title value unit", **_NAMED, value=_DECIMAL, unit=_TEXT),
            characteristic=_CHARACTERISTIC,
            derived=_DERIVED,
            fastener=_FASTENER,
            confirmation=_tables(
                "id title text", **_NAMED, text=_TEXT, part=_WORD, cautions=_TEXTS
            ),
            turning_test=_tables(
                "id title unit instruments", **_MEASURED, **_LIMITS, part=_WORD, plausible=_BAND
            ),
            zero_check=_tables("id title unit plausible instruments", **_MEASURED, plausible=_BAND),
            study=_STUDY,
            tool_check=_TOOL_CHECK,
            operation=_OPERATION,
        ),
    }

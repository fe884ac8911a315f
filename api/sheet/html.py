"""A sheet as one HTML file: no script, nothing loaded, its style inside, so that it can be kept."""

from __future__ import annotations

import base64
import functools
import hashlib
import json
from collections.abc import Iterable
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from api import pages
from api.labels.catalogue import Labels
from api.sheet.blocks import REDIRECTING, Sheet

HOME = Path(pages.__file__).parent
MEDIA = "text/html; charset=utf-8"
POLICY = (
    "default-src 'none'; style-src 'sha256-{style}'; img-src data:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
PAPER = """
@page {{
  margin: 20mm 15mm 18mm;
  @top-left {{ content: {marks}; font: bold 11pt sans-serif; }}
  @bottom-right {{ content: counter(page) " / " counter(pages); font: 8pt sans-serif; }}
}}
"""


@functools.cache
def _templates() -> Environment:
    made = Environment(
        loader=FileSystemLoader(HOME / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["drawn"] = Markup  # pictures of our own, in which all text is escaped
    return made


@functools.cache
def _style() -> str:
    return (HOME / "static" / "sheet.css").read_text("utf-8")


def html(sheet: Sheet, build: str, labels: Labels, others: Iterable[Labels]) -> tuple[str, str]:
    """The page, and the Content-Security-Policy that lets its own style in and nothing else."""
    marks = "  ·  ".join(sheet.marks).upper()
    # The marks are words of the catalogue; JSON quotes them as CSS does.
    style = _style() + PAPER.format(marks=json.dumps(marks, ensure_ascii=False))
    template = _templates().get_template("sheet.html")
    page = template.render(
        sheet=sheet, build=build, t=labels.text, others=list(others), style=Markup(style)
    )
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return page.translate(REDIRECTING), POLICY.format(style=digest)

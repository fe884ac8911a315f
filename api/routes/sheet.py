"""The build sheet: the document that leaves with an engine, as HTML and as PDF."""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(include_in_schema=False)

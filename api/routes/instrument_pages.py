"""The life of an instrument, and control charts of what was measured over builds."""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(include_in_schema=False)

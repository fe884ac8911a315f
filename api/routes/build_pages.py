"""The pages of builds: all of them, one at a glance, two side by side."""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(include_in_schema=False)

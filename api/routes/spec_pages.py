"""Specs as the bench will walk them, and what is wrong with one that is being written."""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(include_in_schema=False)

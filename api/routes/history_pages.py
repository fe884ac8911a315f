"""The auditor's pages: the raw history, one reading from bytes to verdict, any entry."""

from __future__ import annotations

from fastapi import APIRouter

router = APIRouter(include_in_schema=False)

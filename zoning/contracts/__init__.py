"""Schemas and reference tables of the ``shared`` folder, and what several rooms read from them."""

from zoning.contracts.drafts import DraftRow, draft_row
from zoning.contracts.hazards import deepest_cm, keep_off_m
from zoning.contracts.resources import DISTRIBUTION, program_version, shared
from zoning.contracts.tables import constant, rows
from zoning.contracts.words import NOT_CLEARED, PARTS, by_geometry, joined

__all__ = [
    "DISTRIBUTION",
    "NOT_CLEARED",
    "PARTS",
    "DraftRow",
    "by_geometry",
    "constant",
    "deepest_cm",
    "draft_row",
    "joined",
    "keep_off_m",
    "program_version",
    "rows",
    "shared",
]

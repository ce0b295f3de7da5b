"""Schemas and reference tables of the ``shared`` folder, and what several rooms read from them."""

from zoning.contracts.hazards import NOT_CLEARED, deepest_cm, keep_off_m
from zoning.contracts.resources import DISTRIBUTION, program_version, shared
from zoning.contracts.tables import constant, rows

__all__ = [
    "DISTRIBUTION",
    "NOT_CLEARED",
    "constant",
    "deepest_cm",
    "keep_off_m",
    "program_version",
    "rows",
    "shared",
]

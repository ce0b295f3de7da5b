"""Schemas and reference tables of the ``shared`` folder, and what several rooms read from them."""

from zoning.contracts.hazards import deepest_cm, keep_off_m
from zoning.contracts.resources import shared
from zoning.contracts.tables import constant, rows

__all__ = ["constant", "deepest_cm", "keep_off_m", "rows", "shared"]

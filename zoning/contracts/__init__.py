"""Schemas and reference tables, read from the project's ``shared`` folder."""

from zoning.contracts.resources import shared
from zoning.contracts.tables import constant, rows

__all__ = ["constant", "rows", "shared"]

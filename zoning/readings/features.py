"""One vector file as plain features, whatever its format was."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from zoning.model import Notice


@dataclass(frozen=True, slots=True, eq=False)
class Feature:
    """One feature: its place in the file (from 1), its geometry without heights, its properties."""

    number: int
    geometry: BaseGeometry
    properties: Mapping[str, object]


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """Features of one layer.

    Parameters
    ----------
    file
        Name as the user wrote it.
    features
        In the order of the file.
    crs
        Code or WKT of the system of the coordinates, x before y.
    notices
        What was recognised and must be told.
    """

    file: str
    features: tuple[Feature, ...]
    crs: str
    notices: tuple[Notice, ...]

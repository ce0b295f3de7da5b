"""One vector file as plain features, whatever its format was."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from zoning.errors import Fault, InputRefused
from zoning.model import Notice

BOUNDARY_KEY = "field.boundary"
LAYER_KEY = f"{BOUNDARY_KEY}_layer"


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


def several_layers(file: str, names: Iterable[str], key: str) -> InputRefused:
    """Return the refusal of a file of several layers that `key` names; the boundary may choose."""
    what = f"The file has several layers: {', '.join(names)}."
    remedy = "Save the one that is meant in a file of its own."
    if key == BOUNDARY_KEY:
        remedy = f"Name one as {LAYER_KEY}."
    return InputRefused([Fault(file, what, remedy, column=key or None)])

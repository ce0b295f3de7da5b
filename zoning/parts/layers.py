"""One kind of ground as it is found, before precedence decides what stays of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.model import Notice

Kind = Literal["named", "gateway", "wheeling", "headland", "body"]
KINDS: tuple[Kind, ...] = ("named", "gateway", "wheeling", "headland", "body")


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """Ground of one part.

    Parameters
    ----------
    part, kind
        As in the frame of parts.
    ground
        Where it applies [m, working CRS]; it may reach beyond the field.
    edges
        Lines that part it from the rest of the field.
    """

    part: str
    kind: Kind
    ground: BaseGeometry
    edges: BaseGeometry


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Layers of one kind with what the user must be told of them."""

    layers: tuple[Layer, ...] = ()
    notices: tuple[Notice, ...] = ()


def whole(part: str, kind: Kind, ground: BaseGeometry) -> Layer:
    """Return a layer whose edges are its own outline."""
    return Layer(part, kind, ground, ground.boundary)


def precedence(kind: str) -> float:
    """Return the rank of a kind of part; the lowest rank is taken first."""
    return constant("part_rules", f"precedence_{kind}")


def apart(shapes: NDArray[Any], boundary: MultiPolygon) -> NDArray[Any]:
    """Return which shapes have no ground in common with the field."""
    shared = shapely.area(shapely.intersection(shapes, boundary))
    return shapely.is_empty(shapes) | (shared <= 0)

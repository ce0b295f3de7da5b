"""Layers and checks shared by the tests of parts."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from zoning.model import Notice
from zoning.model.settings import AreasSection
from zoning.parts import partition

EAST, NORTH = 500_000.0, 5_500_000.0


def at(shape: BaseGeometry) -> BaseGeometry:
    """Return a shape drawn about the origin moved into a UTM zone."""
    return shapely.transform(shape, lambda xy: xy + np.array([EAST, NORTH]))


def field(*shapes: Polygon) -> MultiPolygon:
    return MultiPolygon([at(shape) for shape in shapes])


RECTANGLE = field(box(0, 0, 200, 300))


def layer(*shapes: BaseGeometry, **columns: list[str]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(columns, geometry=[at(shape) for shape in shapes])


NONE = layer()
NO_AREAS = layer(area=[])


def divided(
    boundary: MultiPolygon = RECTANGLE,
    *,
    lines: gpd.GeoDataFrame = NONE,
    gateways: gpd.GeoDataFrame = NONE,
    named: gpd.GeoDataFrame = NO_AREAS,
    heading_deg: float = 0.0,
    **areas: object,
) -> tuple[gpd.GeoDataFrame, tuple[Notice, ...]]:
    """Divide a field and assert that the parts are an exact partition of it."""
    parts, notices = partition(
        boundary, AreasSection(**areas), wheeling_lines=lines, gateways=gateways,
        named_areas=named, heading_deg=heading_deg,
    )  # fmt: skip
    shapes = parts.geometry.to_numpy()
    assert parts["part"].is_unique
    assert shapely.is_valid(shapes).all()
    assert shapely.coverage_is_valid(shapes)
    assert shapely.area(shapes).sum() == pytest.approx(boundary.area, rel=1e-9)
    assert np.allclose(parts["area_ha"] * 1e4, shapely.area(shapes))
    assert shapely.union_all(shapes).symmetric_difference(boundary).area <= 2e-8 * boundary.length
    return parts, notices


def area_m2(parts: gpd.GeoDataFrame, part: str) -> float:
    return float(parts.geometry[parts["part"] == part].area.sum())


def codes(notices: tuple[Notice, ...]) -> list[str]:
    return [notice.code for notice in notices]

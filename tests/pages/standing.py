"""A phone that finds itself at a place of a plan, and hazards that cross."""

from __future__ import annotations

import dataclasses
from typing import Any

import geopandas as gpd
import pyproj
import shapely

from zoning.model import Plan

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
WATCH = (
    "navigator.geolocation.watchPosition = (found) => { window.answer = found; return 1; };"
    "navigator.geolocation.clearWatch = () => {};"
)


def stand(page: Any, plan: Plan, at: shapely.Point, accuracy_m: float = 4.0) -> None:
    """Let the device find itself at a place of the working system."""
    to_lonlat = pyproj.Transformer.from_crs(plan.working_crs, "EPSG:4326", always_xy=True)
    lon, lat = to_lonlat.transform(at.x, at.y)
    if page.get_attribute("#position", "aria-pressed") == "false":
        page.evaluate(WATCH)
        page.click("#position")
    coords = f"{{latitude: {lat}, longitude: {lon}, accuracy: {accuracy_m}}}"
    page.evaluate(f"answer({{coords: {coords}}})")


def crossing(small: Plan) -> Plan:
    """A drain and a service that cross, an obstacle on the drain, a service pit beside it."""
    west, south, *_ = small.boundary.bounds

    def at(x: float, y: float) -> tuple[float, float]:
        return west + x, south + y

    shapes = [
        shapely.LineString([at(0, 60), at(200, 80)]), shapely.LineString([at(100, 0), at(90, 150)]),
        shapely.Point(at(140, 74)), shapely.Point(at(60, 40)),
        shapely.box(*at(20, 100), *at(35, 112)),
    ]  # fmt: skip
    hazards = gpd.GeoDataFrame(
        {
            "kind": ["drain", "service", "obstacle", "service", "obstacle"],
            "name": ["", "", "cover", "pit", "slab"],
            "depth_cm": [70.0, float("nan"), float("nan"), 50.0, 10.0],
            "clear_m": [3.0] * 5,
        },
        geometry=shapes,
        crs=small.hazards.crs,
    )
    return dataclasses.replace(small, hazards=hazards)

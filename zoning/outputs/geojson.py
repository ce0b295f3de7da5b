"""``depth_zones.geojson``: RFC 7946, a feature a zone."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely import MultiPolygon
from shapely.geometry import mapping, shape
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.errors import OutputFailed
from zoning.model import Plan
from zoning.outputs.columns import table_schema
from zoning.outputs.places import lonlat_areas, working_areas
from zoning.outputs.plain import plain, read_json, write_text
from zoning.outputs.rows import zone_rows, zones_in_order

_CRS_NOTE = (
    "Longitude and latitude in degrees, WGS 84 (OGC:CRS84), as RFC 7946 asks. Computed in {crs}."
)


@lru_cache(maxsize=1)
def zone_areas(plan: Plan) -> tuple[BaseGeometry, ...]:
    """Return the zones of `plan` in order, in longitude and latitude as they are written.

    The last are kept: two files hold them.
    """
    return tuple(lonlat_areas(list(zones_in_order(plan).geometry), plan.working_crs))


def write_zones(plan: Plan, path: Path) -> None:
    """Write the zones of `plan`, outer rings anticlockwise, 8 decimals, one feature a line."""
    areas = zone_areas(plan)
    features = [
        json.dumps(feature, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        for feature in _features(plan, areas)
    ]
    head = json.dumps(_head(plan), ensure_ascii=False, allow_nan=False, indent=1)
    write_text(path, head[:-2] + ',\n "features": [\n' + ",\n".join(features) + "\n]}\n")


def check_zones(plan: Plan, path: Path) -> None:
    """Read the zones at `path` back: same rows, and the field covered exactly once.

    Raises
    ------
    OutputFailed
        If a property or an outline differs from the plan.
    """
    document = read_json(path)
    wanted = [plain(row) for row in zone_properties(plan)]
    if [feature["properties"] for feature in document["features"]] != wanted:
        raise OutputFailed(f"{path.name} did not read back with the zones that were written.")
    check_depths(plan, [row["depth_cm"] for row in wanted], path.name)
    check_areas(plan, [shape(feature["geometry"]) for feature in document["features"]], path.name)


def check_depths(plan: Plan, depth_cm: Sequence[float], name: str) -> None:
    """Refuse depths that differ from those of the plan's zones by a tenth of a millimetre."""
    wanted = zones_in_order(plan)["depth_cm"].to_numpy(dtype=np.float64)
    found = np.asarray(depth_cm, dtype=np.float64)  # A depth that is not known becomes NaN.
    if len(wanted) != len(found) or not (np.abs(wanted - found) <= 0.01).all():
        raise OutputFailed(f"{name}: the depths of the zones did not read back as planned.")


def check_areas(plan: Plan, areas: Sequence[BaseGeometry], name: str) -> None:
    """Refuse outlines in longitude and latitude that do not tile the field as the plan's zones do.

    Raises
    ------
    OutputFailed
        If an outline is not valid, zones overlap or leave gaps, the field's area differs by more
        than ``area_tolerance`` and what rounding explains, or a zone's by more than the tolerance
        and ``edge_tolerance_m`` a metre of its outline.
    """
    trouble = outline_trouble(zones_in_order(plan), plan.boundary, plan.working_crs, areas)
    if trouble:
        raise OutputFailed(f"{name}: {trouble}")


def outline_trouble(
    zones: gpd.GeoDataFrame,
    boundary: MultiPolygon,
    working_crs: str,
    areas: Sequence[BaseGeometry],
) -> str:
    """Say what keeps `areas` in longitude and latitude from being `zones`; blank if nothing does.

    Parameters
    ----------
    zones
        The zones by number [m].
    boundary
        Outline of the field [m].
    working_crs
        Coordinate system of both.
    areas
        One outline a zone, in the same order.
    """
    if len(areas) != len(zones):
        return "the zones read back are not as many as planned."
    if not (shapely.is_valid(areas).all() and shapely.coverage_is_valid(areas)):
        return "the zones read back overlap or cross themselves."
    back = working_areas(areas, working_crs)
    share = constant("output_rules", "area_tolerance")
    if abs(shapely.area(back).sum() - boundary.area) > _area_slack_m2(boundary):
        return "the zones read back do not cover the field exactly once."
    wanted = list(zones.geometry)
    slack = share * shapely.area(wanted) + constant(
        "output_rules", "edge_tolerance_m"
    ) * shapely.length(wanted)
    differing = shapely.area(shapely.symmetric_difference(wanted, back))
    return "a zone read back with another outline." if (differing > slack).any() else ""


def _area_slack_m2(boundary: MultiPolygon) -> float:
    """Return how far the area may be off [m2]: the tolerance, or what rounding explains.

    Rounding moves the outline by no more than ``rounding_most_m``, so the area by no more than that
    times its length. That is more than the tolerance only on small fields and on long narrow ones.
    """
    explained = constant("output_rules", "rounding_most_m") * boundary.length
    return max(constant("output_rules", "area_tolerance") * boundary.area, float(explained))


def zone_properties(plan: Plan) -> list[dict[str, Any]]:
    """Return the properties of every zone, numbers rounded to the decimals of the schema."""
    return zone_records(zone_rows(plan))


def zone_records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of a table of zones, numbers rounded to the decimals of the schema."""
    columns = table_schema("depth_zones").among(set(frame.columns))
    values = [
        [_rounded(value, column.kind, column.decimals) for value in frame[column.name].tolist()]
        for column in columns
    ]
    names = [column.name for column in columns]
    return [dict(zip(names, row, strict=True)) for row in zip(*values, strict=True)]


def _rounded(value: object, kind: str, decimals: int) -> Any:
    if kind == "string" or value is None or value is pd.NA:
        return None if value is pd.NA else value
    number = round(float(value), decimals) + 0.0  # type: ignore[arg-type]
    return int(number) if kind == "integer" else plain(number)


def _features(plan: Plan, areas: Sequence[BaseGeometry]) -> list[dict[str, Any]]:
    return [
        {"type": "Feature", "id": row["zone"], "properties": row, "geometry": mapping(area)}
        for row, area in zip(zone_properties(plan), areas, strict=True)
    ]


def _head(plan: Plan) -> dict[str, Any]:
    return {
        "type": "FeatureCollection",
        "plan_id": plan.plan_id,
        "field": plan.settings.field.name,
        "crs_note": _CRS_NOTE.format(crs=plan.working_crs),
        "units_note": "Each name ends in its unit. Depth 0 means that the legs are lifted out.",
        "services": plan.settings.hazards.services,
        "services_reference": plan.settings.hazards.reference,
        "cautions": [notice.text for notice in plan.notices if notice.level == "caution"],
    }

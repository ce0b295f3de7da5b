"""``depth_zones.geojson`` against RFC 7946, by `geojson_validator`, shapely and geopandas."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely
from jsonschema import Draft202012Validator
from shapely.geometry import LinearRing, shape

from zoning.errors import OutputFailed
from zoning.model import Plan
from zoning.outputs.geojson import check_areas, check_zones, write_zones

CONTRACT = [
    "zone", "depth_cm", "area_ha", "parts", "pan_base_cm", "assurance", "cleared", "cautions",
    "plan_id",
]  # fmt: skip


def document(folder: Path) -> dict:
    return json.loads((folder / "depth_zones.geojson").read_text(encoding="utf-8"))


def rings(collection: dict) -> list[tuple[int, list]]:
    """Return every ring with its place in its polygon: 0 for the outer one."""
    found = []
    for feature in collection["features"]:
        geometry = feature["geometry"]
        polygons = geometry["coordinates"]
        for polygon in [polygons] if geometry["type"] == "Polygon" else polygons:
            found += list(enumerate(polygon))
    return found


def test_ring_order_and_structure_by_an_independent_validator(written: Path) -> None:
    validator = pytest.importorskip("geojson_validator", reason="not installed")
    validator.configure_logging(enabled=False)
    collection = document(written)
    assert validator.validate_structure(collection, check_crs=True) == {}
    assert validator.validate_geometries(collection)["invalid"] == {}
    for feature in collection["features"]:  # The validator does find rings that run the wrong way.
        geometry = feature["geometry"]
        geometry["coordinates"] = [ring[::-1] for ring in geometry["coordinates"]]
    assert "exterior_not_ccw" in validator.validate_geometries(collection)["invalid"]


def test_outer_rings_run_anticlockwise_and_holes_clockwise(written: Path) -> None:
    # RFC 7946, section 3.1.6.
    found = rings(document(written))
    assert {place > 0 for place, _ in found} == {True, False}
    assert all(LinearRing(ring).is_ccw == (place == 0) for place, ring in found)
    assert all(ring[0] == ring[-1] for _, ring in found)


def test_no_crs_member_and_eight_decimals(written: Path) -> None:
    collection = document(written)
    assert "crs" not in collection
    numbers = [value for _, ring in rings(collection) for point in ring for value in point]
    assert all(value == round(value, 8) for value in numbers)
    assert any(value != round(value, 7) for value in numbers)


def test_what_was_done_about_services_stands_in_the_head(written: Path, plan: Plan) -> None:
    head = document(written)
    assert head["services"] == plan.settings.hazards.services
    assert head["services_reference"] == plan.settings.hazards.reference


def test_properties_follow_contract_and_schema(
    written: Path, plan: Plan, validator: Callable[[str], Draft202012Validator]
) -> None:
    collection = document(written)
    rows = [feature["properties"] for feature in collection["features"]]
    assert [list(row) for row in rows] == [CONTRACT] * 3
    assert [row["zone"] for row in rows] == [1, 2, 3]
    assert [row["depth_cm"] for row in rows] == [37.5, 32.5, 0.0]
    assert rows[2]["pan_base_cm"] is None
    assert {row["plan_id"] for row in rows} == {plan.plan_id} == {collection["plan_id"]}
    assert [error for row in rows for error in validator("depth_zones").iter_errors(row)] == []
    assert collection["cautions"] == ["Buried services were not checked."]


def test_machine_columns_come_in_the_order_of_the_contract(
    changed: Callable[..., Plan], plan: Plan, tmp_path: Path
) -> None:
    worked = plan.zones.assign(
        time_min=3.0, fuel_l=[8.04, 9.0, 0.0], power_kw=90.0, draft_kn=np.nan
    )
    write_zones(changed(zones=worked), tmp_path / "z.geojson")
    row = json.loads((tmp_path / "z.geojson").read_text(encoding="utf-8"))["features"][0][
        "properties"
    ]
    assert list(row)[6:10] == ["draft_kn", "power_kw", "fuel_l", "time_min"]
    assert (row["draft_kn"], row["fuel_l"]) == (None, 8.0)


def test_zones_cover_the_field_exactly_once_on_the_ellipsoid(written: Path, plan: Plan) -> None:
    # Areas by geographiclib's geodesic polygons (Karney 2013, in PROJ), not by our own projection.
    zones = gpd.read_file(written / "depth_zones.geojson")
    shapes = zones.geometry.to_numpy()
    assert zones.crs.to_epsg() == 4326
    assert shapely.coverage_is_valid(shapes)
    geod = pyproj.Geod(ellps="WGS84")
    dense = shapely.segmentize(plan.boundary, 1.0)
    lonlat = pyproj.Transformer.from_crs(plan.working_crs, 4326, always_xy=True)
    field = shapely.transform(dense, lonlat.transform, interleaved=False)
    wanted = geod.geometry_area_perimeter(shapely.orient_polygons(field))[0]
    found = sum(geod.geometry_area_perimeter(shape)[0] for shape in shapes)
    assert found == pytest.approx(wanted, rel=1e-6)
    whole = shapely.union_all(shapes)
    assert math.isclose(whole.area, shapely.area(shapes).sum(), rel_tol=1e-9)


def test_the_hole_stays_a_hole(written: Path, plan: Plan) -> None:
    pond = shapely.Polygon(plan.boundary.geoms[0].interiors[0]).centroid
    lon, lat = pyproj.Transformer.from_crs(plan.working_crs, 4326, always_xy=True).transform(
        pond.x, pond.y
    )
    shapes = [shape(feature["geometry"]) for feature in document(written)["features"]]
    assert not shapely.intersects_xy(shapely.union_all(shapes), lon, lat)


@pytest.mark.parametrize(
    ("old", "new"),
    [('"depth_cm":32.5', '"depth_cm":37.5'), ('"cleared":"NOT CLEARED"', '"cleared":"located"')],
)
def test_a_changed_property_is_noticed(
    written: Path, plan: Plan, tmp_path: Path, old: str, new: str
) -> None:
    text = (written / "depth_zones.geojson").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "depth_zones.geojson"
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(OutputFailed, match=r"depth_zones\.geojson"):
        check_zones(plan, path)


def test_a_missing_zone_is_noticed(written: Path, plan: Plan, tmp_path: Path) -> None:
    collection = document(written)
    collection["features"].pop()
    path = tmp_path / "depth_zones.geojson"
    path.write_text(json.dumps(collection), encoding="utf-8")
    with pytest.raises(OutputFailed):
        check_zones(plan, path)


@pytest.mark.parametrize("shift_deg", [2e-5, -3e-7])
def test_outlines_moved_by_metres_or_centimetres_are_noticed(
    written: Path, plan: Plan, shift_deg: float
) -> None:
    shapes = [shape(feature["geometry"]) for feature in document(written)["features"]]
    check_areas(plan, shapes, "zones")
    moved = [shapely.transform(area, lambda xy: xy + shift_deg) for area in shapes]
    with pytest.raises(OutputFailed, match="another outline"):
        check_areas(plan, moved, "zones")


def test_overlapping_and_missing_ground_is_noticed(written: Path, plan: Plan) -> None:
    shapes = [shape(feature["geometry"]) for feature in document(written)["features"]]
    with pytest.raises(OutputFailed, match="overlap"):
        check_areas(plan, [shapes[0], shapes[1], shapes[1]], "zones")
    filled = [shapes[0], shapely.Polygon(shapes[1].exterior), shapes[2]]
    with pytest.raises(OutputFailed, match=r"overlap|exactly once"):
        check_areas(plan, filled, "zones")

"""Longitude and latitude: shared edges stay shared, long edges keep to their lines."""

from __future__ import annotations

import json
import os
from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box
from shapely.geometry import shape

from zoning.outputs.places import lonlat_areas, lonlat_points, true_north_deg, working_areas

CRS = "EPSG:32630"
EAST, NORTH = 500_000.0, 5_700_000.0


def strips(cuts: list[float], heading_deg: float, length_m: float) -> list[Polygon]:
    """Return neighbouring strips of a field, cut at `cuts`, turned by `heading_deg`."""
    edges = [0.0, *cuts]
    boxes = [box(a, 0, b, length_m) for a, b in pairwise(edges)]
    turned = [shapely.affinity.rotate(b, -heading_deg, origin=(0, 0)) for b in boxes]
    return [shapely.affinity.translate(b, EAST, NORTH) for b in turned]


@settings(max_examples=60, deadline=None)
@given(
    widths=st.lists(st.floats(2.0, 60.0), min_size=2, max_size=6),
    heading_deg=st.floats(0, 180),
    length_m=st.floats(80, 900),
)
def test_a_tiling_stays_a_tiling(widths: list[float], heading_deg: float, length_m: float) -> None:
    areas = strips(list(np.cumsum(widths)), heading_deg, length_m)
    moved = lonlat_areas(areas, CRS)
    assert shapely.is_valid(moved).all()
    assert shapely.coverage_is_valid(moved)
    assert all(ring.is_ccw for area in moved for ring in [area.exterior])
    # Half the last of 8 decimals is 0.56 mm of latitude: the most that an outline can move.
    whole = shapely.union_all(areas)
    slack = max(1e-6 * whole.area, 0.00057 * whole.length)
    assert abs(shapely.area(working_areas(moved, CRS)).sum() - whole.area) <= slack


def test_a_long_edge_gets_points_no_further_apart_than_20_m() -> None:
    (moved,) = lonlat_areas([box(EAST, NORTH, EAST + 1600, NORTH + 400)], CRS)
    back = shapely.get_coordinates(working_areas([moved], CRS)[0])
    assert np.hypot(*np.diff(back, axis=0).T).max() <= 20.01


def test_a_moved_edge_keeps_to_the_straight_line_of_the_working_system() -> None:
    # 1,600 m between two points bend by centimetres; the points between hold every edge to 2 mm.
    area = box(EAST + 150_000, NORTH, EAST + 151_600, NORTH + 400)
    (moved,) = lonlat_areas([area], CRS)
    dense = shapely.segmentize(moved, shapely.length(moved) / 4000)
    back = working_areas([dense], CRS)[0]
    assert shapely.hausdorff_distance(back.exterior, area.exterior) < 0.002


def test_neighbours_with_unmatched_points_are_matched_first() -> None:
    west, east = (
        box(EAST, NORTH, EAST + 50, NORTH + 100),
        box(EAST + 50, NORTH + 30, EAST + 90, NORTH + 70),
    )
    assert not shapely.coverage_is_valid([west, east])
    moved = lonlat_areas([west, east], CRS)
    assert shapely.coverage_is_valid(moved)


def test_points_agree_with_pyproj_and_have_no_minus_nought() -> None:
    x, y = pyproj.Transformer.from_crs(4326, CRS, always_xy=True).transform(-3.0000000001, 51.5)
    found = lonlat_points(np.array([[x, y], [EAST, NORTH]]), CRS)
    assert found[0] == pytest.approx([-3.0, 51.5], abs=5e-9)
    zero = lonlat_points(np.array([[166_021.4431, 0.0]]), "EPSG:32631")
    assert np.signbit(zero).sum() == 0


@pytest.mark.parametrize("lonlat", [(0.0, 52.2), (-5.5, 58.0), (-3.0, 40.0)])
def test_true_north_agrees_with_the_convergence_of_pyproj(lonlat: tuple[float, float]) -> None:
    at = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32630", always_xy=True).transform(*lonlat)
    wanted = pyproj.Proj("EPSG:32630").get_factors(*lonlat).meridian_convergence
    assert true_north_deg(shapely.Point(at), "EPSG:32630") == pytest.approx(-wanted, abs=1e-3)


def test_a_small_field_keeps_its_area_to_one_in_a_million() -> None:
    # With points every 20 m, rounding alone moves the area of a field of 3 ha by about that much.
    for turn in range(12):
        areas = strips([40.0, 110.0, 150.0], 15.0 * turn + 1.3, 200.0)
        back = working_areas(lonlat_areas(areas, CRS), CRS)
        assert shapely.area(back).sum() == pytest.approx(shapely.area(areas).sum(), rel=1e-6)


def parcels() -> list[tuple[str, float, shapely.Geometry]]:
    """Return every tenth real parcel: its name, its geodesic area [ha], its outline in degrees."""
    default = Path(__file__).parents[2] / "../shared/data"
    path = Path(os.environ.get("ZONING_OPEN_DATA", default)) / "parcels/parcels_visible.geojson"
    if not path.exists():
        return []
    features = json.loads(path.read_text(encoding="utf-8"))["features"]
    return [
        (f["properties"]["parcel_id"], f["properties"]["geodesic_ha"], shape(f["geometry"]))
        for f in features[::10]
    ]


PARCELS = parcels()


@pytest.mark.skipif(not PARCELS, reason="the open parcels are not there")
@pytest.mark.parametrize(
    ("area_ha", "outline"), [p[1:] for p in PARCELS], ids=[p[0] for p in PARCELS]
)
def test_real_parcels_in_strips_keep_area_and_tiling(
    area_ha: float, outline: shapely.Geometry
) -> None:
    # Areas on the ellipsoid by PROJ's geodesic polygons, against those published with the parcels.
    utm = gpd.GeoSeries([outline], crs=4326).estimate_utm_crs().to_string()
    field = gpd.GeoSeries([outline], crs=4326).to_crs(utm).iloc[0]
    west, south, east, north = field.bounds
    cuts = np.arange(west, east + 9, 9.0)
    strips_across = [box(a, south, b, north) for a, b in pairwise(cuts)]
    pieces = shapely.intersection(strips_across, field)
    pieces = shapely.coverage_clean(list(pieces[shapely.area(pieces) > 0.01]))
    zones = [shapely.coverage_union_all(pieces[n::2]) for n in (0, 1)]
    moved = lonlat_areas(zones, utm)
    assert shapely.is_valid(moved).all()
    assert shapely.coverage_is_valid(moved)
    geod = pyproj.Geod(ellps="WGS84")
    found = sum(geod.geometry_area_perimeter(zone)[0] for zone in moved) / 1e4
    # The published areas are rounded to a square metre at best; edges bend by 1 cm in 800 m.
    assert found == pytest.approx(area_ha, rel=2e-5, abs=1e-4)

from __future__ import annotations

from dataclasses import replace
from functools import partial

import geopandas as gpd
import numpy as np
import pytest
import shapely
from depths.lay_fields import ORIGIN, assert_covers, fields, rectangle
from depths.plain_passes import placed, rules, straight, surface
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from open_parcels import SAMPLE, Parcel, parcel
from pyproj import Geod
from shapely import LineString, MultiPolygon

from zoning.depths.caps import cap_of_pieces
from zoning.depths.drive import DepthChoice, choose_depths
from zoning.depths.lay import Laid, default_heading, lay_passes
from zoning.depths.zones import kept_off, merge, runs, zone_of


def squares(width: float, height: float) -> Laid:
    """Return a board of 10 m squares; pieces count up the passes, passes from west to east."""
    return lay_passes(
        rectangle(width, height), width_m=10, headland_width_m=0, heading_deg=0, step_m=10
    )


def zones_of(
    pieces: gpd.GeoDataFrame, depth_cm: NDArray[np.float64], near_m: float = 0.0
) -> gpd.GeoDataFrame:
    return merge(pieces, depth_cm, zone_of(pieces, depth_cm, near_m=near_m))


def test_halves_are_two_zones_numbered_from_the_north() -> None:
    laid = squares(40, 40)
    north = laid.pieces.geometry.centroid.y.to_numpy() > ORIGIN[1] + 20
    zones = zones_of(laid.pieces, np.where(north, 30.0, 20.0))
    assert zones["zone"].tolist() == [1, 2]
    assert zones["depth_cm"].tolist() == [30.0, 20.0]
    assert zones["area_ha"].tolist() == pytest.approx([0.08, 0.08])
    assert zones["n_pieces"].tolist() == [8, 8]
    assert [len(shape.exterior.coords) for shape in zones.geometry] == [5, 5]


def test_zones_side_by_side_are_numbered_from_the_west() -> None:
    laid = squares(60, 20)
    depth = np.repeat([25.0, 35.0, 25.0], 4)
    assert zones_of(laid.pieces, depth)["depth_cm"].tolist() == [25.0, 35.0, 25.0]
    assert zone_of(laid.pieces, depth).tolist() == np.repeat([1, 2, 3], 4).tolist()


def test_a_corner_does_not_connect() -> None:
    laid = squares(20, 20)
    zones = zones_of(laid.pieces, np.array([20.0, 30.0, 30.0, 20.0]))
    assert len(zones) == 4


def test_a_hole_is_kept() -> None:
    laid = squares(40, 40)
    depth = np.full(16, 30.0)
    depth[5] = 0.0
    zones = zones_of(laid.pieces, depth)
    assert_covers(zones.geometry.to_numpy(), rectangle(40, 40))
    assert sorted(len(shape.interiors) for shape in zones.geometry) == [0, 1]


def test_patches_of_one_depth_on_both_sides_of_a_deeper_strip_are_one_zone() -> None:
    laid = squares(60, 20)
    depth = np.repeat([25.0, 35.0, 25.0], 4)
    zones = zones_of(laid.pieces, depth, near_m=21.0)
    assert zones["depth_cm"].tolist() == [25.0, 35.0]
    assert zones["area_ha"].tolist() == pytest.approx([0.08, 0.04])
    assert shapely.coverage_is_valid(zones.geometry.to_numpy())
    assert len(zones_of(laid.pieces, depth, near_m=19.0)) == 3


@settings(max_examples=12, deadline=None)
@given(field=fields(), seed=st.integers(0, 99), levels=st.integers(1, 5))
def test_any_depths_give_a_valid_coverage(field: MultiPolygon, seed: int, levels: int) -> None:
    laid = lay_passes(field, width_m=6, headland_width_m=12, heading_deg=20, step_m=8)
    depth = np.random.default_rng(seed).integers(0, levels, len(laid.pieces)) * 5.0
    zones = zones_of(laid.pieces, depth)
    assert_covers(zones.geometry.to_numpy(), field)
    by_depth = laid.pieces.geometry.area.groupby(depth).sum()
    merged = (zones["area_ha"] * 1e4).groupby(zones["depth_cm"]).sum()
    assert np.allclose(by_depth, merged, rtol=1e-7)
    assert zone_of(laid.pieces, depth).max() == len(zones)


PASSES, STEPS = 12, 40  # 36 by 200 m


def beside_a_cable(
    cable: LineString, pan: NDArray[np.float64], *, cap_cm: float = 0.0, **depth: object
) -> tuple[gpd.GeoDataFrame, DepthChoice, NDArray[np.bool_]]:
    """Return the pieces, their depths and which of them are lifted for a cable, 4 m kept off."""
    laid, plan = straight(PASSES, STEPS), rules(**depth)
    hazards = gpd.GeoDataFrame({"cap_cm": [cap_cm]}, geometry=[cable.buffer(4.0)])
    width_m, reach_m = plan.machine.width_m, plan.machine.row_gap_cm / 100
    caps = cap_of_pieces(laid, hazards, width_m=width_m, reach_m=reach_m)
    there, ground = placed(np.arange(len(caps)), 15.0), surface(np.full(len(caps), 32.0), 2.0, pan)
    choice = choose_depths(laid, there, ground, plan, caps)
    return laid.pieces, choice, kept_off(laid.pieces, choice, there, ground, plan, hazards)


def test_lifted_ground_without_a_pan_beyond_a_cable_is_a_zone_of_its_own() -> None:
    pan = np.where(np.arange(PASSES * STEPS) % STEPS < 20, 0.02, 1.0)  # none south of 100 m
    pieces, choice, off = beside_a_cable(LineString([(-9, 80), (99, 80)]), pan)
    zone = zone_of(pieces, choice.depth_cm, off=off)
    zones = merge(pieces, choice.depth_cm, zone)
    assert zones["depth_cm"].tolist() == [37.5, 0.0, 0.0, 0.0]  # from the north
    middle = pieces.geometry.centroid.y
    assert middle[off].between(74, 86).all()  # the strip, and the steps that it cuts
    assert (off == (zone == 3)).all()
    whole = merge(pieces, choice.depth_cm, zone_of(pieces, choice.depth_cm))
    assert whole["depth_cm"].tolist() == [37.5, 0.0]
    again = merge(pieces, choice.depth_cm, zone_of(pieces, choice.depth_cm, off=off, near_m=20.0))
    assert again["depth_cm"].tolist() == [37.5, 0.0, 0.0]  # one patch on both sides of the strip


def test_ground_over_a_drain_that_allows_less_than_the_plan_works_is_a_zone_of_its_own() -> None:
    pan = np.where(np.arange(PASSES * STEPS) % STEPS < 14, 0.02, 1.0)  # none south of 70 m
    drain = LineString([(-9, 80), (99, 80)])
    pieces, choice, off = beside_a_cable(drain, pan, cap_cm=25.0, max_depths=1)
    assert choice.levels_cm.tolist() == [37.5]
    assert (choice.depth_cm[choice.cap_cm <= 25.0] == 0).all()
    assert off[choice.cap_cm <= 25.0].all()
    assert not off[pieces.geometry.centroid.y < 70].any()
    shallow = replace(choice, levels_cm=np.array([25.0, 37.5]))
    assert choice.barred.any()
    assert not shallow.barred.any()


@pytest.mark.parametrize(("chance", "for_cable"), [(0.23, True), (0.17, False)])
def test_a_patch_beside_a_cable_is_lifted_for_it_where_a_pan_is_likelier_than_asked(
    chance: float, *, for_cable: bool
) -> None:
    """Five metres to the end of each pass: work there does not bring the charge of a change.

    The assurance asked is 0.8.
    """
    pan = np.where(np.arange(PASSES * STEPS) % STEPS == 0, chance, 1.0)
    _, choice, off = beside_a_cable(LineString([(-9, 12), (99, 12)]), pan)
    left = (choice.depth_cm == 0) & (choice.cap_cm > 0)
    assert left.sum() == PASSES
    assert (off[left] == for_cable).all()


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 9999), ends=st.tuples(*[st.floats(-30, 230)] * 2), run=st.floats(10, 80))
def test_ground_within_reach_of_a_cable_is_never_in_a_zone_of_other_lifted_ground(
    seed: int, ends: tuple[float, float], run: float
) -> None:
    rng, cable = np.random.default_rng(seed), LineString(zip((-9, 45), ends, strict=True))
    pan = np.repeat(rng.choice([0.0, 0.1, 0.4, 1.0], PASSES * STEPS // 8), 8)
    pieces, choice, off = beside_a_cable(cable, pan, min_run_m=run)
    lifted = choice.depth_cm == 0
    assert lifted[off].all()
    assert off[choice.cap_cm == 0].all()
    near = shapely.dwithin(pieces.geometry.to_numpy(), cable.buffer(4.0), 0.9)
    assert off[lifted & near].all()
    zone = zone_of(pieces, choice.depth_cm, off=off)
    assert not set(zone[off]) & set(zone[~off])
    strip = pieces[off].union_all()
    for other in set(zone[lifted & ~off]):
        beside = pieces[zone == other].union_all().intersection(strip).length > 0
        assert not beside or pan[zone == other].mean() <= 0.2 + 1e-9  # 1 - assurance


def test_runs_join_steps_of_one_depth() -> None:
    laid = squares(20, 60)
    depth = np.array([20, 20, 30, 30, 30, 30, 25, 25, 25, 25, 25, 25.0])
    found = runs(laid.lines, laid.pieces, depth)
    assert found["pass"].tolist() == [1, 1, 2]
    assert found["step"].tolist() == [1, 2, 1]
    assert found["from_m"].tolist() == pytest.approx([0, 20, 0])
    assert found["to_m"].tolist() == pytest.approx([20, 60, 60])
    assert found["depth_cm"].tolist() == [20, 30, 25]
    assert np.allclose(found.geometry.length, [20, 40, 60])
    first = shapely.get_coordinates(found.geometry.iloc[0]) - ORIGIN
    assert np.allclose(first, [[5, 0], [5, 20]])


@settings(max_examples=10, deadline=None)
@given(field=fields(), seed=st.integers(0, 99))
def test_runs_cover_every_pass_without_repeating_a_depth(field: MultiPolygon, seed: int) -> None:
    laid = lay_passes(field, width_m=6, headland_width_m=12, heading_deg=20, step_m=8)
    depth = np.random.default_rng(seed).integers(0, 3, len(laid.pieces)) * 5.0
    found = runs(laid.lines, laid.pieces, depth)
    assert np.allclose(found.geometry.length, found["to_m"] - found["from_m"], atol=1e-6)
    assert np.allclose(found.groupby("pass")["to_m"].max(), laid.lines.geometry.length, atol=1e-6)
    same_pass = found["pass"].diff() == 0
    assert (found["depth_cm"].diff()[same_pass] != 0).all()
    assert np.allclose(found["from_m"][same_pass], found["to_m"].shift()[same_pass])
    shuffled = np.random.default_rng(seed).permutation(len(laid.pieces))
    again = runs(laid.lines, laid.pieces.iloc[shuffled], depth[shuffled])
    assert again.drop(columns="geometry").equals(found.drop(columns="geometry"))


@pytest.mark.parametrize("name", SAMPLE)
def test_zones_of_real_parcels_keep_the_geodesic_area_at_eight_decimals(name: str) -> None:
    """Geodesic area by `pyproj.Geod` (Karney 2013) against the areas published with the data."""
    real = parcel(name)
    laid = lay_passes(
        real.boundary, width_m=6, headland_width_m=12, step_m=8,
        heading_deg=default_heading(real.boundary),
    )  # fmt: skip
    x, y = shapely.get_coordinates(laid.pieces.geometry.centroid.to_numpy()).T
    zones = zones_of(laid.pieces, np.round(np.sin(x / 40) + np.cos(y / 30)) * 5 + 25)
    assert_covers(zones.geometry.to_numpy(), real.boundary)

    lon_lat = [
        shapely.transform(shapely.segmentize(shapes, 20), partial(written, real, decimals))
        for shapes in (real.boundary, zones.geometry.to_numpy())
        for decimals in (12, 8)
    ]
    outline, _, exact, rounded = (geodesic_ha(shapes) for shapes in lon_lat)
    assert exact == pytest.approx(outline, rel=2e-7)
    # Eight decimals move a corner by up to 0.8 mm; along an outline that mostly cancels.
    assert rounded == pytest.approx(outline, abs=1e-4 * real.boundary.length / 1e4)
    if outline > 4:
        assert rounded == pytest.approx(outline, rel=1e-6)
    assert exact == pytest.approx(real.geodesic_ha, rel=5e-6)  # published to 0.000001 ha
    if real.official_ha is not None:
        assert exact == pytest.approx(real.official_ha, rel=0.02)


def written(real: Parcel, decimals: int, xy: np.ndarray) -> np.ndarray:
    return np.round(np.column_stack(real.to_lon_lat.transform(*xy.T)), decimals)


def geodesic_ha(shapes: object) -> float:
    geod = Geod(ellps="WGS84")
    each = shapely.orient_polygons(np.atleast_1d(shapes))
    return sum(abs(geod.geometry_area_perimeter(one)[0]) for one in each) / 1e4

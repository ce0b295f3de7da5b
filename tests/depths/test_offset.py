from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
import shapely
from depths.plain_passes import rules, surface
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, affinity, box

from zoning.depths.lay import heading_frame
from zoning.depths.loss import expected_loss
from zoning.depths.offset import Ground, best_offset, cheapest_offset, offset_cost
from zoning.model import PanSurface

MACHINE = {"legs": 8, "leg_spacing_cm": 50}  # 4 m
SETTINGS = rules(MACHINE, max_depths=2)
SLIP_M = 4.0 / 12


def striped(first_m: float, *, every_m: float = 12.0, wide_m: float = 3.0) -> Ground:
    """Return ground of 48 by 100 m whose pan lies deeper in stripes along the heading."""
    first = np.arange(0, 48, SLIP_M) + SLIP_M / 2 - first_m
    options = np.array([0.0, 30.0, 42.5])
    loss = expected_loss(
        surface(np.where(first % every_m < wide_m, 39.5, 27.0), 0.5),
        options,
        clearance_cm=3,
        assurance=0.8,
    )
    cost = np.repeat(loss[:, None], 20, axis=1) * SLIP_M * 5.0
    area, caps = np.full((len(first), 20), SLIP_M * 5.0), np.full((len(first), 20), np.inf)
    return Ground(0, cost, area, caps, options)


@pytest.mark.parametrize("first_m", [0.25, 1.5, 2.0, 3.25])
def test_stripes_fall_inside_single_passes(first_m: float) -> None:
    offset = cheapest_offset(striped(first_m), SETTINGS)
    # A stripe of 3 m begins in the first metre of a pass of 4 m, to a slip.
    assert (first_m - offset + SLIP_M) % 4.0 <= 1.0 + 2 * SLIP_M


def test_the_place_chosen_costs_least_of_all_tried() -> None:
    ground = striped(1.5)
    offset = cheapest_offset(ground, SETTINGS)
    costs = [offset_cost(ground, SETTINGS, place) for place in range(12)]
    assert costs[round(offset / SLIP_M)] == pytest.approx(min(costs))
    assert max(costs) > min(costs)


def test_of_equal_places_the_middle_is_taken() -> None:
    offset = cheapest_offset(striped(5.25, wide_m=2.0), SETTINGS)
    # Passes of 4 m leave a stripe of 2 m one metre on each side, to a slip.
    assert (5.25 - offset) % 4.0 == pytest.approx(1.0, abs=SLIP_M)


def test_even_ground_keeps_the_first_place() -> None:
    assert cheapest_offset(striped(0.0, wide_m=0.0), SETTINGS) == 0.0


def test_a_whole_width_changes_no_cost() -> None:
    ground = striped(1.5)
    one = offset_cost(ground, SETTINGS, 2)
    assert offset_cost(ground, SETTINGS, 2 + 12) == pytest.approx(one)


@given(st.integers(-30, 30), st.integers(0, 11))
def test_strips_hold_all_slips_between_their_edges(first: int, place: int) -> None:
    number = first + np.arange(40)
    cost = np.stack([number, number**2], axis=-1)[:, None].astype(float)
    ones = np.ones((40, 1))
    strips = Ground(first, cost, ones, np.where(number[:, None] == 3, 0.0, np.inf), ones).strips(
        12, place
    )
    group = (number - place) // 12
    group -= group.min()
    assert strips.area_m2[:, 0].tolist() == np.bincount(group).tolist()
    assert strips.cost[:, 0, 1].tolist() == np.bincount(group, number**2).tolist()
    assert np.flatnonzero(strips.cap_cm[:, 0] == 0).tolist() == sorted(set(group[number == 3]))


def boundary() -> MultiPolygon:
    return MultiPolygon([affinity.rotate(box(0, 0, 48, 100), -20, origin=(0, 0))])


def ground_of(field: MultiPolygon, deep_from_m: float) -> gpd.GeoDataFrame:
    """Return a field with strips of 3 m every 12 m along the heading as a part of their own."""
    frame = heading_frame(field, 20.0)
    strips = [box(at, -80, at + 3.0, 80) for at in np.arange(-48.0 + deep_from_m, 48.0, 12.0)]
    deep = shapely.transform(shapely.union_all(strips), frame.outward).intersection(field)
    table = {"part": ["body", "wheeling"]}
    return gpd.GeoDataFrame(table, geometry=[field.difference(deep), deep])


def even(xy_m: np.ndarray, part: np.ndarray) -> PanSurface:
    return surface(np.where(part == "wheeling", 39.5, 27.0) + 0 * xy_m[:, 0], 0.5)


@pytest.mark.parametrize("deep_from_m", [0.3, 1.0, 2.5, 3.1])
def test_offset_is_counted_from_the_centroid_across_the_heading(deep_from_m: float) -> None:
    field = boundary()
    parts = ground_of(field, deep_from_m)
    offset = best_offset(field, parts, even, SETTINGS, heading_deg=20.0)
    assert (deep_from_m - offset + SLIP_M) % 4.0 <= 1.0 + 2 * SLIP_M


@given(st.floats(0, 360))
@example(50.57916510202416)  # a ring that rounding leaves with a spike
@settings(max_examples=20, deadline=None)
def test_a_field_turned_with_its_heading_keeps_the_place_of_its_passes(angle_deg: float) -> None:
    field = boundary()
    parts = ground_of(field, 1.7)
    turned = [affinity.rotate(g, -angle_deg, origin=(7, 9)) for g in (field, *parts.geometry)]
    other = parts.set_geometry(turned[1:])
    offset = best_offset(turned[0], other, even, SETTINGS, heading_deg=20.0 + angle_deg)
    assert offset == best_offset(field, parts, even, SETTINGS, heading_deg=20.0)


def test_a_service_along_the_passes_falls_inside_one() -> None:
    field = boundary()
    frame = heading_frame(field, 20.0)
    keep_off = shapely.transform(box(1.2, -80, 3.2, 80), frame.outward)
    service = gpd.GeoDataFrame({"cap_cm": [0.0]}, geometry=[keep_off])
    parts = gpd.GeoDataFrame({"part": ["body"]}, geometry=[field])
    offset = best_offset(field, parts, even, SETTINGS, heading_deg=20.0, hazard_zones=service)
    assert (1.2 - offset) % 4.0 <= 2.0  # 2 m of keep-off begin in the first half of a pass of 4 m


def test_a_field_of_rounds_alone_keeps_the_first_place() -> None:
    field = MultiPolygon([box(0, 0, 20, 200)])
    parts = gpd.GeoDataFrame({"part": ["headland"]}, geometry=[field])
    wide = rules(MACHINE)
    wide = replace(wide, areas=replace(wide.areas, headland_width_m=12.0))
    assert best_offset(field, parts, even, wide, heading_deg=0.0) == 0.0

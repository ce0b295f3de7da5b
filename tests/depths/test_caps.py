from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from depths.plain_passes import WIDTH_M, framed, loop, straight
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, affinity, box

from zoning.depths.caps import cap_of_pieces


def zones(*pairs: tuple[float, Polygon]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {"cap_cm": [cap for cap, _ in pairs]}, geometry=[area for _, area in pairs]
    )


def test_only_pieces_that_touch_a_keep_off_are_held() -> None:
    laid = straight(2, 6)
    caps = cap_of_pieces(laid, zones((20.0, box(-5, 11, 1, 14))), width_m=WIDTH_M)
    assert np.flatnonzero(np.isfinite(caps)).tolist() == [2]
    assert caps[2] == 20.0


def test_the_lowest_cap_counts() -> None:
    area = box(-5, 11, 1, 14)
    caps = cap_of_pieces(
        straight(1, 6), zones((30.0, area), (0.0, area), (25.0, area)), width_m=WIDTH_M
    )
    assert caps[2] == 0.0


def test_no_hazard_leaves_no_cap() -> None:
    empty = gpd.GeoDataFrame({"cap_cm": np.empty(0)}, geometry=gpd.GeoSeries([], dtype="geometry"))
    assert np.isinf(cap_of_pieces(straight(2, 3), empty, width_m=WIDTH_M)).all()


def test_legs_beside_a_narrow_piece_reach_a_keep_off_too() -> None:
    # The piece is 1 m wide, its middle line at 0.5 m: a machine of 3 m works out to 2 m.
    rows = [(0, 1, "body", 0, 0.0, 5.0)]
    laid = framed(rows, [box(0, 0, 1, 5)], [LineString([(0.5, 0), (0.5, 5)])])
    assert cap_of_pieces(laid, zones((0.0, box(1.9, 1, 4, 2))), width_m=3.0)[0] == 0.0
    assert np.isinf(cap_of_pieces(laid, zones((0.0, box(2.1, 1, 4, 2))), width_m=3.0)[0])


@pytest.mark.parametrize(
    ("south_m", "north_m", "held"), [(10.5, 11.0, [1, 2]), (14.0, 14.5, [2, 3]), (12.0, 13.0, [2])]
)
def test_rows_apart_hold_the_pieces_before_and_after(
    south_m: float, north_m: float, held: list[int]
) -> None:
    keep_off = zones((0.0, box(1, south_m, 2, north_m)))  # inside the third piece of 5 m
    alone = cap_of_pieces(straight(1, 6), keep_off, width_m=WIDTH_M)
    apart = cap_of_pieces(straight(1, 6), keep_off, width_m=WIDTH_M, reach_m=0.9)
    assert np.flatnonzero(alone == 0).tolist() == [2]
    assert np.flatnonzero(apart == 0).tolist() == held


@pytest.mark.parametrize("place", [(0.4, 0.0), (0.0, 0.4)])
def test_a_round_reaches_across_its_beginning(place: tuple[float, float]) -> None:
    laid = loop()  # begins and ends at the origin, off to the right and back from above
    caps = cap_of_pieces(laid, zones((0.0, Point(place).buffer(0.1))), width_m=0.5, reach_m=0.9)
    assert caps[0] == 0.0
    assert caps[len(caps) - 1] == 0.0
    assert np.isinf(caps[1:-1]).all()


@given(st.floats(-10, 40), st.floats(-10, 40), st.floats(0.5, 8), st.floats(0, 3))
def test_every_piece_that_a_keep_off_touches_is_held(
    x: float, y: float, size: float, reach: float
) -> None:
    laid, area = straight(4, 5), affinity.rotate(box(x, y, x + size, y + 1), 30)
    caps = cap_of_pieces(laid, zones((10.0, area)), width_m=WIDTH_M, reach_m=reach)
    touched = laid.pieces.geometry.intersects(area).to_numpy()
    assert (caps[touched] == 10.0).all()
    far = laid.pieces.geometry.distance(area).to_numpy() > reach + WIDTH_M
    assert np.isinf(caps[far]).all()


@pytest.mark.parametrize("cap", [np.nan, -1.0])
def test_impossible_caps_are_refused(cap: float) -> None:
    with pytest.raises(ValueError, match="cap of a hazard"):
        cap_of_pieces(straight(1, 1), zones((cap, box(0, 0, 1, 1))), width_m=WIDTH_M)

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
import pytest
import shapely
from depths.lay_fields import ORIGIN, assert_covers, fields, placed, rectangle
from hypothesis import given, settings
from hypothesis import strategies as st
from open_parcels import SAMPLE, parcel
from shapely import MultiPolygon, Point, Polygon, affinity, box

from zoning.depths.lay import Laid, body_area, heading_frame, lay_passes, piece_of


def laid(boundary: MultiPolygon, **changes: float) -> Laid:
    plan = {"width_m": 5.0, "headland_width_m": 0.0, "heading_deg": 0.0, "step_m": 5.0} | changes
    return lay_passes(boundary, **plan)


def check(result: Laid, boundary: MultiPolygon, width_m: float) -> None:
    """Assert what every laying must keep: partition, numbering, lengths along the lines."""
    pieces, lines = result.pieces, result.lines
    assert_covers(pieces.geometry.to_numpy(), boundary)
    assert list(pieces["piece"]) == list(range(len(pieces)))
    assert list(lines["pass_id"]) == list(range(1, len(lines) + 1))
    by_pass = pieces.groupby("pass_id")
    assert list(by_pass["step"].first()) == [0] * len(lines)
    assert (pieces["step"].diff().dropna()[pieces["pass_id"].diff() == 0] == 1).all()
    same = pieces["pass_id"].shift() == pieces["pass_id"]
    assert np.allclose(pieces["from_m"][same], pieces["to_m"].shift()[same], atol=1e-9)
    assert np.allclose(by_pass["from_m"].first(), 0.0)
    assert np.allclose(by_pass["to_m"].last(), lines.geometry.length, atol=1e-6)
    assert (by_pass["kind"].nunique() == 1).all()
    assert (pieces.geometry.area <= 4 * width_m * 5.0).all()


def test_rectangle_without_headland_is_a_board_of_squares() -> None:
    field = rectangle(60, 300)
    result = laid(field)
    check(result, field, 5.0)
    assert len(result.lines) == 60 / 5
    assert len(result.pieces) == 60 * 300 / 25
    assert np.allclose(result.pieces.geometry.area, 25.0)
    assert np.allclose(result.lines.geometry.length, 300.0)


def test_rectangle_with_two_rounds() -> None:
    field = rectangle(60, 300)
    result = laid(field, headland_width_m=10)
    check(result, field, 5.0)
    headland, body = (result.lines[result.lines["kind"] == kind] for kind in ("headland", "body"))
    # Middle lines 2.5 m and 7.5 m inside: rectangles of 55 by 295 and 45 by 285.
    assert headland.geometry.length.tolist() == pytest.approx([2 * (55 + 295), 2 * (45 + 285)])
    assert headland.geometry.iloc[0].is_ring
    # What is left is 40 by 280.
    assert body.geometry.length.tolist() == pytest.approx([280.0] * 8)
    counts = result.pieces.groupby("pass_id").size()
    assert counts.tolist() == [140, 132, *[56] * 8]


def test_a_headland_that_is_no_whole_number_of_widths_is_rounded_up() -> None:
    assert body_area(rectangle(60, 300), 5.0, 12.0).area == pytest.approx(30 * 270)
    assert body_area(rectangle(60, 300), 5.0, 10.0).area == pytest.approx(40 * 280)
    assert body_area(rectangle(60, 300), 5.0, 30.0).is_empty


def test_rounds_leave_holes_alone_unless_asked() -> None:
    field = placed(box(0, 0, 200, 200).difference(box(90, 90, 110, 110)))
    assert body_area(field, 5.0, 10.0).area == pytest.approx(180**2 - 20**2)
    around = body_area(field, 5.0, 10.0, round_obstacles=True).area
    corners = math.pi * 10**2  # the band turns about the hole's corners in arcs
    assert around == pytest.approx(180**2 - 20**2 - 4 * 20 * 10 - corners, rel=1e-3)


def test_offset_moves_the_straight_passes_by_whole_widths_to_the_same_place() -> None:
    field = rectangle(57, 90)
    here, there = laid(field, offset_m=1.5), laid(field, offset_m=1.5 + 3 * 5.0)
    assert here.pieces.geometry.geom_equals(there.pieces.geometry).all()
    moved = laid(field, offset_m=2.5)
    assert not here.lines.geometry.iloc[3].equals(moved.lines.geometry.iloc[3])


def test_offset_is_counted_from_the_centroid_to_the_right_of_the_heading() -> None:
    field = rectangle(60, 100)
    lines = laid(field, offset_m=1.0).lines.geometry
    middle = np.array([line.centroid.x for line in lines]) - ORIGIN[0]
    whole = middle[1:-1]  # the outermost strips are cut by the outline
    assert np.allclose((whole - 30.0 - 1.0) % 5.0, 2.5)


def test_frame_measures_along_and_to_the_right() -> None:
    frame = heading_frame(rectangle(60, 100), 90.0)
    xy = ORIGIN + np.array([[30.0 + 7.0, 50.0 - 3.0]])  # 7 m east and 3 m south of the centroid
    along, across = frame.along_across(xy)
    assert along == pytest.approx([7.0])
    assert across == pytest.approx([3.0])
    assert np.allclose(frame.xy(along, across), xy)


def test_strip_by_cell_arithmetic_is_the_pass_of_the_piece() -> None:
    field = rectangle(60, 100)
    result = laid(field, heading_deg=25.0, offset_m=1.2)
    xy = np.random.default_rng(3).uniform([5, 5], [55, 95], (400, 2)) + ORIGIN
    _, across = heading_frame(field, 25.0).along_across(xy)
    strip = np.floor((across - 1.2) / 5.0)
    found = result.pieces["pass_id"].to_numpy()[piece_of(result.pieces, xy)]
    pairs = {(s, p) for s, p in zip(strip, found, strict=True)}
    most = [
        max(((strip == s) & (found == p)).sum() for t, p in pairs if t == s) for s in set(strip)
    ]
    assert sum(most) >= 0.95 * len(xy)  # the rest lies in ends that went to a neighbour


def test_a_pass_across_a_bay_is_two_passes() -> None:
    bay = placed(
        Polygon([(0, 0), (60, 0), (60, 90), (40, 90), (40, 30), (20, 30), (20, 90), (0, 90)])
    )
    result = laid(bay, heading_deg=90.0)
    check(result, bay, 5.0)
    # 6 strips of 5 m below the bay run 60 m; 12 above it are parted into 20 m left and right.
    assert sorted(result.lines.geometry.length.round(6)) == [20.0] * 24 + [60.0] * 6


def test_a_field_smaller_than_the_machine_is_one_pass() -> None:
    for field in (rectangle(2, 2), rectangle(1, 0.5), rectangle(2, 40)):
        for headland in (0.0, 12.0):
            result = laid(field, headland_width_m=headland)
            assert_covers(result.pieces.geometry.to_numpy(), field)
            assert len(result.lines) == 1


def test_rounds_that_fill_the_field_are_told_of() -> None:
    result = laid(rectangle(60, 300), headland_width_m=100)
    assert [notice.code for notice in result.notices] == ["no-straight-passes"]
    assert set(result.pieces["kind"]) == {"headland"}
    assert laid(rectangle(60, 300)).notices == ()


def test_a_tail_narrower_than_the_machine_has_a_pass_of_its_own() -> None:
    tail = placed(box(0, 0, 100, 100).union(box(100, 48, 160, 52)))
    result = laid(tail, headland_width_m=5)
    check(result, tail, 5.0)
    end = ORIGIN + np.array([[150.0, 50.0]])
    piece = result.pieces.iloc[piece_of(result.pieces, end)[0]]
    line = result.lines.geometry[piece["pass_id"] - 1]
    assert line.distance(Point(end[0])) < 0.5
    assert piece.geometry.area <= 4 * 5 * 1.5


def test_a_round_that_parts_gives_a_pass_a_loop() -> None:
    waist = placed(box(0, 0, 60, 60).union(box(60, 26, 80, 34)).union(box(80, 0, 140, 60)))
    result = laid(waist, headland_width_m=10)
    check(result, waist, 5.0)
    rings = [
        line for line in result.lines.geometry[result.lines["kind"] == "headland"] if line.is_ring
    ]
    # First round through the waist of 8 m; the second one closes in each of the two squares.
    assert len(rings) == 3


def test_ground_of_round_k_lies_k_widths_from_the_outline() -> None:
    field = placed(Polygon([(0, 0), (150, 10), (170, 120), (60, 150), (80, 70), (10, 90)]))
    result = laid(field, headland_width_m=15)
    outline = field.boundary
    rounds = result.lines[result.lines["kind"] == "headland"]
    for number, line in zip(rounds["pass_id"], rounds.geometry, strict=True):
        if not line.is_ring:
            continue
        k = round((outline.distance(line) - 2.5) / 5.0)
        corners = shapely.points(shapely.get_coordinates(line))
        assert np.allclose(shapely.distance(corners, outline), (k + 0.5) * 5.0, atol=0.05)
        own = result.pieces.geometry[result.pieces["pass_id"] == number]
        middle = shapely.distance(own.representative_point().to_numpy(), outline)
        assert np.mean((middle > k * 5.0 - 0.3) & (middle < (k + 1) * 5.0 + 0.3)) > 0.9


@settings(max_examples=15, deadline=None)
@given(
    field=fields(), width=st.floats(2.5, 9), headland=st.floats(0, 30), heading=st.floats(0, 360),
    offset=st.floats(0, 9), obstacles=st.booleans(),
)  # fmt: skip
def test_any_field_is_partitioned_exactly(
    field: MultiPolygon,
    width: float,
    headland: float,
    heading: float,
    offset: float,
    obstacles: bool,
) -> None:
    result = lay_passes(
        field, width_m=width, headland_width_m=headland, heading_deg=heading, offset_m=offset,
        step_m=5.0, round_obstacles=obstacles,
    )  # fmt: skip
    check(result, field, max(width, 5.0))


@settings(max_examples=6, deadline=None)
@given(
    field=fields(), turn=st.floats(-180, 180), east=st.floats(-9e4, 9e4), north=st.floats(-9e5, 9e5)
)
def test_passes_move_and_turn_with_the_field(
    field: MultiPolygon, turn: float, east: float, north: float
) -> None:
    moved = affinity.translate(affinity.rotate(field, -turn, origin=tuple(ORIGIN)), east, north)
    here = laid(field, width_m=4.3, headland_width_m=8.6, heading_deg=31.0, offset_m=1.7)
    there = laid(moved, width_m=4.3, headland_width_m=8.6, heading_deg=31.0 + turn, offset_m=1.7)
    before = here.pieces[here.pieces["kind"] == "body"].geometry.area
    after = there.pieces[there.pieces["kind"] == "body"].geometry.area
    assert len(before) == len(after)
    assert np.allclose(np.sort(before), np.sort(after), atol=1e-3)


def test_the_order_of_polygons_and_corners_does_not_matter() -> None:
    one, other = Polygon([(0, 0), (80, 5), (70, 90), (5, 70)]), box(100, 0, 150, 60)
    again = Polygon([(70, 90), (5, 70), (0, 0), (80, 5)])
    here, there = (
        laid(placed(*parts), headland_width_m=10, heading_deg=20.0)
        for parts in ((one, other), (other, again))
    )
    assert (
        here.pieces.drop(columns="geometry")
        .round(6)
        .equals(there.pieces.drop(columns="geometry").round(6))
    )
    gap = shapely.hausdorff_distance(
        here.pieces.geometry.to_numpy(), there.pieces.geometry.to_numpy()
    )
    assert gap.max() < 1e-6


def test_the_same_field_gives_the_same_bytes() -> None:
    field = placed(Polygon([(0, 0), (80, 5), (70, 90), (5, 70)]))
    here, there = (laid(field, headland_width_m=10, heading_deg=20.0) for _ in range(2))
    assert (
        shapely.to_wkb(here.pieces.geometry.to_numpy())
        == shapely.to_wkb(there.pieces.geometry.to_numpy())
    ).all()


def test_places_go_to_the_piece_that_holds_them() -> None:
    pieces = laid(rectangle(60, 300), heading_deg=33.0, headland_width_m=10).pieces
    inside = shapely.get_coordinates(pieces.geometry.representative_point().to_numpy())
    assert piece_of(pieces, inside).tolist() == pieces["piece"].tolist()
    xy = ORIGIN + np.random.default_rng(1).uniform([0, 0], [60, 300], (2000, 2))
    found = piece_of(pieces, xy)
    assert shapely.intersects(pieces.geometry.to_numpy()[found], shapely.points(xy)).all()


def test_places_on_edges_and_outside() -> None:
    pieces = gpd.GeoDataFrame({"piece": [0, 1]}, geometry=[box(0, 0, 1, 1), box(1, 0, 2, 1)])
    xy = np.array([[1.0, 0.5], [2.5, 0.5], [9.0, 0.5]])
    assert piece_of(pieces, xy).tolist() == [0, 1, 1]


@pytest.mark.parametrize("name", SAMPLE)
def test_real_parcels_are_partitioned_exactly(name: str) -> None:
    """Real parcels (see `open_parcels` for the source): pieces cover each of them once."""
    field = parcel(name).boundary
    width = 3.01 if field.area < 1e4 else 6.0
    result = laid(field, width_m=width, headland_width_m=18.0, heading_deg=17.0)
    check(result, field, width)

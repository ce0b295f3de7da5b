"""The order of work: which zone belongs to which stage, and how passes are counted."""

from __future__ import annotations

from collections.abc import Callable

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Point, Polygon, box
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from zoning.model import Plan
from zoning.outputs.sheet.steps import (
    Setting,
    begin_with,
    headland_rounds,
    how_counted,
    work_stages,
)

CRS = "EPSG:32630"


def zones(*rows: tuple[int, float, tuple[float, float, float, float]]) -> gpd.GeoDataFrame:
    numbers, depths, boxes = zip(*rows, strict=True)
    frame = {"zone": numbers, "depth_cm": depths}
    return gpd.GeoDataFrame(frame, geometry=[box(*each) for each in boxes], crs=CRS)


def passes(*rows: tuple[int, str, list[tuple[float, float]]]) -> gpd.GeoDataFrame:
    lines = [LineString(line) for _, _, line in rows]
    frame = pd.DataFrame({"pass": [n for n, _, _ in rows], "part": [part for _, part, _ in rows]})
    frame["laid"] = np.where(frame["part"] == "headland", "round", "straight")
    frame["step"] = frame.groupby("pass").cumcount() + 1
    length = pd.Series([line.length for line in lines])
    frame["to_m"] = length.groupby(frame["pass"]).cumsum()
    frame["from_m"] = frame["to_m"] - length
    return gpd.GeoDataFrame(frame, geometry=lines, crs=CRS)


FIELD = zones(
    (1, 40.0, (0, 0, 100, 10)), (2, 30.0, (0, 10, 50, 100)), (3, 35.0, (50, 10, 100, 100)),
    (4, 0.0, (100, 0, 110, 100)),
)  # fmt: skip
DRIVEN = passes(
    (1, "headland", [(0, 5), (100, 5)]),
    (2, "body", [(20, 10), (20, 100)]), (3, "body", [(40, 10), (40, 100)]),
    (4, "body", [(70, 10), (70, 100)]),
).assign(depth_cm=[40.0, 30.0, 30.0, 35.0])  # fmt: skip


def test_zones_are_worked_in_the_stage_of_their_passes() -> None:
    stages = work_stages(FIELD, DRIVEN)
    assert stages.straight == (Setting(30.0, (2,)), Setting(35.0, (3,)))
    assert stages.headland == (Setting(40.0, (1,)),)


def test_a_zone_of_both_stages_is_worked_in_both_and_one_of_none_straight() -> None:
    short = passes((5, "headland", [(5, 50), (15, 50)])).assign(depth_cm=30.0)
    more = pd.concat([DRIVEN, short])
    stages = work_stages(FIELD, more)
    assert Setting(30.0, (2,)) in stages.straight
    assert Setting(30.0, (2,)) in stages.headland
    unseen = work_stages(zones((9, 25.0, (500, 0, 501, 1))), DRIVEN)
    assert unseen.straight == (Setting(25.0, (9,)),)


def test_a_pass_beside_its_own_ground_takes_no_other_zone_into_its_stage() -> None:
    beside = passes((5, "body", [(95, 0), (95, 8)])).assign(depth_cm=35.0)
    assert work_stages(FIELD, pd.concat([DRIVEN, beside])) == work_stages(FIELD, DRIVEN)


def test_no_zone_that_is_worked_is_left_out(plan: Plan) -> None:
    stages = work_stages(plan.zones, plan.passes)
    told = {zone for each in (*stages.straight, *stages.headland) for zone in each.zones}
    assert told == set(plan.zones.loc[plan.zones["depth_cm"] > 0, "zone"])


def test_order_of_rows_does_not_matter(plan: Plan) -> None:
    again = work_stages(plan.zones.iloc[::-1], plan.passes.iloc[::-1])
    assert again == work_stages(plan.zones, plan.passes)
    assert how_counted(plan.passes.iloc[::-1]) == how_counted(plan.passes)


def test_a_round_is_what_was_laid_as_one_whatever_part_lies_beneath_it() -> None:
    mixed = passes(
        (1, "gateway", [(0, 0), (10, 0)]), (1, "body", [(10, 0), (60, 0)]),
        (2, "headland", [(0, 0), (60, 0)]),
    ).assign(laid=["round", "round", "straight"])  # fmt: skip
    assert headland_rounds(mixed) == {1}


def test_passes_are_counted_from_one_end_where_all_start_there() -> None:
    assert how_counted(DRIVEN) == (
        "In depth_passes.csv: headland rounds 1, straight passes 2 (west side) to 4 (east side). "
        "Metres count from the south end of every straight pass, and from the west end of every "
        "round; if driven the other way, read its rows from the last up."
    )
    turned = passes((1, "body", [(0, 0), (0, 90)]), (2, "body", [(10, 90), (10, 0)]))
    assert "Metres" not in how_counted(turned)
    assert how_counted(DRIVEN.head(0)) == ""


NO_GATE = Point()


@pytest.mark.parametrize(
    ("gateways", "told"),
    [(NO_GATE, " Begin with pass 2 on the west side."),
     (box(0, 0, 5, 5), " Begin with pass 4 on the east side, away from the gateway."),
     (box(100, 0, 110, 10), " Begin with pass 2 on the west side, away from the gateway."),
     (box(0, 0, 5, 5).union(box(74, 0, 110, 10)),
      " Begin with pass 2 on the west side, away from the gateway.")],
)  # fmt: skip
def test_the_first_pass_is_named_with_its_side(gateways: BaseGeometry, told: str) -> None:
    # straight passes 2, 3 and 4 lie 20, 40 and 70 m east; of two gateways the nearer one counts
    assert begin_with(DRIVEN.assign(depth_cm=30.0), gateways) == told


def test_a_short_outermost_pass_at_the_far_end_of_the_gateways_side_is_not_away_from_it() -> None:
    sliver = passes(
        (2, "body", [(20, 300), (20, 400)]),
        (3, "body", [(40, 0), (40, 400)]),
        (4, "body", [(200, 0), (200, 400)]),
    ).assign(depth_cm=30.0)
    told = begin_with(sliver, box(30, -5, 36, 0))
    assert told == " Begin with pass 4 on the east side, away from the gateway."


def test_a_side_whose_outermost_pass_crosses_a_gateway_is_not_away_from_it() -> None:
    """Corners of the round ground about a gateway lie nearer to one pass than to the other."""
    both = Point(20, 0).buffer(20).union(Point(77, 400).buffer(20))
    assert begin_with(DRIVEN.assign(depth_cm=30.0), both) == " Begin with pass 2 on the west side."


def test_work_does_not_begin_on_a_pass_that_is_lifted_all_the_way() -> None:
    lifted = DRIVEN.assign(depth_cm=[40.0, 0.0, 30.0, 30.0])
    assert begin_with(lifted, NO_GATE) == " Begin with pass 3 on the west side."
    assert begin_with(lifted.head(3), NO_GATE) == ""


WEST = " Begin each depth with its first pass from the west side: "


@pytest.mark.parametrize(
    ("gateways", "depths_cm", "told"),
    [(NO_GATE, [30.0, 40.0], "west side: 30 cm with pass 3; 40 cm with pass 2."),
     (NO_GATE, [25.0, 30.0, 40.0], "west side: 30 cm with pass 3; 40 cm with pass 2."),
     (box(0, 0, 5, 5), [30.0, 40.0],
      "east side, away from the gateway: 30 cm with pass 3; 40 cm with pass 4.")],
)  # fmt: skip
def test_each_depth_begins_with_the_first_pass_that_has_it(
    gateways: BaseGeometry, depths_cm: list[float], told: str
) -> None:
    passes_cm = DRIVEN.assign(depth_cm=[25.0, 40.0, 30.0, 40.0])  # 25 cm on no straight pass
    begun = " Begin each depth with its first pass from the "
    assert begin_with(passes_cm, gateways, depths_cm) == f"{begun}{told}"


def test_a_depth_on_next_to_no_metres_says_how_many_and_the_same_pass_is_told_once() -> None:
    split = passes(
        (2, "body", [(20, 10), (20, 22)]), (2, "body", [(20, 22), (20, 80)]),
        (3, "body", [(40, 10), (40, 100)]),
    ).assign(depth_cm=[44.0, 36.0, 40.0])  # fmt: skip
    assert begin_with(split, NO_GATE, [36.0, 40.0, 44.0]) == (
        f"{WEST}36 cm with pass 2; 40 cm with pass 3; 44 cm with pass 2 (12 m in all)."
    )
    alike = split.assign(depth_cm=[36.0, 44.0, 0.0])
    longer = pd.concat([alike, passes((3, "body", [(40, 0), (40, 90)])).assign(depth_cm=36.0)])
    assert begin_with(longer, NO_GATE, [36.0, 44.0]) == f"{WEST}36, 44 cm with pass 2."


@pytest.mark.parametrize(
    ("turn_deg", "end"),
    [(0, "south"), (50, "south-west"), (90, "west"), (180, "north"), (-90, "east")],
)
def test_the_end_is_named_by_the_compass(turn_deg: float, end: str) -> None:
    # A pass that is driven at this heading, clockwise from north, starts at the other end
    east, north = np.sin(np.radians(turn_deg)), np.cos(np.radians(turn_deg))
    one = passes((1, "body", [(0, 0), (90 * east, 90 * north)]))
    assert f"from the {end} end" in how_counted(one)


@given(st.sets(st.integers(1, 300), min_size=1, max_size=60))
def test_listed_numbers_stand_for_all_zones_and_no_other(numbers: set[int]) -> None:
    told = Setting(30.0, tuple(sorted(numbers))).listed()
    read: list[int] = []
    for each in told.split(", "):
        first, _, last = each.partition("–")
        read += range(int(first), int(last or first) + 1)
    assert read == sorted(numbers)


def test_a_marked_zone_stands_by_itself_in_its_place() -> None:
    assert Setting(30.0, (2, 4, 5, 6, 7, 9)).listed({5, 9}, "?") == "2, 4, 5?, 6, 7, 9?"


def test_a_wheeling_of_the_plan_goes_with_the_straight_passes(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    wheeled = changed(passes=plan.passes.assign(part="wheeling", laid="straight"))
    assert work_stages(plan.zones, wheeled.passes).headland == ()


def loop(corners: list[tuple[float, float]], turn_deg: float = 0.0) -> gpd.GeoDataFrame:
    ring = rotate(LineString([*corners, corners[0]]), turn_deg, origin=(0, 0))
    return passes((1, "body", list(ring.coords))).assign(laid="round")


@pytest.mark.parametrize(
    ("corners", "told"),
    [([(0, 100), (0, 0), (600, 0), (600, 100)], "anticlockwise from the north-west corner"),
     ([(0, 100), (600, 100), (600, 0), (0, 0)], "clockwise from the north-west corner"),
     ([(600, 0), (600, 100), (0, 100), (0, 0)], "anticlockwise from the south-east corner"),
     ([(0, 50), (0, 0), (600, 0), (600, 100), (0, 100)],
      "anticlockwise from the west side (numbered on the map)"),
     ([(3, 100), (0, 97), (0, 0), (600, 0), (600, 100)],  # a corner cut off
      "anticlockwise from the north-west corner")],
)  # fmt: skip
def test_where_a_round_starts_and_which_way_it_runs_is_told(
    corners: list[tuple[float, float]], told: str
) -> None:
    assert f"Metres count {told} of every round; if driven" in how_counted(loop(corners))


@given(turn_deg=st.floats(0.0, 360.0), length_m=st.floats(60.0, 2000.0))
@settings(deadline=None)
def test_the_corners_of_a_rectangle_have_four_names_however_it_lies(
    turn_deg: float, length_m: float
) -> None:
    corners = [(0.0, 0.0), (length_m, 0.0), (length_m, 60.0), (0.0, 60.0)]
    turned = [loop([*corners[at:], *corners[:at]], turn_deg) for at in range(4)]
    assert len({how_counted(one) for one in turned}) == 4
    assert all("anticlockwise" in how_counted(one) for one in turned)


def test_rounds_that_start_in_several_places_are_told_apart() -> None:
    square = [(0, 100), (0, 0), (100, 0), (100, 100)]
    at = {1: square, 2: square, 3: square[2:] + square[:2], 4: square[1:] + square[:1]}
    rounds = pd.concat(
        [loop(corners).assign(**{"pass": number}) for number, corners in at.items()],
        ignore_index=True,
    )
    told = how_counted(rounds[rounds["pass"] < 4])
    assert (
        "anticlockwise from the north-west corner of rounds 1, 2, "
        "anticlockwise from the south-east corner of round 3; if driven" in told
    )
    assert "of the other rounds as start_lon and start_lat show; if" in how_counted(rounds)


def test_rounds_about_a_gap_are_told_from_those_along_the_edge() -> None:
    square = [(0.0, 100.0), (0.0, 0.0), (100.0, 0.0), (100.0, 100.0)]
    gap = [(60.0, 60.0), (60.0, 40.0), (40.0, 40.0), (40.0, 60.0)]
    field = Polygon([(-5, -5), (105, -5), (105, 105), (-5, 105)], [gap])
    about = [(x + np.sign(x - 50) * 3, y + np.sign(y - 50) * 3) for x, y in gap]
    rings = {1: square, 2: about, 3: [(x * 0.94 + 3, y * 0.94 + 3) for x, y in square]}
    rounds = [loop(corners).assign(**{"pass": number}) for number, corners in rings.items()]
    straight = [passes((number, "body", [(20, 10), (20, 90)])) for number in (4, 5)]
    told = how_counted(pd.concat([*rounds, *straight], ignore_index=True), MultiPolygon([field]))
    assert "headland rounds 1 to 3 (2 about the gap), straight" in told
    assert "A pass that a gap cuts goes on beyond it as another, with a 0 m of its own." in told
    assert "anticlockwise from the north-west corner of every round along the edge, " in told
    assert "clockwise from the north-east corner of every round about the gap; if driven" in told
    whole = MultiPolygon([Polygon(field.exterior)])
    assert "gap" not in how_counted(pd.concat([*rounds, *straight], ignore_index=True), whole)

"""Every pass laid round the boundary is a round to the operator, whatever part lies beneath it."""

from __future__ import annotations

import re

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, box
from shapely.affinity import rotate, translate

from zoning import depths
from zoning.depths.lay import lay_passes
from zoning.outputs.sheet.steps import begin_with, headland_rounds, how_counted, work_stages
from zoning.workflow.describe import describe_runs

CRS = "EPSG:32630"
SHAPES = {
    "square": box(0, 0, 170, 150),
    "L": Polygon([(0, 0), (200, 0), (200, 75), (90, 75), (90, 170), (0, 170)]),
    "hole": box(0, 0, 180, 160) - box(80, 60, 105, 95),
    "slant": Polygon([(0, 0), (190, 30), (150, 180), (20, 140)]),
}
COMPASS = {
    name: np.array([np.sin(turn), np.cos(turn)])
    for name, turn in zip(
        ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"),
        np.arange(8) * np.pi / 4,
        strict=True,
    )
}
SIDE = "|".join(COMPASS)


def field_of(shape: str, turn_deg: float) -> MultiPolygon:
    whole = translate(rotate(SHAPES[shape], turn_deg, origin=(0, 0)), 500_000, 5_800_000)
    return MultiPolygon([whole])


def passes_of(
    field: MultiPolygon, width_m: float, headland_m: float, heading_deg: float
) -> tuple[gpd.GeoDataFrame, gpd.GeoDataFrame]:
    """Return zones and passes: rounds 40 cm deep, straight passes 30."""
    laid = lay_passes(
        field, width_m=width_m, headland_width_m=headland_m, heading_deg=heading_deg, step_m=25.0
    )
    deep = np.where(laid.pieces["kind"] == "headland", 40.0, 30.0)
    zones = depths.merge(laid.pieces, deep, depths.zone_of(laid.pieces, deep)).set_crs(CRS)
    whole = Polygon(field.geoms[0].exterior)
    inner = whole.buffer(-headland_m) & field
    parts = gpd.GeoDataFrame(
        {
            "part": ["body", "headland"],
            "kind": ["body", "headland"],
            "area_ha": [inner.area / 1e4, (field - inner).area / 1e4],
        },
        geometry=[inner, field - inner],
        crs=CRS,
    )
    return zones, describe_runs(depths.runs(laid.lines, laid.pieces, deep), parts).set_crs(CRS)


def whole_lines(passes: gpd.GeoDataFrame) -> dict[int, np.ndarray]:
    return {
        int(number): shapely.get_coordinates(runs.sort_values("step").geometry.to_numpy())
        for number, runs in passes.groupby("pass")
    }


@settings(max_examples=20, deadline=None)
@given(
    shape=st.sampled_from(sorted(SHAPES)),
    width_m=st.sampled_from([2.5, 3.01, 3.5, 4.2, 6.0]),
    headland_m=st.integers(20, 60).map(lambda half: half / 2),
    turn_deg=st.sampled_from([0.0, 13.0, 45.0, 118.0]),
    across=st.booleans(),
    gate=st.integers(0, 3),
)
def test_rounds_are_told_as_rounds_and_straight_passes_alone_say_where_to_begin(
    shape: str, width_m: float, headland_m: float, turn_deg: float, across: bool, gate: int
) -> None:
    field = field_of(shape, turn_deg)
    heading_deg = -turn_deg + 90.0 * across
    zones, passes = passes_of(field, width_m, headland_m, heading_deg)
    lines, rounds = whole_lines(passes), headland_rounds(passes)
    way = COMPASS["north"] * np.cos(np.radians(heading_deg))
    way = way + COMPASS["east"] * np.sin(np.radians(heading_deg))
    for number, line in lines.items():
        closed = np.hypot(*(line[0] - line[-1])) < 0.01
        straight = np.allclose((line - line[0]) @ [way[1], -way[0]], 0.0, atol=1e-6)
        assert number in rounds or (straight and not closed)
        # no straight pass runs where a round was laid: there its middle is nearer to the outline
        outline_m = field.geoms[0].exterior.distance(shapely.Point(line.mean(axis=0)))
        assert number in rounds or outline_m > headland_m - width_m

    told = how_counted(passes)
    spans = re.search(r"headland rounds 1(?: to (\d+))?, straight passes (\d+)", told)
    assert spans is not None
    assert int(spans[1] or 1) == max(rounds) == int(spans[2]) - 1 == len(rounds)
    end = re.search(rf"from the ({SIDE}) end of every straight pass", told)
    assert end is not None
    assert (-way) @ COMPASS[end[1]] >= np.cos(np.radians(22.6))
    assert "anticlockwise from the " in told

    stages = work_stages(zones, passes)
    assert [each.depth_cm for each in stages.straight] == [30.0]
    assert [each.depth_cm for each in stages.headland] == [40.0]

    corner = shapely.Point(shapely.get_coordinates(field.minimum_rotated_rectangle)[gate])
    begin_away(passes, corner.buffer(20) & field, lines, rounds)


def begin_away(
    passes: gpd.GeoDataFrame,
    gateway: shapely.Geometry,
    lines: dict[int, np.ndarray],
    rounds: frozenset[int],
) -> None:
    """The work begins with an outermost straight pass, never on the side of the gateway.

    A pass counts as lengthened to both sides: short, it may lie at the far end of that side.
    """
    told = begin_with(passes, gateway)
    named = re.fullmatch(rf" Begin with pass (\d+) on the ({SIDE}) side(.*)\.", told)
    assert named is not None
    straight = sorted(set(lines) - rounds)
    own, other = int(named[1]), straight[0] + straight[-1] - int(named[1])
    assert {own, other} == {straight[0], straight[-1]}
    if gateway.is_empty:
        return
    posts = shapely.MultiPoint(shapely.get_coordinates(gateway))
    near_m = {n: posts.distance(lengthened(lines[n])) for n in (own, other)}
    assert near_m[own] >= near_m[other] - 0.02
    if abs(near_m[own] - near_m[other]) > 0.02:
        assert named[3] == ", away from the gateway"
    apart = lines[own].mean(axis=0) - lines[other].mean(axis=0)
    square = lines[own][-1] - lines[own][0]
    square = np.array([-square[1], square[0]]) / np.hypot(*square)
    square = square * np.sign(square @ apart)
    assert square @ COMPASS[named[2]] >= np.cos(np.radians(22.6))


def lengthened(line: np.ndarray) -> shapely.LineString:
    way = (line[-1] - line[0]) / np.hypot(*(line[-1] - line[0]))
    return shapely.LineString([line[0] - 1e4 * way, line[0] + 1e4 * way])


@pytest.mark.parametrize("headland_m", [12.0, 13.0, 14.0, 15.0, 16.0])
def test_the_innermost_round_is_one_though_it_runs_in_the_body(headland_m: float) -> None:
    """At 13 and 15 m rounds of 3.5 m leave it less than half its width of headland."""
    _, passes = passes_of(field_of("L", 0.0), 3.5, headland_m, 0.0)
    last = passes[passes["pass"] == 4 + (headland_m > 14)]
    assert set(last["laid"]) == {"round"}
    ring = shapely.get_coordinates(last.geometry.to_numpy())
    assert np.hypot(*(ring[0] - ring[-1])) < 0.01
    assert set(last["part"]) == ({"body"} if headland_m in {12.0, 15.0} else {"headland"})

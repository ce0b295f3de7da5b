"""Where to dig next: inside the ground that is open, apart, away from hazards."""

from __future__ import annotations

import dataclasses

import geopandas as gpd
import numpy as np
import pytest
import shapely
from checks.conftest import CRS, field_parts, pit_rows, planned_ground, station_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from zoning.checks.groups import judge_groups
from zoning.checks.nextpits import dig_next, dig_notices
from zoning.checks.pits import judge_pits
from zoning.model.check import PlannedGround

LEG, BETWEEN = "loosened_at_leg_cm", "loosened_between_cm"
NOWHERE = shapely.Polygon()


def parts_of(**shapes: shapely.Geometry) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame({"part": list(shapes)}, geometry=list(shapes.values()), crs=CRS)


WHOLE = parts_of(body=shapely.box(0, 0, 300, 100))


def asked(planned, *pits: dict[str, object], probes=None, keep_off=NOWHERE, parts=WHOLE):
    judged = judge_pits(pit_rows(*pits).astype({"x_m": float, "y_m": float}), planned, read_on="")
    stations = station_rows() if probes is None else probes
    groups = judge_groups(planned, judged, stations, field_parts())
    return dig_next(planned, groups, judged, stations, parts=parts, ridge_cm=3.0, keep_off=keep_off)


def test_each_depth_gets_the_pits_it_lacks(planned) -> None:
    done = [{LEG: 35.0, BETWEEN: 33.0, "x_m": 20.0 * i + 10} for i in range(4)]
    found = asked(planned, *done)
    assert found["depth_cm"].tolist() == [40.0] * 4
    assert found["order"].tolist() == [1, 2, 3, 4]
    assert asked(planned)["depth_cm"].value_counts().to_dict() == {35.0: 4, 40.0: 4}


@pytest.mark.parametrize(("between_cm", "told"), [(24.0, False), (33.0, True)])
def test_no_chance_is_given_that_the_pits_of_that_depth_and_part_go_against(
    between_cm: float, told: bool
) -> None:
    """By the plan 35 less 3 cm passes a base of 30 cm; the pits at 35 cm may show otherwise."""
    dug = [{LEG: 35.0, BETWEEN: between_cm, "x_m": 10.0 + 20 * i} for i in range(2)]
    found = asked(planned_ground(), *dug).set_index("depth_cm")["chance_between"]
    assert (found[35.0] > 0.5).all() if told else found[35.0].isna().all()
    assert (found[40.0] > 0.5).all()  # nobody dug there
    elsewhere = asked(planned_ground(), *[pit | {"part": "headland"} for pit in dug])
    assert elsewhere["chance_between"].notna().all()


@pytest.mark.parametrize(
    ("legs_cm", "told"),
    [
        ((37.5, 37.0), False),
        ((43.0, 42.5), False),
        ((37.5, 40.0), True),
        ((37.0, 43.0), True),
        ((37.5, 38.0, 37.5), False),
        ((40.0, 30.0, 39.5), True),  # one that floated is told by name
        ((0.0, 40.0), True),  # a missed strip is no depth that the legs ran at
        ((), True),
    ],
)
def test_no_chance_is_given_at_a_depth_that_the_legs_ran_off(
    legs_cm: tuple[float, ...], told: bool
) -> None:
    """The base lies at 30 cm: each of these pits but the missed strip is passed between legs."""
    dug = [{LEG: leg, BETWEEN: max(0.0, leg - 3)} for leg in legs_cm]
    dug = [pit | {"x_m": 130.0 + 30 * i} for i, pit in enumerate(dug)]
    found = asked(planned_ground(), *dug)
    given = found["chance_between"].notna().groupby(found["depth_cm"]).agg(["all", "any"])
    assert given.loc[40.0].tolist() == [told, told]
    assert given.loc[35.0, "all"], "nobody dug there"


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(st.floats(1, 199), st.floats(1, 99)), max_size=4))
def test_places_lie_inside_and_apart(pits: list[tuple[float, float]]) -> None:
    planned = planned_ground()
    dug = [{LEG: 35.0, BETWEEN: 24.0, "x_m": x, "y_m": y} for x, y in pits]
    found = asked(planned, *dug)
    xy = found[["x_m", "y_m"]].to_numpy(dtype=float)
    both = np.vstack([xy, np.array(pits).reshape(-1, 2)])
    for i, place in enumerate(xy):
        gap = np.hypot(*(np.delete(both, i, axis=0) - place).T)
        assert gap.min(initial=np.inf) >= 25.0
    shapes = planned.zones.set_index("zone").geometry
    for row in found.itertuples():
        assert shapes[row.zone].buffer(-10.0).covers(row.geometry)


def test_nobody_is_sent_to_dig_on_keep_off_ground(planned) -> None:
    keep_off = shapely.box(-1, -1, 190, 101)
    found = asked(planned, keep_off=keep_off)
    assert not found.geometry.intersects(keep_off).any()
    assert set(found["depth_cm"]) == {40.0}


def test_places_keep_as_far_from_the_edge_and_from_a_hazard_as_the_zone_allows(planned) -> None:
    keep_off = shapely.box(40, -1, 60, 101)
    found = asked(planned, keep_off=keep_off)
    assert (found.geometry.distance(keep_off) >= 10.0).all()
    assert (found["depth_cm"] == 35.0).any()
    # Two strips, 14 m and 86 m wide: no cell of the narrow one lies 10 m from its edge.
    zones = planned.zones.set_geometry(
        [shapely.box(0, 0, 14, 100), shapely.box(14, 0, 100, 100), planned.zones.geometry[2]],
        crs=CRS,
    )
    strips = asked(dataclasses.replace(planned, zones=zones))
    narrow = strips.loc[strips["zone"] == 1, "x_m"]
    # Cells stand at 2.5, 7.5 and 12.5 m: only those in the middle are 6.5 m from either edge.
    assert set(narrow) == {7.5}


def test_a_narrow_arm_of_a_wide_zone_has_places_in_its_middle(planned) -> None:
    # 40 m by 86 m, and south of it an arm 14 m wide and 200 m long.
    arm = shapely.box(0, 0, 200, 14)
    zone = shapely.union(shapely.box(0, 14, 40, 100), arm)
    rest = shapely.box(0, 0, 300, 100).difference(zone)
    zones = planned.zones.iloc[:2].set_geometry([zone, rest], crs=CRS)
    found = asked(dataclasses.replace(planned, zones=zones))
    own = found[found["zone"] == 1]
    inside = own[own.geometry.within(shapely.box(60, 0, 200, 14))]
    assert len(inside)
    assert set(inside["y_m"]) == {7.5}


def test_a_narrow_part_that_holds_back_the_verdict_gets_the_next_place() -> None:
    """A strip 5 m wide is a quarter of the ground at 35 cm, and no place in it is 3 m inside."""
    planned = planned_ground()
    headland, strip = shapely.box(0, 0, 25, 100), shapely.box(25, 45, 195, 50)
    rest = shapely.box(0, 0, 300, 100).difference(shapely.union(headland, strip))
    zones = planned.zones.iloc[:2].set_geometry([shapely.union(headland, strip), rest], crs=CRS)
    zones["area_ha"] = zones.area / 1e4
    planned = dataclasses.replace(planned, zones=zones)
    parts = parts_of(headland=headland, wheeling=strip, body=rest)
    dug = [{LEG: 35.0, BETWEEN: 33.0, "x_m": 12.0, "y_m": y, "part": "headland"} for y in (10, 90)]
    first = asked(planned, *dug, parts=parts).query("depth_cm == 35").iloc[0]
    assert strip.covers(shapely.Point(first["x_m"], first["y_m"]))
    # A pit there that shows no more than that the leg passed leaves it waiting; one that tells not.
    there = {"x_m": 40.0, "y_m": 47.5, "part": "wheeling", LEG: 35.0}
    for seen, waiting in (({}, True), ({BETWEEN: 33.0}, False)):
        found = asked(planned, *dug, there | seen, parts=parts).query("depth_cm == 35")
        inside = [strip.covers(spot) for spot in found.geometry]
        assert any(inside) == waiting


def test_a_place_says_how_likely_the_pan_is_passed_there_by_the_plan(planned) -> None:
    probes = station_rows({"verdict": "pan", "x_m": 20.0})
    found = asked(planned, probes=probes)
    # 35 cm less a ridge of 3 cm, the base at 30 cm give or take 2 cm and 1 cm of reading.
    likely = norm.cdf((35.0 - 3.0 - 30.0) / np.hypot(2.0, 1.0))
    assert np.isnan(found["chance_between"].iloc[0])
    of_plan = found.loc[found["depth_cm"] == 35.0, "chance_between"].iloc[1:]
    assert len(of_plan)
    np.testing.assert_allclose(of_plan, likely, atol=0.005)
    assert not found["reason"].str.contains("%").any()


def test_the_most_open_ground_comes_first() -> None:
    planned = planned_ground()
    # 35 cm less a ridge of 3 cm is 32 cm: at x = 72.5 m the base lies just there, elsewhere at 25.
    base = np.full(planned.grid.shape, 25.0)
    base[10, 14] = 32.0
    planned = dataclasses.replace(planned, bands={**planned.bands, "pan_base_cm": base})
    found = asked(planned)
    assert found[found["depth_cm"] == 35.0][["x_m", "y_m"]].iloc[0].tolist() == [72.5, 47.5]


def test_a_ring_of_headland_gets_a_place_on_each_side() -> None:
    outer, inner = shapely.box(0, 0, 300, 100), shapely.box(20, 20, 280, 80)
    zones = planned_ground().zones.iloc[:2]
    zones = zones.set_geometry([inner, outer.difference(inner)], crs=CRS)
    planned = dataclasses.replace(planned_ground(), zones=zones)
    parts = parts_of(body=inner, headland=outer.difference(inner))
    found = asked(planned, parts=parts)
    x, y = found.loc[found["depth_cm"] == 40.0, ["x_m", "y_m"]].to_numpy(dtype=float).T
    assert (x < 60).any()
    assert (x > 240).any()
    assert (y < 20).any()
    assert (y > 80).any()
    assert found.loc[found["depth_cm"] == 40.0, "reason"].str.startswith("Headland: no pit").all()


def test_pits_push_places_away_also_from_the_most_doubtful_ground() -> None:
    planned = planned_ground()
    # Most open in the west, where pits are; open to a tenth of that in the east.
    base = np.tile(np.where(np.arange(60) < 10, 32.0, 28.4), (20, 1))
    planned = dataclasses.replace(planned, bands={**planned.bands, "pan_base_cm": base})
    crowd = [
        {LEG: 35.0, BETWEEN: 24.0 + 9 * (i % 2), "x_m": 5.0 + i, "y_m": 50.0} for i in range(2)
    ]
    first = asked(planned, *crowd).query("depth_cm == 35").iloc[0]
    assert first["x_m"] > 40.0
    assert "no pit behind the machine within" in first["reason"]


def test_parts_of_one_depth_share_its_places_by_area(planned) -> None:
    # Three parts of 70, 20 and 10 m: of four places Sainte-Lague gives 3, 1 and none.
    edges = {"body": (0, 70), "headland": (70, 90), "gateway": (90, 100)}
    parts = parts_of(**{name: shapely.box(a, 0, b, 100) for name, (a, b) in edges.items()})
    found = asked(planned, parts=parts)
    named = found.loc[found["depth_cm"] == 35.0, "reason"].str.split(":").str[0]
    assert named.value_counts().to_dict() == {"Body": 3, "Headland": 1}


def test_places_cover_the_ground_better_than_the_most_doubtful_cells_alone() -> None:
    # A wave of doubt: its crest is one narrow strip, and pits there alone would be a biased sample.
    planned = planned_ground()
    x = planned.grid.centres_m()[:, 0].reshape(planned.grid.shape)
    base = np.where(np.abs(x - 12.0) < 8, 32.0, 29.0)
    planned = dataclasses.replace(planned, bands={**planned.bands, "pan_base_cm": base})
    places = asked(planned).query("depth_cm == 35")
    assert len(places) == 4
    assert (np.abs(places["x_m"] - 12.0) < 8).sum() < 4
    ground = planned.grid.centres_m()
    ground = ground[ground[:, 0] < 100]
    gap = [np.hypot(*(ground - place).T) for place in places[["x_m", "y_m"]].to_numpy(float)]
    # Four places in the middles of the quarters are best; the mean way to the middle of a square
    # is (sqrt(2) + ln(1 + sqrt(2))) / 6 = 0.3826 of its side (a known integral).
    assert np.min(gap, axis=0).mean() < 1.5 * 0.3826 * 50
    # At the crest the chance is one half, elsewhere 0.91: the share that pits would show.
    chance = norm.cdf((35.0 - 3.0 - base[:, :20]) / np.hypot(2.0, 1.0))
    there = norm.cdf(np.where(np.abs(places["x_m"] - 12.0) < 8, 0.0, 3.0) / np.hypot(2.0, 1.0))
    assert abs(there.mean() - chance.mean()) < abs(0.5 - chance.mean()) / 2


def test_a_depth_of_next_to_no_ground_asks_for_no_pit(planned) -> None:
    zones = planned.zones.assign(area_ha=[1.0, 0.04, 1.0])
    assert set(asked(dataclasses.replace(planned, zones=zones))["depth_cm"]) == {35.0}


def test_cone_stations_that_still_meet_a_pan_come_first(planned) -> None:
    probes = station_rows({"verdict": "pan", "x_m": 20.0}, {"x_m": 60.0})
    first = asked(planned, probes=probes).iloc[0]
    assert (first["x_m"], "station C0" in first["reason"]) == (20.0, True)
    beside = {LEG: 35.0, BETWEEN: 33.0, "x_m": 25.0}
    reasons = asked(planned, beside, probes=probes)["reason"]
    assert not reasons.str.contains("C0").any()


def test_no_more_than_a_days_digging(planned) -> None:
    mixed = [{LEG: 35.0, BETWEEN: 33.0 - 9 * (i % 2), "x_m": 1.0, "y_m": 1.0} for i in range(12)]
    assert len(asked(planned, *mixed)) <= 12


@pytest.mark.parametrize(("edge_m", "shares"), [(150.0, (6, 6)), (200.0, (8, 4)), (270.0, (11, 1))])
def test_depths_share_a_days_digging_by_area(edge_m: float, shares: tuple[int, int]) -> None:
    planned = planned_ground()
    shapes = [shapely.box(0, 0, edge_m, 100), shapely.box(edge_m, 0, 300, 100)]
    zones = planned.zones.iloc[:2].set_geometry(shapes, crs=CRS)
    planned = dataclasses.replace(planned, zones=zones)
    judged = judge_pits(pit_rows(), planned, read_on="")
    groups = judge_groups(planned, judged, station_rows(), field_parts()).assign(more_pits=20)
    found = dig_next(
        planned, groups, judged, station_rows(), parts=WHOLE, ridge_cm=3.0, keep_off=NOWHERE
    )
    counts = found["depth_cm"].value_counts()
    assert (counts[35.0], counts[40.0]) == shares
    assert set(found["depth_cm"].iloc[:2]) == {35.0, 40.0}


def small(side_m: float, depth_cm: float = 35.0, at_m: float = 10.0) -> PlannedGround:
    """Return the plan with no more worked ground than a square."""
    planned = planned_ground(depth_cm=depth_cm)
    shape = shapely.box(at_m, at_m, at_m + side_m, at_m + side_m)
    zones = planned.zones.iloc[:1].assign(area_ha=side_m**2 / 1e4).set_geometry([shape], crs=CRS)
    return dataclasses.replace(planned, zones=zones)


def told(planned: PlannedGround, found: gpd.GeoDataFrame) -> list[str]:
    judged = judge_pits(pit_rows(), planned, read_on="")
    groups = judge_groups(planned, judged, station_rows(), field_parts())
    return [notice.text for notice in dig_notices(groups, found)]


def test_small_ground_gets_as_many_places_as_fit() -> None:
    # 10 m off each edge of 50 m leaves a square of 30 m, centres of cells 27.5 to 52.5 m apart at
    # most: four corners fit 25 m apart, and one in the middle would shut out all of them.
    planned = small(50.0)
    found = asked(planned)
    assert len(found) == 4
    xy = found[["x_m", "y_m"]].to_numpy(dtype=float)
    assert min(np.hypot(*(a - b)) for i, a in enumerate(xy) for b in xy[:i]) >= 25.0
    assert told(planned, found) == []


def test_where_no_more_fit_that_is_said_and_what_to_do() -> None:
    planned = small(34.0)
    found = asked(planned)
    assert len(found) == 1
    (text,) = told(planned, found)
    assert text.startswith("No place is named for 3 of the 4 pits asked for at 35 cm: no more fit")
    assert "25 m from one another" in text
    assert "more than 10 m: nearer ones count as one place" in text
    none = told(planned, found.iloc[:0])
    assert none[0].startswith("No place is named for 4 of the 4 pits")


def test_a_day_of_digging_is_said_to_be_one() -> None:
    planned = planned_ground()
    probes = station_rows(*({"verdict": "pan", "x_m": 20.0 + 25.0 * i} for i in range(5)))
    found = asked(planned, probes=probes)
    assert len(found) == 12
    assert found["ridge_from"].eq("").sum() == 4
    assert told(planned, found) == []  # cone stations come on top of the eight asked for
    cut = found[found["depth_cm"] == 35.0]
    twelve = found.assign(depth_cm=np.where(found.index < 6, 35.0, 40.0), ridge_from="")
    assert len(cut) < 12
    (text,) = told(planned, twelve)
    assert text == (
        "Dig places 1 to 12 in this order, a day's digging; run the check after each few. 4 more "
        "may settle the whole field. A verdict on every depth asks for 8, 8 of them without a "
        "place yet."
    )


def test_a_depth_of_many_decimals_gets_its_places() -> None:
    # "{:g}" of it would name another depth.
    assert len(asked(small(90.0, depth_cm=35.1234567))) == 4


def test_a_place_tells_the_ridge_that_its_chance_counts_with(planned) -> None:
    probes = station_rows({"verdict": "pan", "x_m": 20.0})
    found = asked(planned, probes=probes)
    cone, others = found.iloc[0], found.iloc[1:]
    assert np.isnan(cone["ridge_cm"])
    assert cone["ridge_from"] == ""
    assert set(others["ridge_cm"]) == {3.0}
    assert set(others["ridge_from"]) == {"pits"}

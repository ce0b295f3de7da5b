"""Pits at one place count once, and the whole field is not judged for ground without a pit."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from checks.conftest import CRS, field_parts, pit_rows, planned_ground, station_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

from zoning.checks.groups import FIELD, judge_groups
from zoning.checks.pits import judge_pits
from zoning.checks.places import by_place, place_of, unseen
from zoning.checks.rules import rule

DONE = {"loosened_at_leg_cm": 40.0, "loosened_between_cm": 34.0}
spots = st.tuples(st.floats(1, 199), st.floats(1, 99))


def judged(places: list[tuple[float, float]], part: str = "body") -> pd.DataFrame:
    rows = pit_rows(*[DONE | {"x_m": x, "y_m": y, "part": part} for x, y in places])
    return judge_pits(rows, planned_ground(), read_on="")


def split(west: str, east: str, at_m: float = 100.0) -> gpd.GeoDataFrame:
    shapes = [box(0, 0, at_m, 100), box(at_m, 0, 200, 100)]
    return gpd.GeoDataFrame({"part": [west, east]}, geometry=shapes, crs=CRS)


def groups(pits: pd.DataFrame, parts: gpd.GeoDataFrame | None = None) -> pd.DataFrame:
    told = field_parts() if parts is None else parts
    return judge_groups(planned_ground(), pits, station_rows(), told).set_index("name")


@settings(max_examples=60, deadline=None)
@given(places=st.lists(spots, min_size=1, max_size=10), data=st.data())
def test_places_hold_only_what_is_near_and_no_order_changes_them(
    places: list[tuple[float, float]], data: st.DataObject
) -> None:
    xy = np.array(places)
    own = place_of(xy)
    gap = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    same = own[:, None] == own[None]
    assert gap[same].max() <= rule("one_place_m") + 1e-9
    order = np.array(data.draw(st.permutations(range(len(places)))))
    turned = place_of(xy[order])
    assert ((turned[:, None] == turned[None]) == same[np.ix_(order, order)]).all()


@settings(max_examples=25, deadline=None)
@given(
    middle=st.tuples(st.floats(10, 190), st.floats(10, 90)),
    steps=st.lists(st.tuples(st.floats(-3, 3), st.floats(-3, 3)), min_size=1, max_size=12),
)
def test_pits_at_one_spot_settle_nothing_however_many(
    middle: tuple[float, float], steps: list[tuple[float, float]]
) -> None:
    pits = judged([(middle[0] + x, middle[1] + y) for x, y in steps])
    assert len(by_place(pits)) == 1
    told = groups(pits)
    assert set(told["verdict"]) == {"cannot_tell"}
    assert told.loc[FIELD, "more_pits"] == groups(judged([middle])).loc[FIELD, "more_pits"]
    assert told.loc[FIELD, ["pits", "places"]].tolist() == [len(steps), 1]


@settings(max_examples=25, deadline=None)
@given(places=st.lists(spots, max_size=12), at_m=st.floats(20, 180))
def test_no_verdict_on_the_field_while_much_ground_has_no_pit(
    places: list[tuple[float, float]], at_m: float
) -> None:
    parts = split("west", "east", at_m)
    pits = judged(places).assign(part=["west" if x < at_m else "east" for x, _ in places])
    told = groups(pits, parts)
    bare_part = {p for p, ha in (("west", at_m), ("east", 200 - at_m)) if ha >= 40}
    bare = (bare_part - set(pits["part"])) or not {1, 2} <= set(pits["zone"])
    assert bool(told.loc[FIELD, "unseen"]) == bool(bare)
    if bare:
        assert told.loc[FIELD, "verdict"] == "cannot_tell"
        assert told.loc[FIELD, "more_pits"] >= 1
        assert told.loc[told["group"] == "depth", "more_pits"].max() >= 1
    assert bare_part <= set(told.index)


def test_the_ground_without_a_pit_is_named_with_its_area() -> None:
    ring = [(x, y) for x in (20, 60, 120, 160) for y in (20, 80)]
    told = groups(judged(ring, part="headland"), split("headland", "body", 60.0))
    assert told.loc[FIELD, "unseen"] == "no pit in the body (1.4 ha)"
    assert told.loc["body", ["pits", "verdict"]].tolist() == [0, "cannot_tell"]
    assert groups(judged(ring)).loc[FIELD, ["unseen", "verdict"]].tolist() == ["", "reached"]


def test_a_depth_without_a_pit_and_a_small_part_are_told_apart() -> None:
    pits = judged([(20, 20), (20, 80), (80, 20), (80, 80)])
    zones = planned_ground().zones.query("depth_cm > 0")
    told = unseen(zones, pits, split("gateway", "body", 30.0))
    assert told == [("depth", "40 cm", pytest.approx(1.0))]

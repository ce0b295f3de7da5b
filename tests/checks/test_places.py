"""Pits at one place count once, and the whole field is not judged for ground without a pit."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from checks.conftest import CRS, field_parts, pit_rows, planned_ground, station_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest
from shapely import box

from zoning.checks.groups import FIELD, judge_groups, judge_zones
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


def test_ground_whose_pits_do_not_count_is_not_said_to_have_none() -> None:
    west = [(x, y) for x in (20, 60) for y in (20, 50, 80)]
    pits = judged([*west, (150, 50)])
    parts = split("body", "headland")
    assert groups(pits.iloc[:-1], parts).loc[FIELD, "unseen"].startswith("no pit at 40 cm")
    out = pits["verdict"].where(pits["x_m"] < 100, "not_judged")
    told = groups(pits.assign(verdict=out), parts)
    assert told.loc[FIELD, "unseen"].startswith("no pit that counts at 40 cm")


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


FAILED = {"loosened_at_leg_cm": 33.0, "loosened_between_cm": 20.0}


def at_places(*answers: str) -> pd.DataFrame:
    """Return pits of zone 1, one place each word 30 m apart: r reached, f failed between legs."""
    rows = [
        (DONE if one == "r" else FAILED)
        | {"x_m": 10.0 + 20 * (i % 4) + step, "y_m": 20.0 + 30 * (i // 4)}
        for i, answer in enumerate(answers)
        for step, one in enumerate(answer)
    ]  # fmt: skip
    return judge_pits(pit_rows(*rows), planned_ground(), read_on="")


def test_a_place_whose_pits_disagree_settles_nothing() -> None:
    # Four places that agree settle a depth; where the fourth is torn, three are left.
    assert groups(at_places("r", "r", "r", "r")).loc["35 cm", "verdict"] == "reached"
    torn = groups(at_places("r", "r", "r", "rf")).loc["35 cm"]
    assert torn["verdict"] == "cannot_tell"
    assert torn["share_reached"] == pytest.approx(3.5 / 4)
    assert torn["share_low"] == pytest.approx(binomtest(3, 4).proportion_ci(0.8).low)
    assert torn["share_high"] == 1.0
    # However the pits of a place are divided: two that pass and one that fails make half a place.
    thirds = groups(at_places("rrf", "rfr", "frr", "rrf")).loc["35 cm"]
    assert thirds[["share_reached", "so_far", "verdict"]].tolist() == [0.5] + ["cannot_tell"] * 2


def test_places_whose_pits_disagree_are_taken_both_ways_and_never_add_up_to_one_that_passed() -> (
    None
):
    # Six that passed and three torn: from 6 of 9 to 9 of 9, no verdict; by halves 7.5 gave one.
    told = groups(at_places("r", "r", "r", "r", "r", "r", "rf", "rf", "rf")).loc["35 cm"]
    ends = [binomtest(n, 9).proportion_ci(0.8, method="exact") for n in (6, 9)]
    assert told["share_low"] == pytest.approx(ends[0].low)
    assert told["share_high"] == pytest.approx(ends[1].high)
    assert told["verdict"] == "cannot_tell"
    assert groups(at_places(*["r"] * 6, *["f"] * 3)).loc["35 cm", "verdict"] == "cannot_tell"
    bare = groups(at_places("rf", "fr")).loc["35 cm"]
    assert bare[["share_low", "share_high"]].tolist() == [0.0, 1.0]


kinds = st.lists(st.text("rf", min_size=1, max_size=3), min_size=1, max_size=8)


def said(*answers: str) -> tuple[str, float, float]:
    """Return verdict and interval of the places as `at_places` has them."""
    told = groups(at_places(*answers)).loc["35 cm"]
    return str(told["verdict"]), float(told["share_low"]), float(told["share_high"])


@settings(max_examples=20, deadline=None)
@given(answers=kinds)
def test_a_verdict_is_given_only_where_it_holds_with_all_torn_places_failed_and_all_passed(
    answers: list[str],
) -> None:
    ways = [said(*(one if len({*one}) == 1 else way for one in answers)) for way in "fr"]
    verdict, low, high = said(*answers)
    assert (low, high) == pytest.approx((ways[0][1], ways[1][2]))
    assert verdict == (ways[0][0] if ways[0][0] == ways[1][0] else "cannot_tell")


@settings(max_examples=20, deadline=None)
@given(answers=kinds, more=st.text("r", min_size=1, max_size=2), data=st.data())
def test_further_pits_that_pass_never_lower_a_verdict(
    answers: list[str], more: str, data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(answers)))
    grown = [*answers, ""]
    grown[at] += more
    verdict, low, high = said(*answers)
    better, least, most = said(*(one for one in grown if one))
    assert least >= low - 1e-9
    assert most >= high - 1e-9
    assert better == "reached" if verdict == "reached" else better in (verdict, *_UP[verdict])


_UP = {"leg_only": ("cannot_tell",), "cannot_tell": ("reached",)}
"""Where one place more that passed may lead to: a verdict that work failed may come into doubt."""


@settings(max_examples=20, deadline=None)
@given(
    answers=st.lists(st.text("rf", min_size=1, max_size=3), min_size=1, max_size=8),
    data=st.data(),
)
def test_no_order_of_the_pits_changes_a_verdict_and_a_failed_pit_never_betters_it(
    answers: list[str], data: st.DataObject
) -> None:
    pits = at_places(*answers)
    told = groups(pits).loc["35 cm"]
    order = data.draw(st.permutations(range(len(pits))))
    turned = groups(pits.iloc[list(order)]).loc["35 cm"]
    names = ["verdict", "share_reached", "share_low", "share_high", "more_pits"]
    assert turned[names].tolist() == pytest.approx(told[names].tolist(), nan_ok=True)
    at = data.draw(st.integers(0, len(answers) - 1))
    worse = groups(at_places(*answers[:at], "f" * len(answers[at]), *answers[at + 1 :]))
    assert worse.loc["35 cm", "share_reached"] <= told["share_reached"] + 1e-9
    assert worse.loc["35 cm", "share_low"] <= told["share_low"] + 1e-9


def test_a_depth_is_not_judged_for_the_part_of_it_that_has_no_pit() -> None:
    pits = judged([(10, 20), (10, 80), (30, 20), (30, 80)], part="body")
    told = groups(pits, split("body", "headland", 70.0))  # 0.3 of the 1.0 ha at 35 cm
    assert told.loc["35 cm", "unseen"] == "no pit in the headland (0.3 ha)"
    assert told.loc["35 cm", ["verdict", "so_far"]].tolist() == ["cannot_tell", "reached"]
    assert told.loc["35 cm", "more_pits"] >= 1
    zones = judge_zones(planned_ground(), pits, station_rows(), split("body", "headland", 70.0))
    found = zones.set_index("zone").loc[1]
    assert found[["verdict", "depth_verdict"]].tolist() == ["cannot_tell"] * 2
    assert found["more_pits"] >= 1
    little = groups(pits, split("body", "headland", 85.0)).loc["35 cm"]
    assert little[["verdict", "unseen"]].tolist() == ["reached", ""]


DOUBTED = {"loosened_at_leg_cm": 36.0, "loosened_between_cm": 20.0, "pan": "no"}


def of_kinds(pits: list[tuple[str, tuple[float, float]]], at_m: float) -> pd.DataFrame:
    """Return judged pits: r reached, f failed, l at the leg alone, q *no pan* that is in doubt."""
    kinds = {"r": DONE, "f": FAILED, "l": {"loosened_at_leg_cm": 36.0}, "q": DOUBTED}
    rows = [
        kinds[kind] | {"pit": f"P{i}", "x_m": x, "y_m": y, "part": "west" if x < at_m else "east"}
        for i, (kind, (x, y)) in enumerate(pits)
    ]
    return judge_pits(pit_rows(*rows), planned_ground(), read_on="")


@settings(max_examples=40, deadline=None)
@given(
    pits=st.lists(st.tuples(st.sampled_from("rrrflq"), spots), min_size=4, max_size=9),
    at_m=st.floats(20, 180),
)
def test_a_pit_that_does_not_count_makes_no_verdict_surer(
    pits: list[tuple[str, tuple[float, float]]], at_m: float
) -> None:
    parts, judged_all = split("west", "east", at_m), of_kinds(pits, at_m)
    told = groups(judged_all, parts)
    bare = groups(judged_all[judged_all["chance_between"].notna()], parts)
    for name in told.index.intersection(bare.index):
        if told.loc[name, "verdict"] != "cannot_tell":
            assert bare.loc[name, "verdict"] != "cannot_tell", name


def test_a_pit_whose_no_pan_is_in_doubt_leaves_its_ground_unseen() -> None:
    body = [("r", (x, y)) for x in (10.0, 40.0) for y in (20.0, 50.0, 80.0)]
    told = groups(of_kinds([*body, ("q", (150.0, 50.0))], 100.0), split("west", "east", 100.0))
    assert told.loc[FIELD, "verdict"] == "cannot_tell"
    assert told.loc[FIELD, "unseen"] == (
        "no pit that counts between the legs at 40 cm (1.0 ha), none in the east (1.0 ha)"
    )
    assert told.loc["35 cm", "verdict"] == "reached"


def test_a_leg_above_the_base_fails_between_the_legs_too() -> None:
    (pit,) = judge_pits(
        pit_rows({"loosened_at_leg_cm": 22.0}), planned_ground(), read_on=""
    ).to_dict("records")
    assert (pit["chance_between"] < 0.5, pit["verdict"]) == (True, "not_reached")


def test_no_pan_of_a_pit_measured_at_the_leg_alone_does_not_speak_for_its_part() -> None:
    body = [{"x_m": x, "y_m": y} | DONE for x, y in ((10, 20), (10, 80), (30, 20), (30, 80))]
    alone = {"x_m": 85.0, "loosened_at_leg_cm": 33.0, "pan": "no", "part": "headland"}
    parts = split("body", "headland", 70.0)
    pits = judge_pits(pit_rows(*body, alone), planned_ground(), read_on="")
    assert groups(pits, parts).loc["35 cm", "verdict"] == "cannot_tell"
    seen = pit_rows(*body, alone | {"loosened_between_cm": 32.0})
    assert (
        groups(judge_pits(seen, planned_ground(), read_on=""), parts).loc["35 cm", "verdict"]
        == "reached"
    )

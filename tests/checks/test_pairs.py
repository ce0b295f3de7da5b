"""Before and after: who is paired with whom, and what is compared."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pandas as pd
import pytest
from checks.conftest import drain, pit_rows, planned_ground
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.checks.pairs import (
    comparable,
    further_rows,
    off_missed_strips,
    paired,
    pairs_notices,
    pit_measures,
    pits_of_after,
    resistance,
)
from zoning.checks.pits import judge_pits


def places(
    *xy: tuple[float, float], part: str = "", zone: int = 1, **values: object
) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "name": [f"n{i}" for i in range(len(xy))],
            "zone": zone,
            "depth_cm": 35.0,
            "x_m": [float(x) for x, _ in xy],
            "y_m": [float(y) for _, y in xy],
            "part": part,
            "date": "2026-08-01",
            "moisture": "friable",
            "score": 3.0,
        }
        | values
    )


def by_place(before: pd.DataFrame, after: pd.DataFrame) -> pd.DataFrame:
    found = paired(before, after, ("score",))
    return found[found["by"] == "place"]


_NONE = pd.DataFrame({"by": [], "what": [], "zone": []})
"""No pairs of before and after at all."""


def test_each_pit_is_used_once_and_the_total_way_is_least() -> None:
    # The nearest of both old pits is the same new one; pairing both costs 1 + 6.
    before, after = places((0, 0), (3, 0)), places((2, 0), (9, 0))
    found = by_place(before, after)
    assert sorted(zip(found["name_before"], found["name_after"], strict=True)) == [
        ("n0", "n0"), ("n1", "n1"),
    ]  # fmt: skip


def test_as_many_as_possible_are_paired() -> None:
    # Pairing (3) with (2) alone would leave (12) without a partner within 10 m of (0).
    before, after = places((0, 0), (3, 0)), places((2, 0), (12, 0))
    assert len(by_place(before, after)) == 2


def test_beyond_the_stated_distance_nothing_is_paired() -> None:
    assert len(by_place(places((0, 0)), places((10, 0)))) == 1
    assert by_place(places((0, 0)), places((10.01, 0))).empty


def test_other_parts_are_not_one_place() -> None:
    assert by_place(places((0, 0), part="body"), places((1, 0), part="wheeling")).empty
    assert len(by_place(places((0, 0), part="body"), places((1, 0), part=""))) == 1


def test_a_place_has_one_partner_for_every_measure() -> None:
    # The nearer pit has no thickness; the one beyond it is not taken for that measure alone.
    before = places((0, 0)).assign(pan=1.0, pan_thickness_cm=9.8)
    after = places((1, 0), (4, 0)).assign(pan=[1.0, 0.0], pan_thickness_cm=[np.nan, 0.0])
    found = paired(before, after, ("pan", "pan_thickness_cm"))
    own = found[found["by"] == "place"]
    assert own[["what", "name_after", "after"]].to_numpy().tolist() == [["pan", "n0", 1.0]]


coordinates = st.tuples(st.integers(0, 25), st.integers(0, 25))


@settings(max_examples=50, deadline=None)
@given(st.lists(coordinates, min_size=1, max_size=4), st.lists(coordinates, min_size=1, max_size=4))
def test_no_other_pairing_has_more_pairs_or_less_way(
    old: list[tuple[int, int]], new: list[tuple[int, int]]
) -> None:
    found = by_place(places(*old), places(*new))
    best = (0, 0.0)
    longer, shorter = (old, new) if len(old) >= len(new) else (new, old)
    for chosen in permutations(longer, len(shorter)):
        ways = [
            float(np.hypot(a[0] - b[0], a[1] - b[1])) for a, b in zip(chosen, shorter, strict=True)
        ]
        held = [way for way in ways if way <= 10]
        best = min(best, (-len(held), sum(held)))
    assert len(found) == -best[0]
    assert found["apart_m"].sum() == pytest.approx(best[1])


def test_a_pit_of_before_dug_where_the_work_was_seen_already_is_of_after() -> None:
    """Its own row of before lets a plan go by the base that a pit after the work showed."""
    days = ("2026-08-18", "2026-09-09", "2026-09-12", "", "2026-09-08", "2026-09-12")
    here = [(0.0, 0.0)] * 5 + [(30.0, 0.0)]
    before = places(*here, date=list(days))
    after = places((1.0, 0.0), date="2026-09-09", verdict="not_reached")
    assert pits_of_after(before, after, days[0]).tolist() == [False, True, True, *[False] * 3]
    in_one_day = pits_of_after(before, after, "2026-09-09")
    assert in_one_day.tolist() == [False, False, True, *[False] * 3]
    for nothing in (after.assign(date=""), after.assign(verdict="not_judged"), after.iloc[:0]):
        assert not pits_of_after(before, nothing, days[0]).any()
    assert not pits_of_after(before.assign(part="body"), after.assign(part="headland"), "").any()
    assert pits_of_after(before.iloc[:0], after, "").tolist() == []
    assert further_rows(before, after, days[0]).tolist() == [False, True, *[False] * 4]
    assert not further_rows(before, after, "2026-09-09").any()
    assert not further_rows(before, after.iloc[:0], days[0]).any()


def test_zones_are_compared_by_their_means() -> None:
    before = pd.concat([places((0, 0), score=4.0), places((50, 0), score=3.0)])
    found = paired(before, places((90, 90), score=2.0), ("score",))
    row = found[found["by"] == "zone"].iloc[0]
    assert (row["before"], row["after"], row["change"]) == (3.5, 2.0, -1.5)


def test_row_order_does_not_matter() -> None:
    before, after = places((0, 0), (3, 0), (40, 0)), places((2, 0), (9, 0), (41, 0))
    assert paired(before, after, ("score",)).equals(
        paired(before.iloc[::-1], after.iloc[::-1], ("score",))
    )


def test_the_thickness_of_a_zone_is_that_of_the_pans_found_there(make_pits) -> None:
    pan = {"pan": "yes", "pan_top_cm": 20.0, "pan_base_cm": 31.0}
    before = pit_measures(make_pits(pan, {"pan": "no"})).assign(zone=1, depth_cm=35.0)
    after = pit_measures(make_pits({"pan": "no"}, {"pan": "no"})).assign(zone=1, depth_cm=35.0)
    found = paired(before, after, ("pan_thickness_cm", "pan")).query("by == 'zone'")
    (thick,) = found[found["what"] == "pan_thickness_cm"].to_dict("records")
    assert (thick["before"], thick["after"]) == (11.0, 0.0)
    (pan_share,) = found[found["what"] == "pan"].to_dict("records")
    assert (pan_share["before"], pan_share["after"]) == (0.5, 0.0)


def test_a_pan_has_a_thickness_only_where_its_top_is_noted(make_pits) -> None:
    pits = make_pits(
        {"pan": "no"},
        {"pan": "yes", "pan_base_cm": 33.0, "loosened_between_cm": 24.0},
        {"pan": "yes", "pan_top_cm": 20.0, "pan_base_cm": 31.0, "phase": "before"},
        {"pan": "yes", "pan_base_cm": 31.0, "phase": "before"},
        {},
    )
    found = pit_measures(pits)
    assert found["pan"].tolist()[:4] == [0, 1, 1, 1]
    assert np.isnan(found["pan"].iloc[4])
    assert found["pan_thickness_cm"].tolist()[:3][::2] == [0, 11]
    assert found["pan_thickness_cm"].isna().tolist() == [False, True, False, True, True]


def test_resistance_is_that_of_the_worked_layer() -> None:
    cone = pd.DataFrame(
        {
            "station": "S1",
            "insertion_id": ["S1/1"] * 5 + ["S1/2"] * 2,
            "depth_cm": [5.0, 10.0, 20.0, 30.0, 40.0, 20.0, 30.0],
            "cone_index_mpa": [9.0, 1.0, 2.0, 3.0, 9.0, 4.0, 0.0],
        }
    )
    stations = pd.DataFrame({"station": ["S1", "S2"], "depth_cm": [30.0, 30.0]})
    found = resistance(cone, stations)
    # Means of the pushes are (1 + 2 + 3) / 3 and 4; a nought is where a push was refused.
    assert found["resistance_mpa"].iloc[0] == pytest.approx(3.0)
    assert np.isnan(found["resistance_mpa"].iloc[1])


def test_stations_at_a_missed_strip_stay_out_of_before_and_after() -> None:
    verdicts = ["not_worked", "leg_only"]
    pits = pd.DataFrame({"verdict": verdicts, "x_m": [0.0, 50.0], "y_m": [0.0, 0.0]})
    stations = pd.DataFrame({"station": ["S1", "S2"], "x_m": [8.0, 50.0], "y_m": [0.0, 0.0]})
    assert off_missed_strips(stations, pits)["station"].tolist() == ["S2"]
    assert len(off_missed_strips(stations, pits.iloc[1:])) == 2
    assert off_missed_strips(stations.iloc[:0], pits).empty


def test_a_no_pan_in_doubt_shows_no_change_and_is_named() -> None:
    rows = [
        {"pan": "no", "loosened_at_leg_cm": 38.0, "loosened_between_cm": 34.0},
        {"pan": "no", "loosened_at_leg_cm": 36.0, "loosened_between_cm": 18.0},
        {"pan": "no", "loosened_at_leg_cm": 18.0, "loosened_between_cm": 14.0},
        {"loosened_at_leg_cm": 0.0, "loosened_between_cm": 0.0},
    ]
    judged = judge_pits(pit_rows(*rows), planned_ground(), read_on="")
    assert comparable(judged).tolist() == [True, False, False, False]
    (note,) = pairs_notices(judged, _NONE)
    assert note.text.startswith("Before and after leave out pits A1 and A2: ")
    assert pairs_notices(judged.iloc[:1], _NONE) == ()


def test_pits_of_zones_without_one_of_before_are_named_where_other_zones_are_compared() -> None:
    good = {"pan": "no", "loosened_at_leg_cm": 38.0, "loosened_between_cm": 36.0}
    left = {"pan": "yes", "loosened_at_leg_cm": 38.0, "loosened_between_cm": 20.0, "x_m": 150.0}
    judged = judge_pits(pit_rows(good, left), planned_ground(), read_on="")
    one, other = judged["zone"].tolist()
    assert one != other
    by = {"by": ["zone", "place"], "what": ["pan", "pan"], "zone": [one, other]}
    (note,) = pairs_notices(judged, pd.DataFrame(by))
    assert note.text.startswith("Before and after by zone say nothing of the ground of pit A1: ")
    assert pairs_notices(judged.iloc[:1], pd.DataFrame(by)) == ()
    assert pairs_notices(judged, _NONE) == ()


def test_what_is_in_doubt_is_said_of_each_pit_that_is_left_out_for_it() -> None:
    row = {"pan": "no", "loosened_at_leg_cm": 33.0, "loosened_between_cm": 10.0}
    none = {"pan": "no", "loosened_at_leg_cm": 0.0, "loosened_between_cm": 0.0}
    rows = [row, row | {"x_m": 20.0}, row | {"x_m": 250.0}, none | {"x_m": 250.0}, none]
    planned = planned_ground(36.0, 1.0, hazard_zones=drain(), assurance=0.1)
    judged = judge_pits(pit_rows(*rows), planned, read_on="").set_index("pit")
    (note,) = pairs_notices(judged.reset_index(), _NONE)
    for pit, facts in judged.iterrows():
        assert (str(pit) in note.text) == ("was there none before" in facts["reason"]), pit
    assert set(judged["verdict"]) >= {"held", "worked_lifted", "lifted_out", "not_worked"}

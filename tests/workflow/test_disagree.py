"""Stations that the map or the plan does not agree with are named; those in order are not."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from zoning.model import Notice, Plan
from zoning.model.days import taken_base_cm
from zoning.workflow.disagree import (
    AT_PIT,
    base_notices,
    deepest_under,
    named,
    said_once,
    worked_notices,
)


def notes_on(
    table: pd.DataFrame,
    depth_cm: np.ndarray,
    cap_cm: np.ndarray,
    held: tuple[str, ...] = (),
    clearance_cm: float = 3.0,
    *,
    days: bool = False,
) -> tuple[Notice, ...]:
    return base_notices(
        table,
        depth_cm,
        cap_cm,
        held or [""] * len(table),
        clearance_cm=clearance_cm,
        shallowest_cm=25.0,
        days=days,
    )


def test_bases_are_those_that_the_plan_took_where_it_allows_for_the_day() -> None:
    """By hand: 38 cm read on a day that adds 4.4 cm is taken as 33.6 cm, which 36 cm passes."""
    table = pd.DataFrame({
        "station": ["A", "B", "P"], "kind": ["cone", "cone", "pit"], "date": "2026-10-02",
        "pan_base_cm": [38.0, 44.0, 38.0], "used": [True, True, True], "censored": False,
    })  # fmt: skip
    taken = taken_base_cm(table, {"day_effect_2026-10-02_cm": 4.4})
    assert taken.round(6).tolist()[:2] == [33.6, 39.6]
    assert np.isnan(taken[2])  # a pit has no such day
    assert taken_base_cm(table, {}).isna().all()
    bases = table.assign(pan_base_cm=taken.fillna(table["pan_base_cm"]))
    deep = np.full(3, 36.0), np.full(3, 50.0)
    (told,) = notes_on(bases, *deep, days=True)
    assert "stays above the base taken (the day allowed for) at: B by 4 cm, P by 2 cm" in told.text


def above(
    base_cm: float, depth_cm: float, *, cap_cm: float = 50.0, censored: bool = False
) -> str | None:
    table = pd.DataFrame(
        {"station": ["G5"], "pan_base_cm": [base_cm], "censored": [censored], "used": [True]}
    ).assign(kind="cone")
    told = notes_on(table, np.array([depth_cm]), np.array([cap_cm]), clearance_cm=99.0)
    return told[0].text if told else None


def test_a_plan_above_a_base_that_was_read_says_so_in_whole_centimetres() -> None:
    assert "read at: G5 by 5 cm: dig there." in str(above(41.2, 36.0))
    assert "G5 by 5 cm or more:" in str(above(41.2, 36.0, censored=True))
    assert "G5 (legs lifted out):" in str(above(41.2, 0.0))
    assert "read at: S24 by 1 cm:" in str(above(50.2, 49.0)).replace("G5", "S24")


@pytest.mark.parametrize(
    ("base_cm", "depth_cm", "cap_cm"),
    [
        (30.0, 44.0, 50.0),  # below the pan
        (36.9, 36.0, 50.0),  # prints as nothing much
        (41.0, 30.0, 30.0),  # held by a hazard
        (41.0, 0.0, 0.0),  # lifted at a hazard
        (58.0, 50.0, 50.0),  # the deepest setting
        (np.nan, 35.0, 50.0),  # no base was read
    ],
)
def test_other_places_are_not(base_cm: float, depth_cm: float, cap_cm: float) -> None:
    assert above(base_cm, depth_cm, cap_cm=cap_cm) is None


def test_the_worst_stand_first_and_a_reading_left_out_counts_for_nothing() -> None:
    table = pd.DataFrame(
        {
            "station": ["S10", "S9", "S2", "S1"],
            "kind": "cone",
            "pan_base_cm": [40.0, 40.0, 44.0, 60.0],
            "censored": False,
            "used": [True, True, True, False],
        }
    )
    (note,) = notes_on(table, np.full(4, 35.0), np.full(4, 50.0))
    assert "at: S2 by 9 cm, S9 by 5 cm, S10 by 5 cm: dig" in note.text


def test_ground_held_up_beside_a_hazard_is_told_apart_and_is_no_place_to_dig() -> None:
    table = pd.DataFrame(
        {"station": ["S1", "S2"], "pan_base_cm": [40.0, 44.0], "censored": False, "used": True}
    ).assign(kind="cone")
    (note,) = notes_on(table, np.full(2, 30.0), np.full(2, 50.0), ("", "H2 drain"))
    own, beside = note.text.split(" Held up by a hazard, the plan stays above the base read ")
    assert own == "The plan stays above the base read at: S1 by 10 cm: dig there."
    assert beside == "at: S2 by 14 cm beside H2 drain; there the pan stays."
    (alone,) = notes_on(table[1:], np.full(1, 30.0), np.full(1, 50.0), ("H2 drain",))
    assert alone.text == note.text.split(": dig there. ")[1]


def below(base_cm: float, depth_cm: float, *, censored: bool = False, used: bool = True) -> str:
    table = pd.DataFrame(
        {"station": ["G5"], "pan_base_cm": [base_cm], "censored": [censored], "used": [used]}
    ).assign(kind="cone")
    told = notes_on(table, np.array([depth_cm]), np.array([min(depth_cm, base_cm)]))
    return told[0].text if told else ""


def test_a_plan_far_below_a_base_that_was_read_says_so() -> None:
    told = below(28.0, 37.4)
    assert told.endswith(
        "far below the base read at: G5 by 9 cm, where the clearance asks for 3 cm: dig there."
    )


def test_bases_above_and_far_below_the_work_stand_in_one_note() -> None:
    table = pd.DataFrame({"station": ["S1", "S2"], "pan_base_cm": [41.0, 25.0]})
    table = table.assign(kind="cone", censored=False, used=True)
    (note,) = notes_on(table, np.full(2, 35.0), np.full(2, 50.0))
    assert (
        "above the base read at: S1 by 6 cm; it works far below the base read at: S2 by 10 cm, wh"
        in note.text
    )
    assert note.text.count("dig there") == 1


@pytest.mark.parametrize(
    ("base_cm", "depth_cm"),
    [
        (28.0, 35.9),  # clearance, a step and the error of the reading
        (12.0, 25.0),  # the shallowest setting
        (12.0, 0.0),  # lifted out
        (np.nan, 40.0),  # no base was read
        (45.0, 40.0),  # above it
    ],
)
def test_work_no_deeper_than_a_reading_can_ask_is_not(base_cm: float, depth_cm: float) -> None:
    assert below(base_cm, depth_cm) == ""
    assert below(28.0, 45.0)
    assert below(28.0, 45.0, censored=True) == ""
    assert below(28.0, 45.0, used=False) == ""


def test_ground_worked_although_no_pan_was_read_is_named() -> None:
    table = pd.DataFrame(
        {
            "station": ["S10", "S9", "S3", "S4", "S5"],
            "kind": "cone",
            "verdict": ["no_pan", "no_pan", "no_pan", "no_pan", "pan"],
            "pan_base_cm": [np.nan, np.nan, np.nan, np.nan, 30.0],
            "used": [True, True, True, False, True],
        }
    )
    share = np.array([0.2, 0.31, 0.1, 0.1, 0.9])
    (note,) = worked_notices(table, np.array([35.0, 30.0, 0.0, 30.0, 30.0]), share)
    assert "work there): S9 (0.31, 30 cm), S10 (0.20, 35 cm). Look" in note.text
    deep = worked_notices(table, np.array([35.0, 30.0, 0.0, 30.0, 30.0]), share, notice_cm=30.0)
    assert "S9 (0.31, 30 cm), S10 (0.20, 35 cm, NOT CLEARED). Look" in deep[0].text
    assert worked_notices(table, np.zeros(5), share) == ()


def test_the_deepest_work_over_any_insertion_of_a_station_counts() -> None:
    table = pd.DataFrame({"station": ["S1", "S2", "P1"], "kind": ["cone", "cone", "pit"]})
    inserted = pd.Series(["S1", "S1", "P1"])
    deepest = deepest_under(table, np.full(3, 35.0), inserted, np.array([50.0, 30.0, 50.0]))
    assert deepest.tolist() == [50.0, 35.0, 35.0]


def test_nobody_is_sent_to_dig_at_a_pit() -> None:
    table = pd.DataFrame(
        {
            "station": ["S1", "P1"],
            "kind": ["cone", "pit"],
            "verdict": "no_pan",
            "pan_base_cm": np.nan,
            "used": True,
        }
    )
    (note,) = worked_notices(table, np.full(2, 35.0), np.full(2, 0.2))
    cone, pit = note.text.split("Worked although the pit found no pan")
    assert "S1 (0.20, 35 cm). Look with the spade" in cone
    assert "work there): P1 (0.20, 35 cm)." in pit
    assert "spade" not in pit
    assert "dig two more pits around it" in pit
    read = table.assign(pan_base_cm=41.0, censored=False)
    (both,) = notes_on(read, np.full(2, 35.0), np.full(2, 50.0))
    assert ": dig there." in both.text
    assert AT_PIT in both.text
    (dug,) = notes_on(read[1:], np.full(1, 35.0), np.full(1, 50.0))
    assert "dig there" not in dug.text
    assert AT_PIT in dug.text


def test_what_to_do_at_a_pit_is_said_once() -> None:
    first, second = (Notice("note", code, f"At {code}.{AT_PIT}") for code in "ab")
    assert [n.text for n in said_once([first, second])] == [first.text, "At b."]


def test_many_are_counted() -> None:
    assert named(["a", "b"]) == "a, b"
    assert named(list("abcdefgh")) == "a, b, c, d, e, f and 2 more"


def test_the_sample_names_only_stations_whose_base_lies_below_the_work(sample_plan: Plan) -> None:
    (note,) = (n for n in sample_plan.notices if n.code == "base-not-followed")
    told = note.text.split("above the base read at: ")[1].split("; ")[0].split(", ")
    places, names = sample_plan.stations, [one.split(" ")[0] for one in told]
    zones = sample_plan.zones
    assert set(names) <= set(places["station"])
    for row in places[places["station"].isin(names)].itertuples():
        depth = zones.loc[zones.geometry.distance(row.geometry) < 1e-6, "depth_cm"]
        assert row.pan_base_cm >= depth.min() + 2.0


def test_the_sample_names_the_stations_that_are_worked_far_below_their_base(
    sample_plan: Plan,
) -> None:
    (note,) = (n for n in sample_plan.notices if n.code == "base-not-followed")
    listed = note.text.split("far below the base read at: ")[1].split(", where")[0].split(", ")
    told = dict(one.split(" by ") for one in listed)
    places, zones = sample_plan.stations.set_index("station"), sample_plan.zones
    clearance_cm = sample_plan.settings.depth.clearance_cm
    for name, place in places[places["used"] & ~places["censored"].astype(bool)].iterrows():
        over = zones.loc[zones.geometry.contains(place.geometry), "depth_cm"] - place.pan_base_cm
        if len(over):
            assert (name in told) == (over.item() >= clearance_cm + 5.0)
        if name in told and len(over):
            assert told[name] == f"{over.item():.0f} cm"

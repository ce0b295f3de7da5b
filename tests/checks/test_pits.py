"""One pit: what was measured, what was seen, what the plan knew."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from checks.conftest import CRS, drain, pit_rows, planned_ground
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from zoning.checks.pits import judge_pits
from zoning.model.settings import MachineSection

LEG, BETWEEN = "loosened_at_leg_cm", "loosened_between_cm"


def judged(planned, pits, read_on: str = "", season_from: str = "") -> pd.DataFrame:
    return judge_pits(pits, planned, read_on=read_on, season_from=season_from)


def one(planned, read_on: str = "", season_from: str = "", **facts: object) -> pd.Series:
    return judged(planned, pit_rows(facts), read_on, season_from).iloc[0]


@settings(max_examples=80, deadline=None)
@given(
    base=st.floats(20, 45), sd=st.floats(0.5, 6), pan=st.floats(0, 1),
    leg=st.integers(15, 55), ridge=st.integers(0, 15),
)  # fmt: skip
def test_the_chance_is_that_of_the_normal_distribution(
    base: float, sd: float, pan: float, leg: int, ridge: int
) -> None:
    # P = 1 - p + p Phi((d - m) / s) by scipy, reading error of 1 cm beside the plan's.
    planned = planned_ground(base, sd, pan, machine=MachineSection(depth_max_cm=60.0))
    found = one(planned, **{LEG: leg, BETWEEN: leg - ridge})
    spread = np.hypot(sd, 1.0)
    for column, depth in (("chance_leg", leg), ("chance_between", leg - ridge)):
        wanted = 1 - pan + pan * norm.cdf(depth, base, spread)
        assert found[column] == pytest.approx(wanted, abs=1e-9)
    assert found["chance_leg"] >= found["chance_between"]


@pytest.mark.parametrize(
    ("leg", "between", "verdict"),
    [
        (35, 32, "reached"),
        (35, 24, "leg_only"),
        (28, 25, "not_reached"),
        (42, 40, "too_deep"),
        (42, 31, "reached"),  # Deep only at the leg: the ridge needs it.
        (35, np.nan, "leg_passed"),
        (np.nan, 33, "reached"),
        (np.nan, np.nan, "not_judged"),
    ],
)
def test_verdicts_against_a_base_at_30_cm(
    planned, leg: float, between: float, verdict: str
) -> None:
    assert one(planned, **{LEG: leg, BETWEEN: between})["verdict"] == verdict


@pytest.mark.parametrize(
    ("part", "x_m", "base_cm"),
    [
        ("wheeling", 47.5, 40.0),
        ("wheeling", 53.0, 40.0),  # 3 m beside it by a receiver
        ("wheeling", 56.0, 30.0),  # 6 m beside it: no receiver is so far off
        ("body", 47.5, 30.0),
        ("body", 56.0, 30.0),
        ("gateway", 47.5, 40.0),  # not on the map: by place
    ],
)
def test_the_base_expected_at_a_pit_is_that_of_the_part_that_was_dug(
    planned, part: str, x_m: float, base_cm: float
) -> None:
    """A wheeling 5 m wide, one column of cells, with the base 10 cm below that of the body."""
    base = planned.bands["pan_base_cm"].copy()
    base[:, 9] = 40.0
    deeper = replace(planned, bands={**planned.bands, "pan_base_cm": base})
    field = shapely.unary_union(planned.zones.geometry)
    wheeling = shapely.box(45, 0, 50, 100)
    parts = gpd.GeoDataFrame(
        {"part": ["wheeling", "body"]}, geometry=[wheeling, field - wheeling], crs=CRS
    )
    rows = pit_rows({"part": part, "x_m": x_m, LEG: 36.0, BETWEEN: 34.0})
    assert judge_pits(rows, deeper, read_on="", parts=parts)["base_cm"].tolist() == [base_cm]


@pytest.mark.parametrize(
    ("x_m", "part", "leg_cm", "depth_cm"),
    [
        (97.0, "wheeling", 40.5, 40.0),  # 3 m beside it, to whose depth it was loosened
        (94.0, "wheeling", 40.5, 35.0),  # 6 m: no receiver is so far off
        (97.0, "body", 40.5, 35.0),
        (97.0, "wheeling", 35.5, 35.0),  # as deep as the ground where it falls
        (97.0, "wheeling", 36.3, 40.0),  # nearer to that by 2.4 cm: the part noted decides
        (97.0, "wheeling", 36.2, 35.0),
        (97.0, "wheeling", np.nan, 35.0),
    ],
)
def test_a_pit_counts_for_the_part_noted_where_the_leg_ran_at_its_depth(
    planned, x_m: float, part: str, leg_cm: float, depth_cm: float
) -> None:
    """Zone 1 at 35 cm ends at x = 100 m, where zone 2 at 40 cm begins, here all wheeling."""
    body, wheeling, _ = planned.zones.geometry
    parts = gpd.GeoDataFrame({"part": ["body", "wheeling"]}, geometry=[body, wheeling], crs=CRS)
    rows = pit_rows({"part": part, "x_m": x_m, LEG: leg_cm, BETWEEN: 32.0})
    found = judge_pits(rows, planned, read_on="", parts=parts).iloc[0]
    assert found["depth_cm"] == depth_cm
    told = "in the wheeling noted, less than 5 m away" in found["reason"]
    assert told == (depth_cm == 40.0)
    beside = "Its place falls beside the wheeling noted." in found["reason"]
    assert beside == (x_m == 97.0 and part == "wheeling" and depth_cm == 35.0)


@pytest.mark.parametrize(("leg_cm", "part"), [(35.0, "body"), (40.0, "wheeling")])
def test_a_pit_with_no_part_noted_is_of_the_ground_that_it_counts_for(
    planned, leg_cm: float, part: str
) -> None:
    """Its place falls 1 m inside the wheeling at 40 cm, beside the body at 35 cm."""
    body, wheeling, _ = planned.zones.geometry
    parts = gpd.GeoDataFrame({"part": ["body", "wheeling"]}, geometry=[body, wheeling], crs=CRS)
    rows = pit_rows({"part": "wheeling", "x_m": 101.0, LEG: leg_cm, BETWEEN: 32.0})
    found = judge_pits(rows.assign(part_noted=False), planned, read_on="", parts=parts).iloc[0]
    assert (found["depth_cm"], found["part"]) == (leg_cm, part)


def test_what_the_spade_saw_outranks_the_plan(planned) -> None:
    # The plan puts the base at 30 cm; the pit says otherwise.
    gone = one(planned, pan="no", **{LEG: 28.0, BETWEEN: 26.0})
    assert (gone["verdict"], gone["chance_between"], gone["firm"]) == ("reached", 1.0, "yes")
    left = one(planned, pan="yes", pan_base_cm=38.0, **{LEG: 36.0, BETWEEN: 34.0})
    assert (left["verdict"], left["base_cm"], left["base_from"]) == ("not_reached", 38.0, "pit")
    ridge = one(planned, pan="yes", **{LEG: 36.0, BETWEEN: 34.0})
    assert (ridge["verdict"], ridge["base_from"]) == ("leg_only", "plan")
    assert one(planned, pan="yes")["verdict"] == "not_between"
    assert one(planned, pan="no")["verdict"] == "reached"


@pytest.mark.parametrize(
    ("pan", "doubt"), [("yes", "In doubt at the leg: an"), ("", "In doubt: an")]
)
def test_of_a_pan_that_was_seen_only_the_leg_can_be_in_doubt(planned, pan: str, doubt: str) -> None:
    near = {"loosened_at_leg_cm": 31.0, "loosened_between_cm": 24.0, "pan_base_cm": 30.5}
    (pit,) = judge_pits(pit_rows(near | {"pan": pan}), planned, read_on="").to_dict("records")
    assert pit["firm"] == "no"
    assert doubt in pit["reason"]


def test_a_pit_near_the_plans_base_is_in_doubt_and_says_how_to_settle_it(planned) -> None:
    doubt = one(planned, **{LEG: 35.0, BETWEEN: 31.0})
    assert (doubt["verdict"], doubt["firm"]) == ("reached", "no")
    assert "note pan yes or no" in doubt["reason"]
    assert one(planned, **{LEG: 35.0, BETWEEN: 33.0})["firm"] == "yes"


def test_ground_lifted_out_is_not_judged_as_work(planned) -> None:
    found = one(planned, x_m=250.0, **{LEG: 20.0, BETWEEN: 15.0})
    assert (found["verdict"], found["zone"], found["firm"]) == ("worked_lifted", 3, "")
    assert found["reason"].startswith("Loosened 20 cm at the leg, 15 cm between legs.")


def test_a_pit_beside_ground_of_another_depth_says_so(planned) -> None:
    assert "40 cm" in one(planned, x_m=99.0, **{LEG: 35.0})["reason"]
    assert "Within" not in one(planned, x_m=97.0, **{LEG: 35.0})["reason"]


def test_near_an_edge_a_pit_counts_for_the_ground_whose_depth_it_was_loosened_to(planned) -> None:
    # Zone 1 is planned at 35 cm up to x = 100 m, zone 2 at 40 cm beyond.
    moved = one(planned, x_m=99.0, **{LEG: 40.0, BETWEEN: 37.0})
    assert (moved["zone"], moved["depth_cm"]) == (2, 40.0)
    assert "Counted for the ground at 40 cm, less than 2 m away" in moved["reason"]
    assert one(planned, x_m=97.0, **{LEG: 40.0, BETWEEN: 37.0})["zone"] == 1
    assert one(planned, x_m=99.0, **{LEG: 37.0, BETWEEN: 34.0})["zone"] == 1
    # 3 cm short of its own depth and 2 cm past the other: it may have run shallow.
    assert one(planned, x_m=101.0, **{LEG: 37.0, BETWEEN: 34.0})["zone"] == 2
    steps = planned_ground(depth_cm=37.5)
    for leg_cm in np.arange(40.0, 42.0, 0.1):
        assert one(steps, x_m=99.0, **{LEG: leg_cm, BETWEEN: 34.0})["zone"] == 2
    assert one(planned, x_m=99.0, pan="no")["zone"] == 1
    # Beside ground lifted out: nobody is told that work there was as planned.
    assert one(planned, x_m=201.0, **{LEG: 40.0, BETWEEN: 37.0})["verdict"] == "worked_lifted"


@pytest.mark.parametrize(
    ("part", "x_m", "leg_cm", "zone"),
    [
        ("headland", 101.0, 35.0, 2),  # note and place agree: the leg ran 5 cm shallow there
        ("body", 99.0, 40.0, 1),
        ("body", 101.0, 35.0, 1),  # the place falls in the headland, and a receiver errs
        ("", 101.0, 35.0, 1),
    ],
)
def test_where_note_and_place_agree_a_pit_counts_for_no_ground_of_another_part(
    planned, part: str, x_m: float, leg_cm: float, zone: int
) -> None:
    outlines = [shapely.box(0, 0, 100, 100), shapely.box(100, 0, 200, 100)]
    parts = gpd.GeoDataFrame({"part": ["body", "headland"]}, geometry=outlines, crs=CRS)
    rows = pit_rows({"x_m": x_m, "part": part, LEG: leg_cm, BETWEEN: leg_cm - 3.0})
    assert judge_pits(rows, planned, read_on="", parts=parts)["zone"].tolist() == [zone]
    # A part that nobody noted and the map filled in agrees with the map and says nothing.
    filled = rows.assign(part="body" if x_m < 100.0 else "headland", part_noted=False)
    beside = 1 if leg_cm < 38.0 else 2
    assert judge_pits(filled, planned, read_on="", parts=parts)["zone"].tolist() == [beside]


@pytest.mark.parametrize("west_m", [90.0, 99.8])
def test_a_part_that_runs_on_beyond_the_edge_keeps_the_question_whose_pit_it_is(
    planned, west_m: float
) -> None:
    """A wheeling over the edge at 100 m: 10 m of it in the shallower ground, or a sliver."""
    outlines = [shapely.box(west_m, 40, 150, 60), shapely.box(0, 0, 200, 100)]
    parts = gpd.GeoDataFrame({"part": ["wheeling", "body"]}, geometry=outlines, crs=CRS)
    spot = {"x_m": 101.0, "y_m": 50.0, "part": "wheeling", LEG: 35.0, BETWEEN: 32.0}
    counted = judge_pits(pit_rows(spot), planned, read_on="", parts=parts)["zone"].tolist()
    assert counted == [1 if west_m == 90.0 else 2]


def test_a_shallow_leg_far_off_the_depth_of_its_place_counts_for_the_ground_beside() -> None:
    """Zone 1 at 27 cm, zone 2 at 40: 3 cm short of the one, or 10 cm past the other's."""
    wide = planned_ground(depth_cm=27.0)
    assert one(wide, x_m=101.0, **{LEG: 24.0, BETWEEN: 21.0})["zone"] == 1
    assert one(wide, x_m=101.0, **{LEG: 32.0, BETWEEN: 29.0})["zone"] == 2  # between the two


def test_a_pit_that_counts_for_ground_beside_it_is_held_against_the_base_there() -> None:
    planned = planned_ground()
    beyond = planned.grid.centres_m()[:, 0] > 100.0
    bands = {name: band.copy() for name, band in planned.bands.items()}
    bands["pan_base_cm"].ravel()[beyond] = 38.0
    ground = replace(planned, bands=bands)
    moved = one(ground, x_m=101.0, pan="no", **{LEG: 35.0, BETWEEN: 32.0})
    assert (moved["zone"], moved["base_cm"], moved["verdict"]) == (1, 30.0, "reached")
    assert one(ground, x_m=101.0, **{LEG: 40.0, BETWEEN: 37.0})["base_cm"] == 38.0


def test_a_pit_that_went_too_deep_about_a_hazard_is_never_counted_elsewhere() -> None:
    held = planned_ground(hazard_zones=drain(30.0, 90.0, 98.0))
    found = one(held, x_m=99.0, **{LEG: 40.0, BETWEEN: 37.0})
    assert (found["zone"], found["verdict"]) == (1, "past_cap")
    # At 101 m its place falls at 40 cm, 3 m from the keep-off: there too the place alone counts.
    assert one(held, x_m=101.0, **{LEG: 35.0, BETWEEN: 32.0})["zone"] == 2


@pytest.mark.parametrize("west_m", [0.0, 195.0])
def test_a_hazard_at_the_far_end_of_a_zone_keeps_no_pit_there(west_m: float) -> None:
    far = planned_ground(hazard_zones=drain(42.0, west_m, west_m + 4.0))
    assert far.zones["cap_cm"].notna().any()
    for x_m, leg_cm, zone in ((99.0, 40.0, 2), (101.0, 35.0, 1)):
        found = one(far, x_m=x_m, **{LEG: leg_cm, BETWEEN: leg_cm - 3.0})
        assert (found["zone"], np.isnan(found["cap_cm"])) == (zone, True)


def test_ground_that_a_hazard_holds_takes_no_pit_of_the_ground_beside_it() -> None:
    held = planned_ground(base_cm=38.0, hazard_zones=drain(36.0), assurance=0.128)
    assert held.zones["held"].tolist() == [True, False, False]
    found = one(held, x_m=101.0, **{LEG: 35.0, BETWEEN: 32.0})
    assert (found["zone"], found["verdict"]) == (2, "not_reached")
    assert one(held, x_m=99.0, **{LEG: 40.0, BETWEEN: 37.0})["verdict"] == "held"


def test_a_leg_that_ran_otherwise_than_planned_is_told(planned) -> None:
    told = {leg: one(planned, **{LEG: leg, BETWEEN: 31.0})["reason"] for leg in (32.0, 35.0, 39.0)}
    assert "The leg ran 3 cm shallower than the 35 cm planned." in told[32.0]
    assert "The leg ran 4 cm deeper than the 35 cm planned." in told[39.0]
    assert "The leg ran" not in told[35.0]


def test_a_pit_outside_every_zone_is_kept_with_its_reason(planned) -> None:
    near = one(planned, y_m=-9.0, **{LEG: 35.0, BETWEEN: 33.0})
    assert (near["zone"], near["verdict"]) == (1, "reached")
    far = one(planned, y_m=-11.0, **{LEG: 35.0, BETWEEN: 33.0})
    assert far["verdict"] == "not_judged"
    assert "11 m outside every zone" in far["reason"]


def test_a_pit_older_than_the_readings_judges_earlier_work(planned) -> None:
    facts = {LEG: 35.0, BETWEEN: 33.0, "date": "2026-08-01"}
    early = one(planned, read_on="2026-08-19", **facts)
    assert (early["verdict"], "2026-08-19" in early["reason"]) == ("not_judged", True)
    assert (early["earlier"], early["of_work"]) == (True, False)
    far = one(planned, read_on="2026-08-19", **facts, x_m=9000.0)
    assert (far["earlier"], far["of_work"]) == (False, False)
    mistyped = one(planned, read_on="2026-08-19", season_from="2026-01-01", **facts)
    assert (mistyped["earlier"], mistyped["of_work"]) == (True, True)
    assert one(planned, read_on="2026-08-01", **facts)["verdict"] == "reached"
    assert one(planned, read_on="", **facts)["verdict"] == "reached"
    assert one(planned, read_on="2026-08-19", **facts | {"date": ""})["verdict"] == "reached"


def test_pits_of_before_are_left_alone_and_row_order_does_not_matter(planned) -> None:
    pits = pit_rows({LEG: 35.0, BETWEEN: 32.0}, {"phase": "before"}, {LEG: 30.0, BETWEEN: 20.0})
    found = judged(planned, pits)
    assert found["pit"].tolist() == ["A0", "A2"]
    assert found.equals(judged(planned, pits.iloc[::-1]))


def test_no_pits_no_rows(planned) -> None:
    assert judged(planned, pit_rows().astype({"x_m": float, "y_m": float})).empty

"""A Stop hangs on the way to the hazard and on the deepest that is known of the leg."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from checks.conftest import (
    CRS,
    drain,
    field_parts,
    pit_rows,
    planned_ground,
    station_rows,
    trial_rows,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, box

from zoning.checks.advice import advise
from zoning.checks.caps import past_caps, stop_words
from zoning.checks.groups import judge_groups
from zoning.checks.looks import wet_words
from zoning.checks.pits import judge_pits
from zoning.checks.ran import leg_least_cm
from zoning.checks.trials import ridge_curve
from zoning.model.check import PlannedGround
from zoning.model.settings import MachineSection

LEG, BETWEEN = "loosened_at_leg_cm", "loosened_between_cm"
MACHINE = MachineSection()
WEST_M = 230.0


def lifted_for_a_service() -> PlannedGround:
    """Return the field with a service in the west of zone 3, which is lifted throughout."""
    shape = box(220.0, -10, WEST_M, 110)
    facts = {"kind": ["service"], "name": [""], "cap_cm": [0.0]}
    service = gpd.GeoDataFrame(facts, geometry=[shape], crs=CRS)
    return planned_ground(hazard_zones=service)


def judged(planned: PlannedGround, *rows: dict[str, object]) -> pd.DataFrame:
    return judge_pits(pit_rows(*rows), planned, read_on="")


def told(planned: PlannedGround, pits: pd.DataFrame) -> pd.DataFrame:
    groups = judge_groups(planned, pits, station_rows(), field_parts())
    return advise(groups, pits, ridge_curve(trial_rows()), MACHINE, planned.zones)


@pytest.mark.parametrize("depths", [{BETWEEN: 34.0}, {LEG: 34.0}, {LEG: 36.0, BETWEEN: 34.0}])
@pytest.mark.parametrize("pan", ["no", "yes", ""])
def test_the_depth_between_the_legs_alone_is_enough_to_stop(
    depths: dict[str, object], pan: str
) -> None:
    held = planned_ground(38.0, depth_cm=25.0, hazard_zones=drain(27.0), assurance=0.1)
    pits = judged(held, {**depths, "pan": pan})
    assert pits["verdict"].iloc[0] == "past_cap"
    assert (told(held, pits)["step"] == "stop").any()


def test_a_pit_on_held_ground_is_never_reached() -> None:
    held = planned_ground(28.0, depth_cm=30.0, hazard_zones=drain(30.0), assurance=0.1)
    rows = [{LEG: 30.0, BETWEEN: 29.0, "pan": pan, "x_m": x} for pan in ("no", "") for x in (50, 5)]
    assert set(judged(held, *rows)["verdict"]) == {"held"}


def test_lifted_ground_stops_by_the_way_to_the_service_and_not_by_the_zone() -> None:
    planned = lifted_for_a_service()
    reach_m = MACHINE.width_m + MACHINE.row_gap_cm / 100.0
    near, far = WEST_M + reach_m - 0.1, WEST_M + reach_m + 30.0
    pits = judged(
        planned, *[{LEG: 34.0, BETWEEN: 30.0, "pan": "no", "x_m": x} for x in (near, far)]
    )
    assert pits["verdict"].tolist() == ["past_cap", "worked_lifted"]
    steps = told(planned, pits)
    stop = steps.loc[steps["step"] == "stop", "text"].unique()
    assert [text.split()[2] for text in stop] == ["A0"]
    assert "lifts the legs out" in stop[0]
    own = steps[steps["where"] == "the lifted ground"]
    assert own["text"].str.startswith("Loosened at pit A1, where the plan lifts").all()


def test_plastic_soil_in_a_pit_without_depths_stops_the_work() -> None:
    planned = planned_ground()
    pits = judged(planned, {"moisture": "plastic"}, {LEG: 35.0, BETWEEN: 33.0})
    assert pits["verdict"].iloc[0] == "not_judged"
    assert told(planned, pits).iloc[0]["step"] == "stop"
    earlier = judge_pits(pit_rows({"moisture": "plastic"}), planned, read_on="2026-09-20")
    assert not (told(planned, earlier)["step"] == "stop").any()


depth = st.one_of(st.just(np.nan), st.floats(0.5, 50.0))
spot = st.tuples(st.floats(1.0, 299.0), st.floats(1.0, 99.0))
pit = st.tuples(
    spot, depth, depth, st.sampled_from(["", "yes", "no"]), st.sampled_from(["", "plastic"])
)


@settings(max_examples=25, deadline=None)
@given(pits=st.lists(pit, min_size=1, max_size=4), cap_cm=st.sampled_from([0.0, 20.0, 30.0]))
def test_every_stop_of_the_advice_is_one_that_stands_at_the_head(
    pits: list[tuple[tuple[float, float], float, float, str, str]], cap_cm: float
) -> None:
    shape = drain(cap_cm, 210.0, 214.0) if cap_cm == 0 else drain(cap_cm)
    planned = planned_ground(hazard_zones=shape.assign(kind="drain" if cap_cm else "service"))
    rows = [
        {"x_m": x, "y_m": y, LEG: leg, BETWEEN: between, "pan": pan, "moisture": moisture}
        for (x, y), leg, between, pan, moisture in pits
    ]
    found = judged(planned, *rows)
    past = past_caps(found)
    head = {stop_words(row) for row in past[past["far"]].to_dict("records")}
    head |= {wet_words(found)} - {""}
    steps = told(planned, found)
    assert set(steps.loc[steps["step"] == "stop", "text"]) == head
    # By hand: within the keep-off, any leg that ran 2.5 cm or more past the cap has its Stop.
    inside = [shape.geometry.iloc[0].contains(Point(row["x_m"], row["y_m"])) for row in rows]
    deep = (leg_least_cm(found) - cap_cm >= 2.5) & np.array(inside)
    assert set(found.loc[deep, "pit"]) <= set(past.loc[past["far"], "pit"])
    assert set(found.loc[deep, "verdict"]) <= {"past_cap"}

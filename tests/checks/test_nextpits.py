"""Where to dig next: inside the ground that is open, apart, away from hazards."""

from __future__ import annotations

import dataclasses

import numpy as np
import shapely
from checks.conftest import pit_rows, planned_ground, station_rows
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.checks.groups import judge_groups
from zoning.checks.nextpits import dig_next
from zoning.checks.pits import judge_pits

LEG, BETWEEN = "loosened_at_leg_cm", "loosened_between_cm"
NOWHERE = shapely.Polygon()


def asked(planned, *pits: dict[str, object], probes=None, keep_off=NOWHERE):
    judged = judge_pits(pit_rows(*pits).astype({"x_m": float, "y_m": float}), planned, read_on="")
    stations = station_rows() if probes is None else probes
    groups = judge_groups(planned, judged, stations)
    return dig_next(planned, groups, judged, stations, ridge_cm=3.0, keep_off=keep_off)


def test_each_depth_gets_the_pits_it_lacks(planned) -> None:
    done = [{LEG: 35.0, BETWEEN: 33.0, "x_m": 20.0 * i + 10} for i in range(4)]
    found = asked(planned, *done)
    assert found["depth_cm"].tolist() == [40.0] * 4
    assert found["order"].tolist() == [1, 2, 3, 4]
    assert asked(planned)["depth_cm"].value_counts().to_dict() == {35.0: 4, 40.0: 4}


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
        assert shapes[row.zone].buffer(-3.0).covers(row.geometry)


def test_nobody_is_sent_to_dig_on_keep_off_ground(planned) -> None:
    keep_off = shapely.box(-1, -1, 190, 101)
    found = asked(planned, keep_off=keep_off)
    assert not found.geometry.intersects(keep_off).any()
    assert set(found["depth_cm"]) == {40.0}


def test_the_most_open_ground_comes_first() -> None:
    planned = planned_ground()
    # 35 cm less a ridge of 3 cm is 32 cm: at x = 72.5 m the base lies just there, elsewhere at 25.
    base = np.full(planned.grid.shape, 25.0)
    base[10, 14] = 32.0
    planned = dataclasses.replace(planned, bands={**planned.bands, "pan_base_cm": base})
    found = asked(planned)
    assert found[found["depth_cm"] == 35.0][["x_m", "y_m"]].iloc[0].tolist() == [72.5, 47.5]


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

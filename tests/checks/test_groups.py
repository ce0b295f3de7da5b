"""From pits to verdicts: by hand, by search over every outcome, and on the practice of speeds."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest
from checks.conftest import field_parts, pit_rows, planned_ground, station_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest

from zoning.checks.groups import FIELD, Tally, judge_groups, judge_zones, tally
from zoning.checks.intervals import Share
from zoning.checks.pits import judge_pits
from zoning.model.check import PlannedGround

LEG, BETWEEN = "loosened_at_leg_cm", "loosened_between_cm"


def dug(*pits: tuple[float, float], x_m: float = 50.0, **facts: object) -> pd.DataFrame:
    rows = [{LEG: leg, BETWEEN: between, "x_m": x_m} | facts for leg, between in pits]
    return judge_pits(pit_rows(*rows), planned_ground(), read_on="")


def zone(pits: pd.DataFrame, number: int = 1, probes: pd.DataFrame | None = None) -> pd.Series:
    seen = station_rows() if probes is None else probes
    told = judge_zones(planned_ground(), pits, seen, field_parts())
    return told.set_index("zone").loc[number]


@pytest.mark.parametrize(
    ("pits", "verdict", "more"),
    [
        ([(35, 33)] * 4, "reached", 0),
        ([(35, 24)] * 4, "leg_only", 0),
        ([(27, 24)] * 4, "not_reached", 0),
        ([(35, 24)] * 4 + [(27, 24)] * 4, "not_between", 0),
        ([(35, 24), (27, 24)], "cannot_tell", 2),
        ([(43, 40)] * 4, "too_deep", 0),
        ([(35, 33)] * 3, "cannot_tell", 1),
        ([(35, 33)] * 1, "cannot_tell", 3),
        ([], "cannot_tell", 4),
    ],
)
def test_four_pits_that_agree_settle_a_zone(
    pits: list[tuple[float, float]], verdict: str, more: int
) -> None:
    found = zone(dug(*pits))
    assert (found["verdict"], found["more_pits"], found["pits"]) == (verdict, more, len(pits))


def test_so_far_is_told_however_few_the_pits() -> None:
    assert zone(dug((35, 24)))["so_far"] == "leg_only"
    assert zone(dug((35, 24), (35, 33)))["so_far"] == "cannot_tell"
    assert zone(dug((35, 24), (27, 24)))["so_far"] == "not_between"
    assert zone(dug())["so_far"] == ""


shares = st.integers(0, 12).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@settings(max_examples=80, deadline=None)
@given(leg=shares, data=st.data())
def test_the_further_pits_settle_it_and_one_fewer_does_not(
    leg: tuple[int, int], data: st.DataObject
) -> None:
    between = data.draw(st.integers(0, leg[0]))
    own = Tally(Share(*leg), Share(between, leg[1]), Share(0, leg[1]))
    kind = own.so_far if own.so_far not in ("", "cannot_tell") else "reached"
    more = own.more
    assert more >= 0
    assert own.plus(kind, more).verdict != "cannot_tell"
    assert more == 0 or own.plus(kind, more - 1).verdict == "cannot_tell"
    assert (more == 0) == (own.verdict != "cannot_tell")


@settings(max_examples=80, deadline=None)
@given(leg=shares, data=st.data())
def test_ground_between_legs_that_was_not_passed_is_judged_whatever_the_legs_did(
    leg: tuple[int, int], data: st.DataObject
) -> None:
    between = Share(data.draw(st.integers(0, leg[0])), leg[1])
    own = Tally(Share(*leg), between, Share(0, leg[1]))
    assert (own.verdict == "cannot_tell") == (between.side == "open" and own.leg.side != "least")
    if between.side == "least":
        assert own.verdict in ("not_between", "leg_only", "not_reached")
        assert (own.verdict == "not_between") == (own.leg.side == "open")


def test_ground_that_stays_half_and_half_cannot_be_settled() -> None:
    even = Tally(Share(20000, 40000), Share(20000, 40000), Share(0, 40000))
    assert (even.verdict, even.more) == ("cannot_tell", -1)


def test_the_interval_printed_is_scipys() -> None:
    found = zone(dug((35, 33), (35, 33), (35, 24), (35, 33), (35, 33)))
    wanted = binomtest(4, 5).proportion_ci(confidence_level=0.8, method="exact")
    assert (found["share_low"], found["share_high"]) == pytest.approx((wanted.low, wanted.high))
    assert (found["passed_between"], found["seen_between"], found["passed_at_leg"]) == (4, 5, 5)


def test_pits_not_seen_between_legs_count_at_the_leg_alone() -> None:
    found = zone(dug(*[(35, np.nan)] * 4))
    assert (found["passed_at_leg"], found["seen_between"]) == (4, 0)
    assert (found["verdict"], np.isnan(found["share_low"])) == ("cannot_tell", True)


def test_a_leg_that_nobody_measured_is_not_counted_as_short_of_the_base() -> None:
    for pits in (dug(*[(np.nan, np.nan)] * 5, pan="yes"), dug(*[(np.nan, 24.0)] * 5)):
        found = zone(pits)
        assert (found["seen_at_leg"], found["passed_at_leg"], found["seen_between"]) == (0, 0, 5)
        assert (found["verdict"], found["pits"]) == ("not_between", 5)
    # Between legs is never loosened deeper than at them: what passed there passed at the leg.
    found = zone(dug((np.nan, 36.0), (np.nan, 24.0), (24.0, 20.0)))
    assert (found["seen_at_leg"], found["passed_at_leg"]) == (2, 1)


def test_a_verdict_that_rests_on_the_plans_estimate_says_so() -> None:
    # 31 cm against a base at 30 +- 2.2 cm: passed more likely than not, but not surely.
    assert zone(dug(*[(35, 31)] * 4))[["verdict", "firm"]].tolist() == ["reached", "no"]
    assert zone(dug(*[(35, 34)] * 4))[["verdict", "firm"]].tolist() == ["reached", "yes"]
    assert zone(dug((35, 34)))["firm"] == ""


def test_pits_not_judged_do_not_count() -> None:
    pits = dug(*[(35, 33)] * 4, date="2026-01-01")
    held = pits.assign(verdict="not_judged")
    assert tally(held).leg.of == 0
    assert zone(held)["pits"] == 0


def test_the_depth_of_a_zone_has_more_pits_than_the_zone() -> None:
    pits = dug(*[(35, 33)] * 4)
    groups = judge_groups(planned_ground(), pits, station_rows(), field_parts()).set_index("name")
    assert groups.loc["35 cm", "verdict"] == "reached"
    assert groups.loc["40 cm", "verdict"] == "cannot_tell"
    assert zone(pits, 2)["depth_verdict"] == "cannot_tell"
    assert zone(pits, 3)[["verdict", "more_pits"]].tolist() == ["lifted_out", 0]


def test_field_and_parts_add_the_zones_up() -> None:
    pits = pd.concat([dug(*[(35, 33)] * 3), dug((40, 37), x_m=150.0, part="headland")])
    groups = judge_groups(planned_ground(), pits, station_rows(), field_parts()).set_index("name")
    assert groups.loc[FIELD, ["pits", "verdict"]].tolist() == [4, "reached"]
    assert groups.loc["headland", "pits"] == 1
    assert groups.loc[FIELD, "area_ha"] == pytest.approx(2.0)


def test_scraps_of_a_depth_ask_for_no_pit_and_have_no_row_unless_something_was_dug_there() -> None:
    planned = planned_ground()
    scrap = dataclasses.replace(planned, zones=planned.zones.assign(area_ha=[1.0, 0.006, 1.0]))

    def named(planned: PlannedGround, *x_m: float) -> dict[str, int]:
        rows = [{LEG: 35.0, BETWEEN: 33.0, "x_m": x} for x in x_m]
        pits = judge_pits(pit_rows(*rows), planned, read_on="")
        told = judge_groups(planned, pits, station_rows(), field_parts())
        own = told[told["group"] == "depth"]
        return dict(zip(own["name"], own["more_pits"], strict=True))

    assert named(scrap, 50.0) == {"35 cm": 3}
    assert named(planned, 50.0) == {"35 cm": 3, "40 cm": 4}
    assert named(scrap, 50.0, 150.0) == {"35 cm": 3, "40 cm": 0}


def test_ridge_speed_and_cone_stations_are_told() -> None:
    # Common practice: 10-12 cm of ridge at 4 km/h is uneven, about 3 cm at 10 km/h is even.
    slow = zone(
        dug((35, 24), (36, 25), speed_km_h=4.0), probes=station_rows({}, {"verdict": "pan"})
    )
    assert (slow["ridge_cm"], slow["evenness"], slow["speed_km_h"]) == (11.0, "uneven", 4.0)
    assert (slow["probes"], slow["probes_with_pan"]) == (2, 1)
    fast = zone(dug((35, 32), (36, 33), speed_km_h=10.0))
    assert (fast["ridge_cm"], fast["evenness"]) == (3.0, "even")


def test_the_plans_own_uncertainty_stands_beside_the_counts() -> None:
    found = zone(dug((35, 31)))
    assert found["pan_base_sd_cm"] == pytest.approx(2.0)
    assert found["chance_reached"] == pytest.approx(0.6726, abs=1e-3)  # Phi(1 / sqrt(5)).


def test_a_field_whose_depths_are_settled_asks_for_no_pit_though_they_differ() -> None:
    at = [{"x_m": 15.0 + 22.0 * i} for i in range(4)] + [
        {"x_m": 115.0 + 22.0 * i} for i in range(4)
    ]
    rows = [{LEG: 36.0, BETWEEN: 34.0}] * 4 + [{LEG: 40.0, BETWEEN: 25.0}] * 4
    planned = planned_ground()
    pits = judge_pits(
        pit_rows(*(pit | place for pit, place in zip(rows, at, strict=True))), planned, read_on=""
    )
    groups = judge_groups(planned, pits, station_rows(), field_parts()).set_index("name")
    assert groups.loc[["35 cm", "40 cm"], "verdict"].tolist() == ["reached", "leg_only"]
    assert groups.loc[FIELD, "verdict"] == "cannot_tell"
    assert groups.loc[FIELD, "more_pits"] == 0
    assert groups["depth_cm"].dropna().to_dict() == {"35 cm": 35.0, "40 cm": 40.0}
    less = judge_groups(planned, pits.iloc[:-1], station_rows(), field_parts()).set_index("name")
    assert less.loc[[FIELD, "40 cm"], "more_pits"].min() > 0

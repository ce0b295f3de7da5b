"""What a pit says of how the machine ran: missed strips, floating legs, pieces left unbroken."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pandas as pd
import pytest
from checks.conftest import pit_rows, planned_ground
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.checks.groups import tally
from zoning.checks.pits import judge_pits
from zoning.checks.ran import afloat, charted, ridge_cm, steady, unbroken
from zoning.model.check import JUDGED

LEG, BETWEEN = "loosened_at_leg_cm", "loosened_between_cm"


def judged(*pits: dict[str, object], older: Collection[str] = ()) -> pd.DataFrame:
    return judge_pits(pit_rows(*pits), planned_ground(), read_on="", older=older)


def one(older: Collection[str] = (), **facts: object) -> pd.Series:
    return judged(facts, older=older).iloc[0]


def test_a_strip_without_loosening_is_a_missed_strip_and_has_no_ridge() -> None:
    found = one(pan="yes", pan_base_cm=31.0, **{LEG: 0.0, BETWEEN: 0.0})
    assert found["verdict"] == "not_worked"
    assert np.isnan(found["ridge_cm"])
    assert "missed" not in found["reason"]  # the verdict beside it says so
    assert "shallower" not in found["reason"]
    assert one(**{LEG: 0.0})["verdict"] == "not_worked"
    assert one(pan="no", **{LEG: 0.0, BETWEEN: 0.0})["verdict"] == "not_worked"
    assert one(x_m=250.0, **{LEG: 0.0, BETWEEN: 0.0})["verdict"] == "lifted_out"


def test_a_missed_strip_counts_for_the_share_of_the_ground() -> None:
    assert "not_worked" in JUDGED
    done = [{LEG: 35.0, BETWEEN: 33.0}] * 2
    missed = {LEG: 0.0, BETWEEN: 0.0, "pan": "yes"}
    found = tally(judged(*done, missed))
    assert (found.leg.count, found.leg.of, found.between.count, found.between.of) == (2, 3, 2, 3)


@settings(max_examples=40, deadline=None)
@given(
    ridges=st.lists(st.integers(0, 20), min_size=1, max_size=6),
    missed=st.integers(0, 4), floats=st.integers(0, 4), short=st.integers(5, 20),
)  # fmt: skip
def test_missed_strips_and_floating_legs_change_no_ridge(
    ridges: list[int], missed: int, floats: int, short: int
) -> None:
    ran = [{LEG: 35.0, BETWEEN: 35.0 - ridge} for ridge in ridges]
    none = [{LEG: 0.0, BETWEEN: 0.0}] * missed
    afloat_pits = [{LEG: 35.0 - short, BETWEEN: 34.0 - short}] * floats
    pits = judged(*ran, *none, *afloat_pits)
    assert ridge_cm(pits) == pytest.approx(np.mean(ridges))
    assert len(steady(pits)) == len(ran)


def test_a_leg_clearly_shallower_than_set_floats() -> None:
    pits = judged(
        {LEG: 30.0, BETWEEN: 28.0},
        {LEG: 30.5, BETWEEN: 28.0},
        {LEG: 30.5, BETWEEN: 28.0, "pan": "no"},
    )
    assert afloat(pits).tolist() == [True, True, False]  # the second alone left the pan for it


def test_plastic_soil_is_drawn_but_not_gone_by() -> None:
    wet = {LEG: 35.0, BETWEEN: 26.0, "moisture": "plastic"}
    pits = judged({LEG: 35.0, BETWEEN: 32.0}, wet, wet | {LEG: 28.0, BETWEEN: 27.0})
    assert steady(pits)["pit"].tolist() == ["A0"]
    assert charted(pits)["pit"].tolist() == ["A0", "A1"]
    assert charted(pits)["moisture"].tolist() == ["", "plastic"]
    assert tally(pits).between.of == 3


@settings(max_examples=60, deadline=None)
@given(base=st.integers(10, 45), between=st.integers(3, 45), ridge=st.integers(0, 10))
def test_a_pan_seen_above_the_loosened_depth_is_questioned(
    base: int, between: int, ridge: int
) -> None:
    found = judged(
        {"pan": "yes", "pan_base_cm": float(base), LEG: between + ridge, BETWEEN: between}
    )
    asked = between - base >= 2
    assert unbroken(found).tolist() == [asked]
    assert ("is the base mistyped?" in found["reason"].iloc[0]) == asked
    if asked:
        assert found["firm"].iloc[0] == "no"


def test_untouched_soil_without_a_pan_is_not_counted_as_loosened() -> None:
    found = one(pan="no", **{LEG: 36.0, BETWEEN: 0.0})
    assert (found["verdict"], found["chance_leg"]) == ("leg_passed", 1.0)
    assert np.isnan(found["chance_between"])
    assert np.isnan(found["ridge_cm"])
    assert "It is not counted as loosened." in found["reason"]
    # Untouched soil that still holds its pan is a plain ridge.
    left = one(pan="yes", pan_base_cm=30.0, **{LEG: 36.0, BETWEEN: 0.0})
    assert (left["verdict"], left["ridge_cm"]) == ("leg_only", 36.0)


def test_work_where_the_legs_were_to_be_lifted_has_a_verdict_of_its_own() -> None:
    found = one(x_m=250.0, **{LEG: 36.0, BETWEEN: 30.0})
    assert found["verdict"] == "worked_lifted"
    assert "lift" not in found["reason"]  # the verdict beside it says so
    assert "worked_lifted" not in JUDGED


def test_a_pit_older_than_the_plan_is_not_held_against_its_depths() -> None:
    short = {"date": "2026-09-10", LEG: 26.0, BETWEEN: 24.0}
    new, old = one(older={"another"}, **short), one(older={"A0"}, **short)
    assert (new["set_cm"], np.isnan(old["set_cm"])) == (35.0, True)
    assert "shallower than the 35 cm planned" in new["reason"]
    assert "planned" not in old["reason"]
    assert old["verdict"] == new["verdict"] == "not_reached"
    lifted = one(older={"A0"}, x_m=250.0, **short)
    assert lifted["verdict"] == "lifted_out"

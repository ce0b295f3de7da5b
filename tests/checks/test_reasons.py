"""What a pit asks where its depths go neither with the machine nor with the pan it notes."""

from __future__ import annotations

import numpy as np
import pytest
from checks.conftest import pit_rows, planned_ground
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.checks.pits import judge_pits
from zoning.model.check import JUDGED
from zoning.model.settings import MachineSection

LEG, BETWEEN = "loosened_at_leg_cm", "loosened_between_cm"


def one(planned, **facts: object):
    return judge_pits(pit_rows(facts), planned, read_on="").iloc[0]


def test_no_pan_does_not_overrule_a_depth_clearly_above_the_base() -> None:
    planned = planned_ground(28.6, 0.6)
    shallow = one(planned, pan="no", **{LEG: 36.0, BETWEEN: 10.0})
    assert shallow["verdict"] == "leg_passed"
    assert np.isnan(shallow["chance_between"])
    assert shallow["asked"] == "no_pan"
    assert "was there none before, or was it not measured?" in shallow["reason"]
    both = one(planned_ground(36.5, 1.0, depth_cm=40.0), pan="no", **{LEG: 29.0, BETWEEN: 27.5})
    assert both["verdict"] == "questioned"
    assert both["verdict"] not in JUDGED
    leg = one(planned_ground(36.5, 1.0), pan="no", **{LEG: 29.0})
    assert leg["verdict"] == "questioned"


def test_the_base_is_asked_for_where_the_pan_was_noted_already() -> None:
    near = {LEG: 30.0, BETWEEN: 29.0}
    assert one(planned_ground(), **near)["reason"].endswith("note pan yes or no.")
    assert one(planned_ground(), pan="yes", **near)["reason"].endswith("note pan_base_cm.")


def test_a_centimetre_above_the_base_is_not_asked_about() -> None:
    found = one(planned_ground(30.0, 1.0), pan="no", **{LEG: 34.0, BETWEEN: 29.0})
    assert (found["verdict"], found["asked"], found["chance_between"]) == ("reached", "", 1.0)


def test_where_no_pan_was_likely_a_shallow_pit_without_one_is_believed() -> None:
    found = one(planned_ground(30.0, 1.0, pan=0.3), pan="no", **{LEG: 34.0, BETWEEN: 10.0})
    assert "No pan seen." in found["reason"]  # whether one was there before is not claimed
    assert (found["verdict"], found["asked"]) == ("reached", "")


@settings(max_examples=40, deadline=None)
@given(
    base=st.floats(22, 40),
    sd=st.floats(0.3, 4),
    above=st.floats(0.1, 15),
)
def test_the_deeper_of_two_depths_is_never_asked_before_the_shallower(
    base: float, sd: float, above: float
) -> None:
    planned = planned_ground(base, sd)
    depth = base - above
    found = one(planned, pan="no", **{LEG: base + 1.0, BETWEEN: max(depth, 2.5)})
    asked = base - max(depth, 2.5) >= 2.0 * np.hypot(sd, 1.0)
    assert (found["asked"] == "no_pan") == asked
    assert np.isnan(found["chance_between"]) == asked


@pytest.mark.parametrize(("leg", "asked"), [(47.0, False), (47.5, True), (65.0, True)])
def test_a_depth_beyond_the_machine_is_asked_about_and_counts_for_nothing(
    leg: float, *, asked: bool
) -> None:
    planned = planned_ground(machine=MachineSection(depth_max_cm=45.0))
    for pan in ("no", ""):
        found = one(planned, pan=pan, **{LEG: leg, BETWEEN: leg - 2})
        assert (found["verdict"] == "questioned") == asked
        assert ("a second tool?" in found["reason"]) == asked
        assert np.isnan(found["set_cm"]) == asked
    left = one(planned, pan="yes", **{LEG: leg, BETWEEN: leg - 2})
    assert left["verdict"] == ("not_between" if asked else "leg_only")


@pytest.mark.parametrize(("base", "asked"), [(82.0, True), (50.0, True), (35.5, False)])
def test_a_base_far_off_the_plans_is_asked_about_and_counts_in_doubt(
    base: float, *, asked: bool
) -> None:
    planned = planned_ground(31.0, 0.8, machine=MachineSection(depth_max_cm=50.0))
    found = one(planned, pan="yes", pan_base_cm=base, **{LEG: 36.0, BETWEEN: 27.0})
    assert (found["asked"] == "base") == asked
    words = f"Base seen at {base:g} cm, where the plan expects 31 cm: mistyped, or is the plan"
    assert (words in found["reason"]) == asked
    assert (found["verdict"], found["base_cm"]) == ("not_reached" if asked else "leg_only", base)
    assert not asked or found["firm"] == "no"


def test_a_base_deeper_than_the_machine_goes_is_asked_about_where_the_plan_knows_little() -> None:
    planned = planned_ground(31.0, 6.0, machine=MachineSection(depth_max_cm=45.0))
    deep = {"pan": "yes", LEG: 36.0, BETWEEN: 27.0}
    assert one(planned, pan_base_cm=47.5, **deep)["asked"] == "base"
    assert one(planned, pan_base_cm=47.0, **deep)["asked"] == ""


def test_a_leg_that_nobody_measured_is_not_said_to_have_missed_the_pan() -> None:
    found = one(planned_ground(), pan="yes", pan_base_cm=32.0, **{BETWEEN: 27.0})
    assert found["verdict"] == "not_between"
    assert found["verdict"] in JUDGED
    assert "Leg not measured." in found["reason"]
    assert np.isnan(found["chance_leg"])
    measured = one(planned_ground(), pan="yes", pan_base_cm=32.0, **{LEG: 29.0, BETWEEN: 27.0})
    assert measured["verdict"] == "not_reached"

"""Frame level by trigonometry, pin positions by counting, trial speeds of common practice."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.machine import depth_steps_cm, frame_error, pin_position, pin_table, trial_speeds
from zoning.machine.frame import frame_findings, tilt_error_cm
from zoning.model.settings import MachineSection


@pytest.mark.parametrize(
    ("distance_cm", "tilt_deg", "error_cm"),
    # By hand: distance x tan(angle); tan of 1, 2, 5 degrees is 0.017455, 0.034921, 0.087489
    [
        (90, 1, 1.571),
        (90, 2, 3.143),
        (150, 1, 2.618),
        (200, 5, 17.498),
        (90, -1, -1.571),
        (0, 3, 0),
    ],
)
def test_tilt(distance_cm: float, tilt_deg: float, error_cm: float) -> None:
    assert tilt_error_cm(distance_cm, tilt_deg) == pytest.approx(error_cm, abs=5e-4)


@pytest.mark.parametrize("tilt_deg", [45, -60, math.nan])
def test_no_working_position(tilt_deg: float) -> None:
    with pytest.raises(ValueError, match="working position"):
        tilt_error_cm(90, tilt_deg)


@pytest.mark.parametrize(
    ("frame", "rear_cm"), [("straight", 0.0), ("two_row", 1.571), ("v", 1.571)]
)
def test_rear_legs_of_each_frame(frame: str, rear_cm: float) -> None:
    error = frame_error(MachineSection(legs=7, frame=frame, row_gap_cm=90), 1.0)
    assert error.frame_rear_error_cm == pytest.approx(rear_cm, abs=5e-4)


def test_leaning_sideways_moves_the_outer_legs() -> None:
    # 7 legs 43 cm apart: the outer leg is 129 cm from the middle; 129 x tan 1 deg = 2.252
    assert frame_error(
        MachineSection(legs=7, leg_spacing_cm=43), 1.0
    ).frame_outer_error_cm == pytest.approx(2.252, abs=5e-4)


def test_one_degree_in_words() -> None:
    (two_row,) = frame_findings(MachineSection(legs=7, leg_spacing_cm=43, row_gap_cm=90))
    assert two_row.level == "note"
    assert "the rear row 1.6 cm and, leaning sideways, an outer leg 2.3 cm" in two_row.text
    (v,) = frame_findings(MachineSection(frame="v"))
    assert "outer legs of the V" in v.text
    (straight,) = frame_findings(MachineSection(frame="straight"))
    assert "row" not in straight.text
    assert "outer leg 2.3 cm" in straight.text


@given(st.floats(0, 40), st.floats(0, 40), st.floats(0, 500))
def test_more_tilt_is_never_less_error(one: float, other: float, gap_cm: float) -> None:
    small, large = sorted([one, other])
    assert tilt_error_cm(gap_cm, small) <= tilt_error_cm(gap_cm, large)


def test_pins_are_counted_from_the_shallowest_hole() -> None:
    machine = MachineSection(depth_min_cm=15, depth_max_cm=45, depth_step_cm=2.5)
    table = pin_table(machine)
    assert [(p.depth_cm, p.hole) for p in table[:3]] == [(15.0, 1), (17.5, 2), (20.0, 3)]
    assert (table[-1].depth_cm, table[-1].hole) == (45.0, 13)
    assert table[4].depth_in == pytest.approx(25 / 2.54)


def test_zero_point_shifts_the_holes() -> None:
    machine = MachineSection(depth_min_cm=15, depth_step_cm=2.5)
    assert pin_position(machine, 30, zero_cm=10).hole == 9


def test_no_hole_is_not_rounded_to_the_nearest() -> None:
    machine = MachineSection(depth_min_cm=15, depth_step_cm=2.5)
    assert pin_position(machine, 31).hole is None
    assert pin_position(machine, 12.5).hole is None
    assert pin_position(machine, 30, zero_cm=16).hole is None


def test_hydraulic_control_has_no_holes() -> None:
    assert {p.hole for p in pin_table(MachineSection(depth_control="hydraulic"))} == {None}


@given(st.floats(5, 40), st.floats(0, 60), st.floats(0.5, 30))
def test_steps_stay_within_the_range(least: float, more: float, step: float) -> None:
    steps = depth_steps_cm(
        MachineSection(depth_min_cm=least, depth_max_cm=least + more, depth_step_cm=step)
    )
    assert steps[0] == least
    assert steps[-1] <= least + more + 1e-6
    assert least + more - steps[-1] < step + 1e-6


def test_a_range_of_one_depth_has_one_step() -> None:
    assert depth_steps_cm(MachineSection(depth_min_cm=30, depth_max_cm=30)) == (30.0,)


def test_trial_speeds_of_common_practice() -> None:
    trials = trial_speeds()
    assert [t.speed_km_h for t in trials] == [4.0, 6.0, 8.0, 10.0]
    assert {t.source for t in trials} == {"common_practice"}
    assert "10-12 cm" in trials[0].look_for
    assert "3 cm" in trials[-1].look_for

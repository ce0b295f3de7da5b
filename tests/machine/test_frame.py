"""Frame level by trigonometry, pin holes by counting."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.machine.frame import frame_findings, pin_hole, tilt_error_cm
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


def test_one_degree_in_words() -> None:
    # 7 legs 43 cm apart: the outer leg is 129 cm from the middle; 129 x tan 1 deg = 2.252, and
    # 90 x tan 1 deg = 1.571
    (two_row,) = frame_findings(MachineSection(legs=7, leg_spacing_cm=43, row_gap_cm=90))
    assert two_row.level == "note"
    assert "the rear row 1.6 cm and, leaning sideways, an outer leg 2.3 cm" in two_row.text
    (v,) = frame_findings(MachineSection(frame="v", row_gap_cm=90))
    assert "the outer legs of the V against its point 1.6 cm and" in v.text
    (straight,) = frame_findings(MachineSection(frame="straight"))
    assert "row" not in straight.text
    assert "outer leg 2.3 cm" in straight.text


@given(st.floats(0, 40), st.floats(0, 40), st.floats(0, 500))
def test_more_tilt_is_never_less_error(one: float, other: float, gap_cm: float) -> None:
    small, large = sorted([one, other])
    assert tilt_error_cm(gap_cm, small) <= tilt_error_cm(gap_cm, large)


def test_pins_are_counted_from_the_shallowest_hole() -> None:
    machine = MachineSection(depth_min_cm=15, depth_max_cm=45, depth_step_cm=2.5)
    assert [pin_hole(machine, cm) for cm in (15.0, 17.5, 20.0, 45.0)] == [1, 2, 3, 13]


def test_no_hole_is_not_rounded_to_the_nearest() -> None:
    machine = MachineSection(depth_min_cm=15, depth_max_cm=45, depth_step_cm=2.5)
    assert [pin_hole(machine, cm) for cm in (0.0, 12.5, 31.0, 47.5)] == [None] * 4


def test_hydraulic_control_has_no_holes() -> None:
    assert pin_hole(MachineSection(depth_control="hydraulic"), 30.0) is None


@given(st.floats(5, 40), st.floats(0, 60), st.floats(0.5, 30))
def test_settings_stay_within_the_range(least: float, more: float, step: float) -> None:
    machine = MachineSection(depth_min_cm=least, depth_max_cm=least + more, depth_step_cm=step)
    settings = machine.settings_cm
    assert settings[0] == pytest.approx(least, abs=1e-6)
    slack = 1e-6 * (step + 1)  # of a step, and the sixth decimal
    assert settings[-1] <= least + more + slack
    assert least + more - settings[-1] < step + slack
    assert pin_hole(machine, settings[-1]) == len(settings)

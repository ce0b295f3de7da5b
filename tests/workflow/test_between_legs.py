"""What stays between the legs is told at each depth, with the pan that it leaves or passes."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from zoning.contracts import constant
from zoning.machine import Outfit
from zoning.model.settings import (
    CostsSection,
    MachineSection,
    SoilSection,
    TractorSection,
)
from zoning.workflow.between_legs import leg_notices


def outfit(*, measured_cm: float | None = None, **machine: object) -> Outfit:
    given = {"point": "winged", "leg_spacing_cm": 70.0, "wing_width_cm": 25.0} | machine
    made = MachineSection(**given)
    return Outfit(made, TractorSection(), SoilSection(), CostsSection(), measured_cm)


def told(depths: tuple[float, ...], base_cm: float, top_cm: float, legs: Outfit) -> str:
    zones = pd.DataFrame({"depth_cm": [*depths, 0.0], "area_ha": 1.0, "pan_base_cm": base_cm})
    stations = pd.DataFrame({"pan_top_cm": [top_cm, np.nan], "used": True})
    notes = leg_notices(zones, stations, np.array([depths[0], 0.0]), legs)
    assert len(notes) <= 1
    return notes[0].text if notes else ""


def test_the_loosened_depth_midway_is_set_against_the_pan_at_each_depth() -> None:
    # (70 - 25) / 2 x tan 45 = 22.5 cm stay: 35 leaves 12.5 loosened, 50 leaves 27.5.
    text = told((35.0, 50.0), 40.0, 19.0, outfit())
    assert text.startswith(
        "Midway between legs soil is loosened only to 12.5 cm at 35 cm (pan 19 to 40): expect it "
        "to stay between legs; to 27.5 cm at 50 cm (pan 19 to 40): expect its lower part to stay "
        "between legs. That is a ridge of 22.5 cm by 45-degree geometry."
    )
    assert "to 27.5 cm at 50 cm (pan 19 to 25): that passes it" in told(
        (50.0,), 25.0, 19.0, outfit()
    )


def test_legs_that_shallow_work_needs_are_left_and_never_too_wide_and_too_close_at_once() -> None:
    text = told((35.0, 50.0), 40.0, 19.0, outfit())
    assert text.endswith(
        "Leave the legs at 70 cm: wider they leave more of the pan. At 50 cm they cost more draft "
        "than they need."
    )
    assert "Closer legs" not in text
    alone = told((50.0,), 40.0, 19.0, outfit())
    assert "Leave the legs at 70 cm: wider they leave more of the pan." in alone
    assert "Leave the legs" not in told((35.0,), 40.0, 19.0, outfit())


def test_a_measured_ridge_is_told_as_such_and_a_low_one_not_at_all() -> None:
    text = told((35.0,), 40.0, 19.0, outfit(measured_cm=12.0))
    assert "to 23 cm at 35 cm" in text
    assert "a ridge of 12 cm as measured behind this machine" in text
    assert told((35.0,), 40.0, 19.0, outfit(measured_cm=4.0)) == ""
    text = told((35.0,), 28.0, 19.0, outfit(measured_cm=5.0))
    assert text.endswith("(pan 19 to 28): that passes it. That is a ridge of 5 cm as measured "
                         "behind this machine.")  # fmt: skip


def test_pan_that_stays_is_told_below_an_uneven_ridge_too() -> None:
    """A check calls a ridge of 4 cm even as read, and at 10 cm work is uneven already."""
    even = constant("check_rules", "ridge_even_cm") + constant("check_rules", "ridge_read_cm")
    assert constant("machine_rules", "ridge_note_cm") == even
    text = told((32.0,), 28.0, 22.0, outfit(measured_cm=10.0))
    assert "to 22 cm at 32 cm (pan 22 to 28): expect it to stay between legs" in text


@pytest.mark.parametrize("depth_cm", [20.0, 22.0])
def test_a_pan_without_a_known_top_and_work_less_deep_than_the_ridge(depth_cm: float) -> None:
    text = told((depth_cm,), 30.0, np.nan, outfit())
    assert f"to 0 cm at {depth_cm:g} cm (pan to 30): expect" in text

"""What is said where passes and wheelings do not run the same way."""

from __future__ import annotations

from dataclasses import replace

import pytest

from zoning.model import FieldInputs
from zoning.model.settings import WheelingsSection
from zoning.workflow.division import divide


def told(inputs: FieldInputs, wheelings: WheelingsSection, travel_deg: float | None) -> list[str]:
    settings = replace(
        inputs.settings,
        machine=replace(inputs.settings.machine, travel_heading_deg=travel_deg),
        areas=replace(inputs.settings.areas, wheelings=wheelings),
    )
    lines = inputs.wheeling_lines if wheelings.lines else inputs.wheeling_lines.iloc[:0]
    found = divide(replace(inputs, settings=settings, wheeling_lines=lines)).notices
    return [notice.text for notice in found if notice.code == "passes-cross-wheelings"]


@pytest.mark.parametrize("turned_deg", [90.0, 40.0, -40.0, 220.0])
def test_passes_by_the_longest_side_that_cross_wheelings_are_told_of(
    sample_inputs: FieldInputs, turned_deg: float
) -> None:
    longest = divide(
        replace(
            sample_inputs,
            settings=replace(
                sample_inputs.settings,
                machine=replace(sample_inputs.settings.machine, travel_heading_deg=None),
            ),
        )
    ).heading_deg
    heading = (longest + turned_deg) % 360.0
    crossing = WheelingsSection(heading_deg=heading, spacing_m=24.0)
    (text,) = told(sample_inputs, crossing, None)
    assert f"travel_heading_deg = {heading:g}" in text
    along = replace(crossing, heading_deg=(longest + 183.0) % 360.0)
    assert told(sample_inputs, along, None) == []


def test_a_heading_of_the_users_own_is_left_alone(sample_inputs: FieldInputs) -> None:
    crossing = WheelingsSection(heading_deg=113.0, spacing_m=24.0)
    assert told(sample_inputs, crossing, 23.0) == []


def test_drawn_lines_and_wheelings_by_the_travel_heading_are_not_told_of(
    sample_inputs: FieldInputs,
) -> None:
    assert told(sample_inputs, WheelingsSection(lines="lines.geojson"), None) == []
    assert told(sample_inputs, WheelingsSection(spacing_m=24.0), None) == []

"""What is said where passes and wheelings do not run the same way."""

from __future__ import annotations

import math
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pyproj
import pytest
from shapely import LineString

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
    longest = longest_side_deg(sample_inputs)
    heading = (longest + turned_deg) % 360.0
    crossing = WheelingsSection(heading_deg=heading, spacing_m=24.0)
    (text,) = told(sample_inputs, crossing, None)
    assert f"travel_heading_deg = {heading:g}" in text
    # Over some 400 m 0.1 degrees are 0.7 m, 0.5 degrees 3.5 m; the machine is 3 m wide.
    along = replace(crossing, heading_deg=(longest + 180.1) % 360.0)
    assert told(sample_inputs, along, None) == []
    assert len(told(sample_inputs, replace(crossing, heading_deg=longest + 0.5), None)) == 1


def test_a_heading_of_the_users_own_that_crosses_the_wheelings_is_told_of_too(
    sample_inputs: FieldInputs,
) -> None:
    # It may stand in settings that were copied from another field.
    crossing = WheelingsSection(heading_deg=113.0, spacing_m=24.0)
    (text,) = told(sample_inputs, crossing, 23.0)
    assert "at 113 degrees, the passes at 23.0: no pass runs along" in text
    assert told(sample_inputs, crossing, 113.0) == []
    assert told(sample_inputs, crossing, 293.0) == []


def test_a_heading_of_the_users_own_that_drifts_off_the_wheelings_is_told(
    sample_inputs: FieldInputs,
) -> None:
    (text,) = told(sample_inputs, WheelingsSection(heading_deg=113.4, spacing_m=24.0), 112.0)
    assert "at 113.4 degrees, the passes at 112.0: no pass runs along" in text
    assert "longest side" not in text


def drawn(inputs: FieldInputs, *headings_deg: float, sense: int = 1) -> FieldInputs:
    """Return a field with one wheeling 100 m long at each heading through its middle."""
    x, y = inputs.boundary.centroid.x, inputs.boundary.centroid.y
    steps = [(sense * 50 * math.sin(a), sense * 50 * math.cos(a)) for a in np.radians(headings_deg)]
    lines = [LineString([(x - e, y - n), (x, y), (x + e, y + n)]) for e, n in steps]
    return replace(inputs, wheeling_lines=gpd.GeoDataFrame(geometry=lines, crs=inputs.working_crs))


def longest_side_deg(inputs: FieldInputs) -> float:
    machine = replace(inputs.settings.machine, travel_heading_deg=None)
    return divide(replace(inputs, settings=replace(inputs.settings, machine=machine))).heading_deg


@pytest.mark.parametrize("sense", [1, -1])
def test_passes_that_cross_drawn_wheelings_are_told_of_with_the_heading_along_them(
    sample_inputs: FieldInputs, sense: int
) -> None:
    lines, longest = WheelingsSection(lines="lines.geojson"), longest_side_deg(sample_inputs)
    across = [longest + 68.0, longest + 72.0, longest + 250.0]
    (text,) = told(drawn(sample_inputs, *across, sense=sense), lines, None)
    heading = float(text.split("travel_heading_deg = ")[1].split(" ")[0])
    assert heading == pytest.approx((longest + 70.0) % 180.0, abs=0.06)
    assert len(told(drawn(sample_inputs, *across), lines, longest)) == 1
    assert told(drawn(sample_inputs, longest + 0.4, longest + 179.7), lines, None) == []
    # Two at right angles run no way of their own.
    assert told(drawn(sample_inputs, longest + 90.0, longest), lines, None) == []
    assert told(drawn(sample_inputs), lines, None) == []


def test_the_samples_lines_are_drawn_along_its_heading_and_not_quite_along_its_longest_side(
    sample_inputs: FieldInputs,
) -> None:
    lines, own = WheelingsSection(lines="lines.geojson"), sample_inputs.settings.machine
    assert told(sample_inputs, lines, own.travel_heading_deg) == []
    (text,) = told(sample_inputs, lines, None)
    assert f"write travel_heading_deg = {own.travel_heading_deg:g} under" in text


def test_wheelings_by_the_travel_heading_are_not_told_of(sample_inputs: FieldInputs) -> None:
    assert told(sample_inputs, WheelingsSection(spacing_m=24.0), None) == []


def from_grid_north(
    inputs: FieldInputs, wheelings: WheelingsSection | None, travel_deg: float | None
) -> list[tuple[str, str]]:
    settings = replace(
        inputs.settings,
        machine=replace(inputs.settings.machine, travel_heading_deg=travel_deg),
        areas=replace(inputs.settings.areas, wheelings=wheelings),
    )
    lines = inputs.wheeling_lines if wheelings and wheelings.lines else None
    rest = {"wheeling_lines": inputs.wheeling_lines.iloc[:0]} if lines is None else {}
    found = divide(replace(inputs, settings=settings, **rest)).notices
    return [(one.level, one.text) for one in found if one.code == "heading-from-grid-north"]


def test_headings_are_told_from_which_north_they_count(sample_inputs: FieldInputs) -> None:
    """The difference is the meridian convergence that PROJ gives for the place."""
    lonlat = gpd.GeoSeries([sample_inputs.boundary.centroid], crs=sample_inputs.working_crs)
    at = lonlat.to_crs(4326).iloc[0]
    factors = pyproj.Proj(sample_inputs.working_crs).get_factors(at.x, at.y)
    grid_deg = 23.0 - factors.meridian_convergence
    ((level, text),) = from_grid_north(sample_inputs, None, 23.0)
    assert level == "note"
    assert text.startswith("travel_heading_deg = 23 counts from the north of the grid (EPSG:32631)")
    assert f"write {grid_deg:.2f} instead" in text
    ruled = WheelingsSection(heading_deg=23.0, spacing_m=24.0, offset_m=12.0)
    ((level, text),) = from_grid_north(sample_inputs, ruled, 23.0)
    assert level == "caution"
    assert text.startswith("heading_deg = 23 and travel_heading_deg = 23 count from the north")
    assert text.endswith(f"write {grid_deg:.2f} instead, unless that was done already.")


def test_nothing_is_told_of_north_where_no_heading_is_given_or_none_is_felt(
    sample_inputs: FieldInputs,
) -> None:
    assert from_grid_north(sample_inputs, None, None) == []
    wide = replace(sample_inputs.settings.machine, legs=99)
    far = replace(sample_inputs, settings=replace(sample_inputs.settings, machine=wide))
    assert from_grid_north(far, None, 23.0) == []

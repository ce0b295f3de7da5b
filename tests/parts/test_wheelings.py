from __future__ import annotations

import numpy as np
import pytest
from parts.part_fields import area_m2, codes, divided, field, layer
from shapely import LineString, Polygon, box

from zoning.model.settings import WheelingsSection


def middles(boundary: object, **rule: float) -> list[float]:
    """Return how far east of the field's origin the wheelings of a rule lie."""
    parts, _ = divided(boundary, wheelings=WheelingsSection(width_m=2.0, **rule))
    tracks = parts.geometry[parts["part"] == "wheeling"].iloc[0]
    return sorted(round(one.centroid.x - 500_000, 3) for one in getattr(tracks, "geoms", [tracks]))


def test_offset_counts_from_the_leftmost_point_of_the_field() -> None:
    leaning = field(Polygon([(40, 0), (100, 0), (100, 90), (0, 90)]))
    assert middles(leaning, spacing_m=24.0, offset_m=36.0, heading_deg=0.0)[-1] == 84.0
    square = field(box(0, 0, 100, 90))
    assert middles(square, spacing_m=24.0, offset_m=12.0, heading_deg=0.0) == [12, 36, 60, 84]
    assert middles(square, spacing_m=24.0, offset_m=36.0, heading_deg=0.0) == [12, 36, 60, 84]
    assert middles(square, spacing_m=24.0, offset_m=12.0, heading_deg=180.0) == [16, 40, 64, 88]


def test_the_travel_heading_stands_in_for_one_not_given() -> None:
    rule = WheelingsSection(width_m=2.0, spacing_m=50.0, offset_m=25.0)
    parts, _ = divided(wheelings=rule, heading_deg=90.0)
    tracks = parts.geometry[parts["part"] == "wheeling"].iloc[0]
    assert len(tracks.geoms) == 6  # 300 m across at 50 m
    assert area_m2(parts, "wheeling") == pytest.approx(6 * 2 * 200)


def test_wheelings_laid_from_the_edge_of_the_field_are_told() -> None:
    for offset_m, told in ((0.0, ["wheelings-from-edge"]), (12.0, [])):
        rule = WheelingsSection(width_m=2.0, spacing_m=24.0, offset_m=offset_m, heading_deg=0.0)
        assert codes(divided(wheelings=rule)[1]) == told


def test_width_is_that_of_the_track() -> None:
    line = layer(LineString([(50, -20), (50, 320)]))
    for width in (1.5, 3.0):
        parts, _ = divided(lines=line, wheelings=WheelingsSection(width_m=width))
        assert area_m2(parts, "wheeling") == pytest.approx(width * 300)


def test_lines_outrank_a_rule_and_strays_are_told() -> None:
    lines = layer(LineString([(50, -20), (50, 320)]), LineString([(900, 0), (900, 300)]))
    rule = WheelingsSection(width_m=3.0, spacing_m=24.0)
    parts, notices = divided(lines=lines, wheelings=rule)
    assert area_m2(parts, "wheeling") == pytest.approx(3 * 300)
    assert codes(notices) == ["wheeling-outside"]


def test_wheelings_without_a_gap_are_told() -> None:
    parts, notices = divided(wheelings=WheelingsSection(width_m=5.0, spacing_m=5.0, offset_m=2.5))
    assert codes(notices) == ["wheelings-everywhere"]
    assert parts["part"].tolist() == ["wheeling"]


def test_crossing_lines_count_once() -> None:
    lines = layer(LineString([(50, -20), (50, 320)]), LineString([(-20, 100), (220, 100)]))
    parts, _ = divided(lines=lines, wheelings=WheelingsSection(width_m=4.0))
    assert area_m2(parts, "wheeling") == pytest.approx(4 * 300 + 4 * 200 - 16)
    assert np.isclose(parts["area_ha"].sum(), 6.0)

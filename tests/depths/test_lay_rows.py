from __future__ import annotations

import numpy as np
import pytest
import shapely
from depths.lay_fields import ORIGIN, placed, rectangle
from shapely import Polygon

from zoning.depths.lay import lay_passes


def test_columns_of_pieces_and_lines() -> None:
    laid = lay_passes(rectangle(20, 60), width_m=5, headland_width_m=5, heading_deg=0, step_m=10)
    assert list(laid.lines.columns) == ["pass_id", "kind", "geometry"]
    assert list(laid.pieces.columns) == [
        "piece",
        "pass_id",
        "kind",
        "step",
        "from_m",
        "to_m",
        "geometry",
    ]


def test_body_pieces_are_measured_from_where_the_pass_begins() -> None:
    laid = lay_passes(
        rectangle(20, 56), width_m=20, headland_width_m=0, heading_deg=0, step_m=10, offset_m=10
    )
    # The steps count from the centroid at 28 m: cuts at 8, 18, 28, 38 and 48 m; both ends are 8 m.
    assert laid.pieces["from_m"].tolist() == pytest.approx([0, 8, 18, 28, 38, 48])
    assert laid.pieces["to_m"].tolist() == pytest.approx([8, 18, 28, 38, 48, 56])


def test_the_line_of_a_strip_cut_by_the_outline_stays_in_the_field() -> None:
    laid = lay_passes(rectangle(22, 50), width_m=5, headland_width_m=0, heading_deg=0, step_m=10)
    middle = np.array([line.centroid.x for line in laid.lines.geometry]) - ORIGIN[0]
    # Strips count from the centroid: edges at 1, 6, 11, 16, 21 m; the outer metre goes next door.
    assert middle.tolist() == pytest.approx([3.5, 8.5, 13.5, 18.5])


def test_lines_of_headland_passes_run_through_their_pieces() -> None:
    field = placed(Polygon([(0, 0), (150, 10), (170, 120), (60, 150), (80, 70), (10, 90)]))
    laid = lay_passes(field, width_m=5, headland_width_m=15, heading_deg=0, step_m=5)
    line = laid.lines.geometry.to_numpy()[laid.pieces["pass_id"] - 1]
    half = (laid.pieces["from_m"] + laid.pieces["to_m"]).to_numpy() / 2
    middle = shapely.line_interpolate_point(line, half)
    inside = shapely.dwithin(laid.pieces.geometry.to_numpy(), middle, 0.3)
    assert inside.mean() > 0.98

from __future__ import annotations

import numpy as np
import pytest
from field_shapes import direction
from shapely import LineString, Point
from simulate import Simulated, simulate


def test_heading_is_clockwise_from_north() -> None:
    assert direction(0) == pytest.approx((0, 1))
    assert direction(90) == pytest.approx((1, 0))


def test_headland_is_the_ground_near_the_edge(fields: list[Simulated]) -> None:
    for sim in fields:
        xy = sim.grid_m(6.0)
        width = sim.scenario.headland_width_m
        edge = sim.boundary.boundary
        away = np.array([edge.distance(Point(*p)) for p in xy])
        part = sim.part(xy)
        assert (away[part == "headland"] <= width + 1e-6).all()
        assert (away[part == "body"] >= width * (1 - 1e-2) - 1e-6).all()  # buffers are many-sided


def test_wheelings_run_at_the_heading_and_the_spacing(fields: list[Simulated]) -> None:
    for sim in fields:
        along = np.array(direction(sim.scenario.heading_deg))
        across = np.array(direction(sim.scenario.heading_deg + 90))
        offsets = []
        for line in sim.shapes.wheeling_lines:
            start, end = np.asarray(line.coords)[[0, -1]]
            assert abs((end - start) @ across) < 1e-3
            assert abs((end - start) @ along) > 5
            offsets.append(start @ across)
        gaps = np.diff(np.unique(np.round(offsets, 3)))
        turns = gaps / sim.scenario.wheeling_spacing_m
        np.testing.assert_allclose(turns, np.round(turns), atol=1e-3)


def test_gateways_lie_on_the_outline(fields: list[Simulated]) -> None:
    for sim in fields:
        ring = LineString(sim.boundary.exterior.coords)
        assert len(sim.shapes.gateways) == sim.scenario.gateways
        assert all(ring.distance(g) < 1e-6 for g in sim.shapes.gateways)


def test_a_named_area_is_only_there_when_asked(fields: list[Simulated]) -> None:
    named = simulate(0, named=True)
    assert "old clamp pad" in named.part(named.grid_m(3.0))
    assert "old clamp pad" not in fields[0].part(fields[0].grid_m(3.0))

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree
from shapely import MultiPolygon, box

from zoning.survey.ground import random_points
from zoning.survey.spread import spacing_m, spread_out

AREAS = {
    "square": box(0, 0, 200, 200),
    "strip": box(0, 0, 500, 24),
    "ring": box(0, 0, 200, 200) - box(40, 40, 160, 160),
    "wheelings": MultiPolygon([box(0, y, 300, y + 0.8) for y in (0, 36, 72)]),
}


@pytest.mark.parametrize("name", AREAS)
@pytest.mark.parametrize("count", [10, 25])
def test_better_spaced_and_covering_better_than_the_best_of_a_thousand_random_designs(
    name: str, count: int
) -> None:
    rng = np.random.default_rng(2)
    points = random_points(AREAS[name], 60 * count + 300, rng)
    chosen = points[spread_out(points, count, 1)]
    randoms = [points[rng.choice(len(points), count, replace=False)] for _ in range(1000)]
    assert spacing_m(chosen) >= max(spacing_m(r) for r in randoms)
    assert _far_off_m(chosen, points) < min(_far_off_m(r, points) for r in randoms)


def _far_off_m(places: np.ndarray, points: np.ndarray) -> float:
    """Return the root mean square distance from the points to the nearest of the places [m]."""
    return float(np.sqrt(np.mean(cKDTree(places).query(points)[0] ** 2)))


def test_the_seed_settles_the_places_and_none_is_taken_twice() -> None:
    points = random_points(AREAS["ring"], 500, np.random.default_rng(0))
    one, two = spread_out(points, 12, 5), spread_out(points, 12, 5)
    assert one.tolist() == two.tolist()
    assert len(set(one.tolist())) == 12


def test_spacing_of_a_known_design() -> None:
    places = np.array([[0.0, 0.0], [3.0, 4.0], [30.0, 0.0]])
    assert spacing_m(places) == 5.0


def test_places_lie_on_the_ground_where_the_middle_does_not() -> None:
    points = random_points(AREAS["ring"], 300, np.random.default_rng(0))
    assert shapely.intersects_xy(AREAS["ring"], points[spread_out(points, 1, 0)]).all()

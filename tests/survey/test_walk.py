from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np
import pytest

from zoning.survey import walk_m, walking_order
from zoning.survey.walk import _improved, _legs, _nearest_first, _shortest, length


def walked(places: np.ndarray, order: list[int], start: np.ndarray | None) -> float:
    """Return the length of a walk, worked out leg by leg."""
    stops = [places[i] for i in order]
    if start is not None:
        stops = [start, *stops, start]
    return sum(float(np.hypot(*(b - a))) for a, b in pairwise(stops))


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("with_start", [True, False])
def test_shortest_of_all_orders_on_small_cases(seed: int, with_start: bool) -> None:
    rng = np.random.default_rng(seed)
    places = rng.uniform(0, 200, (7, 2))
    start = rng.uniform(0, 200, 2) if with_start else None
    order = walking_order(places, start)
    best = min(walked(places, list(p), start) for p in permutations(range(7)))
    assert sorted(order) == list(range(7))
    assert walked(places, order, start) == pytest.approx(best)


def plain_two_opt(legs: np.ndarray) -> float:
    """Return the length of a textbook 2-opt from the order of the rows, first improvement."""
    tour, better = list(range(len(legs))), True
    while better:
        better = False
        for i in range(len(tour) - 1):
            for j in range(i + 2, len(tour)):
                a, b, c, d = tour[i], tour[i + 1], tour[j], tour[(j + 1) % len(tour)]
                if legs[a, c] + legs[b, d] < legs[a, b] + legs[c, d] - 1e-9:
                    tour[i + 1 : j + 1] = tour[i + 1 : j + 1][::-1]
                    better = True
    return length(tour, legs)


def test_shorter_than_two_opt_on_average_and_never_much_longer() -> None:
    ours, theirs = [], []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        places, start = rng.uniform(0, 400, (40, 2)), np.array([0.0, 0.0])
        ours.append(walked(places, walking_order(places, start), start))
        theirs.append(plain_two_opt(_legs(places, start)))
    assert np.mean(ours) < np.mean(theirs)
    assert (np.array(ours) <= 1.03 * np.array(theirs)).all()


def test_close_to_the_shortest_where_that_can_be_found() -> None:
    ratios = []
    for seed in range(4):
        legs = _legs(np.random.default_rng(seed).uniform(0, 100, (10, 2)), None)
        ratios.append(length(_improved(_nearest_first(legs, 0), legs), legs))
        ratios[-1] /= length(_shortest(legs), legs)
    assert min(ratios) >= 1 - 1e-12
    assert max(ratios) < 1.1


def test_a_ring_is_walked_round() -> None:
    angle = np.random.default_rng(1).permutation(24) * 2 * np.pi / 24
    places = 100 * np.column_stack([np.cos(angle), np.sin(angle)])
    order = walking_order(places, None)
    assert walked(places, order, None) == pytest.approx(23 * 200 * np.sin(np.pi / 24))


def test_the_order_of_the_rows_does_not_change_the_walk() -> None:
    rng = np.random.default_rng(4)
    places, start = rng.uniform(0, 300, (25, 2)), np.array([0.0, 0.0])
    turned = rng.permutation(25)
    one = places[walking_order(places, start)]
    two = places[turned][walking_order(places[turned], start)]
    assert walked(one, list(range(25)), start) == pytest.approx(
        walked(two, list(range(25)), start), rel=0.05
    )


def test_walked_distance_grows_to_the_last_place() -> None:
    places = np.array([[10.0, 0.0], [10.0, 20.0]])
    assert walk_m(places, [0, 1], np.array([0.0, 0.0])).tolist() == [10.0, 30.0]
    assert walk_m(places, [0, 1], None).tolist() == [0.0, 20.0]


@pytest.mark.parametrize("count", [0, 1])
def test_hardly_any_place(count: int) -> None:
    assert walking_order(np.zeros((count, 2)), None) == list(range(count))

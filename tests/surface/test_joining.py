"""Stations close together are joined only when there are too many."""

from __future__ import annotations

import numpy as np

from zoning.surface.joining import neighbour_groups


def test_few_stay_alone():
    assert neighbour_groups(np.zeros((5, 2)), np.zeros(5, np.int64), 5).tolist() == [0, 1, 2, 3, 4]


def test_many_are_joined_with_near_ones_of_their_part():
    rng = np.random.default_rng(0)
    xy, part = rng.uniform(0, 1000, (3000, 2)), rng.integers(0, 2, 3000)
    group = neighbour_groups(xy, part, 200)
    assert 60 < group.max() + 1 <= 200
    for code in range(group.max() + 1):
        inside = group == code
        assert len(set(part[inside].tolist())) == 1
        assert np.ptp(xy[inside], axis=0).max() < 250


def test_all_at_one_place_end():
    assert neighbour_groups(np.zeros((50, 2)), np.zeros(50, np.int64), 10).max() == 0

"""Readings given a few neighbours, against one dense system."""

from __future__ import annotations

import numpy as np

from zoning.surface.conditionals import (
    conditionals,
    earlier_neighbours,
    nearest_others,
    shuffled,
)
from zoning.surface.covariance import Covariance
from zoning.surface.system import latent_covariance

MODEL = Covariance("matern32", 1.0, 9.0, 30.0)


def test_weights_and_variance_are_simple_kriging(drawn, no_effects):
    readings = drawn(MODEL, 30, 100, 1, noise=0.7)
    rows, near = np.array([3, 11]), np.array([[0, 4, 9, 17], [1, 2, 3, 29]])
    weights, var = conditionals(readings, rows, near, MODEL)
    total = latent_covariance(readings, no_effects, MODEL) + 0.7 * np.eye(30)
    for k in range(2):
        among, across = total[np.ix_(near[k], near[k])], total[near[k], rows[k]]
        np.testing.assert_allclose(weights[k], np.linalg.solve(among, across), rtol=1e-7)
        expected = total[rows[k], rows[k]] - across @ np.linalg.solve(among, across)
        np.testing.assert_allclose(var[k], expected, rtol=1e-7)


def test_shuffle_is_fixed_and_complete():
    assert np.array_equal(shuffled(100), shuffled(100))
    assert sorted(shuffled(100).tolist()) == list(range(100))


def test_nearest_others_are_those_of_a_full_search():
    xy = np.random.default_rng(2).uniform(0, 1, (50, 2))
    xy[7] = xy[8]  # two readings at one place
    near = nearest_others(xy, 5)
    apart = np.linalg.norm(xy[:, None] - xy[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    np.testing.assert_allclose(
        np.sort(np.take_along_axis(apart, near, axis=1)), np.sort(apart)[:, :5]
    )
    assert not np.any(near == np.arange(50)[:, None])


def test_earlier_neighbours_come_earlier():
    xy = np.random.default_rng(3).uniform(0, 1, (500, 2))
    order = shuffled(500)
    rank = np.argsort(order)
    ranks = np.arange(32, 500, 7)
    near = earlier_neighbours(xy, order, ranks, 12)
    assert np.all(rank[near] < ranks[:, None])
    assert all(len(set(row)) == 12 for row in near.tolist())

"""Scores against properscoring."""

from __future__ import annotations

import numpy as np
import pytest

from zoning.surface.scores import crps, interval_hits

RNG = np.random.default_rng(0)
OBSERVED, MEAN, SD = RNG.normal(30, 4, 200), RNG.normal(30, 3, 200), RNG.uniform(0.1, 5, 200)


def test_crps_equals_that_of_another_library():
    other = pytest.importorskip("properscoring")
    expected = other.crps_gaussian(OBSERVED, MEAN, SD)
    np.testing.assert_allclose(crps(OBSERVED, MEAN, SD), expected, atol=1e-10)


def test_crps_without_spread_is_the_absolute_error():
    assert crps(np.array([3.0]), np.array([5.5]), np.array([0.0]))[0] == 2.5


def test_crps_is_that_of_many_draws():
    # CRPS = E|X - y| - E|X - X'| / 2
    draws = np.random.default_rng(1).normal(30, 2, (2, 400_000))
    expected = np.abs(draws[0] - 33).mean() - np.abs(draws[0] - draws[1]).mean() / 2
    got = crps(np.array([33.0]), np.array([30.0]), np.array([2.0]))[0]
    assert got == pytest.approx(expected, abs=0.01)


def test_interval_hits_count_the_central_interval():
    # 1.644854 is the 95 % point of the standard normal.
    observed = np.array([1.6448, -1.6448, 1.6449, -1.6449, 0.0])
    assert interval_hits(observed, np.zeros(5), np.ones(5), 0.9) == 3

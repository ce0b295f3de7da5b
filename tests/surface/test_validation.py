"""Blocks left out in closed form against a loop."""

from __future__ import annotations

import numpy as np
import pytest

from zoning.surface.covariance import Covariance
from zoning.surface.system import System
from zoning.surface.validation import leave_blocks_out, score, spatial_blocks

MODEL = Covariance("exponential", 1.0, 9.0, 30.0)


def test_blocks_left_out_equal_a_loop(drawn, no_effects):
    readings = drawn(MODEL, 40, 100, 1, noise=0.5)
    block = spatial_blocks(readings.xy_m, 8)
    mean, var = leave_blocks_out(System(readings, no_effects, MODEL), block)
    for code in range(8):
        inside = np.flatnonzero(block == code)
        rest = System(readings.take(np.flatnonzero(block != code)), no_effects, MODEL)
        expected = rest.predict(readings.xy_m[inside], readings.part[inside])
        np.testing.assert_allclose(mean[inside], expected[0], rtol=1e-9)
        np.testing.assert_allclose(var[inside], expected[1] + 0.5, rtol=1e-9)


def test_blocks_of_one_equal_leave_one_out(drawn, no_effects):
    system = System(drawn(MODEL, 15, 100, 2), no_effects, MODEL)
    got = leave_blocks_out(system, np.arange(15))
    np.testing.assert_allclose(got, system.leave_one_out(), rtol=1e-9)


def test_blocks_are_even_and_contiguous():
    xy = np.random.default_rng(3).uniform(0, 1, (64, 2)) * [200, 50]
    block = spatial_blocks(xy, 4)
    assert np.bincount(block).tolist() == [16] * 4
    west_to_east = [np.sort(xy[block == code, 0]) for code in range(4)]
    for left, right in zip(west_to_east[:2], west_to_east[2:], strict=True):
        assert left[-1] < right[0]


@pytest.mark.parametrize("count", [0, 1, 2, 5])
def test_few_places_get_a_block_each(count):
    block = spatial_blocks(np.zeros((count, 2)), 8)
    assert len(np.unique(block)) == count


def test_score_of_a_hand_made_case():
    found = score(np.array([1.0, 2.0, 30.0]), np.array([1.0, 3.0, 3.0]), np.ones(3), 0.9)
    assert (found.count, found.inside) == (3, 2)
    assert found.bias == pytest.approx((0 + 1 - 27) / 3)
    assert found.rmse == pytest.approx(np.sqrt((1 + 27**2) / 3))


def test_score_of_nothing_is_nothing():
    empty = np.empty(0)
    assert score(empty, empty, empty, 0.9).count == 0

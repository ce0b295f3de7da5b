"""Stones within a profile and at its foot."""

from __future__ import annotations

import numpy as np
import pytest

from zoning.profiles.clean import Readings
from zoning.profiles.rules import rule
from zoning.profiles.stones import begins_on_stone, ends_on_stone, height_needed_mpa, without_stones

LIMIT = 2.0


def readings(index, step=2.5):
    q = np.asarray(index, dtype=float)
    return Readings(np.zeros(len(q), np.int64), step * np.arange(1, len(q) + 1), q)


def test_a_lone_reading_far_above_its_neighbours_becomes_the_straight_line_between_them() -> None:
    clean, at = without_stones(readings([1.0, 1.2, 6.0, 1.4, 1.3]), LIMIT)
    np.testing.assert_allclose(clean.cone_index_mpa, [1.0, 1.2, 1.3, 1.4, 1.3])
    assert at.tolist() == [2]


def test_a_stone_of_two_readings_goes_with_its_flank() -> None:
    for stone, hardest in ([6.0, 4.0], 2), ([4.0, 6.0], 3):
        clean, at = without_stones(readings([1.0, 1.2, *stone, 1.2, 1.0]), LIMIT)
        assert clean.cone_index_mpa.max() == pytest.approx(1.2)
        assert at.tolist() == [hardest]


def test_a_pan_of_three_readings_stays() -> None:
    pan = [1.0, 1.2, 3.4, 3.6, 3.3, 1.2, 1.0]
    clean, at = without_stones(readings(pan), LIMIT)
    assert clean.cone_index_mpa.tolist() == pan
    assert len(at) == 0


def test_a_modest_bump_is_noise_and_stays() -> None:
    bump = [1.0, 1.2, 1.2 + 0.9 * rule("spike_thin_excess") * LIMIT, 1.2, 1.0]
    clean, at = without_stones(readings(bump), LIMIT)
    assert clean.cone_index_mpa.tolist() == bump
    assert len(at) == 0


def test_the_same_stone_goes_at_every_depth_step() -> None:
    for step in (0.5, 1.0, 2.0):
        depth = step * np.arange(1, int(40 / step))
        index = np.where(np.abs(depth - 20) < 1.3, 5.0, 1.2)
        clean, at = without_stones(readings(index, step), LIMIT)
        assert clean.cone_index_mpa.max() == pytest.approx(1.2)
        assert len(at) == 1


def test_a_stone_within_the_pan_leaves_the_pan() -> None:
    clean, at = without_stones(readings([1.0, 2.6, 2.8, 7.0, 2.8, 2.6, 1.0]), LIMIT)
    np.testing.assert_allclose(clean.cone_index_mpa, [1.0, 2.6, 2.8, 2.8, 2.8, 2.6, 1.0])
    assert len(at) == 1


def test_the_height_needed_rises_with_the_thickness() -> None:
    thin, thick = rule("spike_thin_cm"), rule("spike_thick_cm")
    needed = height_needed_mpa(np.array([0.5, thin, (thin + thick) / 2, thick, thick + 0.1]), LIMIT)
    shares = rule("spike_thin_excess"), rule("spike_thick_excess")
    want = LIMIT * np.array([shares[0], shares[0], sum(shares) / 2, shares[1], np.inf])
    np.testing.assert_allclose(needed, want)


def test_neighbours_of_another_insertion_do_not_make_a_stone() -> None:
    q = np.array([1.0, 1.1, 6.0, 1.0, 1.1, 1.2])
    two = Readings(np.array([0, 0, 0, 1, 1, 1]), np.array([5.0, 10, 15, 5, 10, 15]), q)
    assert without_stones(two, LIMIT)[0].cone_index_mpa.tolist() == q.tolist()


def test_a_push_that_ends_in_a_leap_out_of_soft_soil_met_a_stone() -> None:
    assert ends_on_stone(readings([1.0, 1.1, 1.2, 6.0]), LIMIT).tolist() == [False] * 3 + [True]
    fine = ends_on_stone(readings([1.0, 1.1, 1.2, 4.0, 6.0], step=1.0), LIMIT)
    assert fine.tolist() == [False] * 3 + [True] * 2


def test_a_push_that_ends_in_a_gradual_rise_did_not() -> None:
    assert not ends_on_stone(readings([1.0, 1.4, 2.2, 3.0, 3.8]), LIMIT).any()


def test_a_single_reading_is_no_leap() -> None:
    assert not ends_on_stone(readings([6.0]), LIMIT).any()
    assert without_stones(readings([6.0]), LIMIT)[0].cone_index_mpa.tolist() == [6.0]


def test_a_leap_at_the_surface_is_the_same_seen_from_below() -> None:
    index = [6.0, 1.2, 1.1, 1.0]
    assert begins_on_stone(readings(index), LIMIT).tolist() == [True] + [False] * 3
    assert ends_on_stone(readings(index[::-1]), LIMIT).tolist() == [False] * 3 + [True]
    assert not begins_on_stone(readings([2.6, 2.2, 1.6, 1.0]), LIMIT).any()


def test_a_thick_stone_is_known_by_its_sharp_edges() -> None:
    sharp = [1.0, 1.2, 4.6, 4.4, 4.5, 1.3, 1.0]
    clean, at = without_stones(readings(sharp), LIMIT)
    assert clean.cone_index_mpa.max() == pytest.approx(1.3)
    assert len(at) == 1
    for kept in ([1.0, 2.4, 4.6, 4.4, 4.5, 2.4, 1.0], [1.0, 1.2, 4.6, 4.4, 4.5, 4.5, 1.0]):
        assert without_stones(readings(kept), LIMIT)[0].cone_index_mpa.tolist() == kept
    coarse = without_stones(readings([1.0, 4.6, 4.5, 1.3], step=5.0), LIMIT)[0]
    assert coarse.cone_index_mpa.max() == 4.6

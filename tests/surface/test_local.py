"""Shared neighbourhoods against one exact system and PyKrige's moving window."""

from __future__ import annotations

import numpy as np
import pytest
from pykrige.ok import OrdinaryKriging

from zoning.surface.covariance import Covariance
from zoning.surface.local import (
    LocalSystem,
    Sharing,
    SharingRule,
    blocks_of,
    tune_sharing,
    typical_spacing,
)
from zoning.surface.system import Effects, System
from zoning.surface.vecchia import effects_of_many

MODEL = Covariance("exponential", 2.0, 9.0, 25.0)


def local(readings, effects, neighbours, side_m):
    linear = effects_of_many(readings, effects, MODEL)
    return LocalSystem(readings, effects, MODEL, linear, Sharing(neighbours, side_m))


def test_all_readings_as_neighbours_equal_the_exact_system(drawn, no_effects):
    readings = drawn(MODEL, 120, 200, 1, noise=0.4)
    places = np.random.default_rng(1).uniform(0, 200, (300, 2))
    part = np.zeros(300, np.int64)
    got = local(readings, no_effects, 120, 60.0).predict(places, part)
    expected = System(readings, no_effects, MODEL).predict(places, part)
    np.testing.assert_allclose(got[0], expected[0], rtol=1e-9)
    np.testing.assert_allclose(got[1], expected[1], rtol=1e-8)


def test_own_neighbourhoods_agree_with_pykrige(drawn, no_effects):
    readings = drawn(MODEL, 400, 300, 2)
    places = np.random.default_rng(22).uniform(0, 300, (50, 2))
    other = OrdinaryKriging(
        readings.xy_m[:, 0],
        readings.xy_m[:, 1],
        readings.value,
        variogram_model="exponential",
        variogram_parameters={"psill": 9.0, "range": 75.0, "nugget": 2.0},
    )
    mean, var = other.execute(
        "points", places[:, 0], places[:, 1], backend="loop", n_closest_points=24
    )
    got = local(readings, no_effects, 24, 0.0).predict(places, np.zeros(50, np.int64))
    np.testing.assert_allclose(got[0], np.asarray(mean), rtol=1e-9)
    np.testing.assert_allclose(got[1], np.asarray(var), rtol=1e-9)


def test_a_block_equals_the_system_of_its_readings(drawn, no_effects):
    readings = drawn(MODEL, 400, 300, 3)
    places = np.random.default_rng(3).uniform(0, 1, (40, 2)) * 20 + 120  # one block of 20 m
    got = local(readings, no_effects, 48, 20.0).predict(places, np.zeros(40, np.int64))
    near = np.sort(np.argsort(np.linalg.norm(readings.xy_m - [130.0, 130.0], axis=1))[:48])
    expected = System(readings.take(near), no_effects, MODEL).predict(
        places, np.zeros(40, np.int64)
    )
    np.testing.assert_allclose(got[0], expected[0], rtol=1e-12)
    np.testing.assert_allclose(got[1], expected[1], rtol=1e-11)


def test_a_reading_without_error_returns_itself(drawn, no_effects):
    readings = drawn(MODEL, 200, 200, 4)
    mean, var = local(readings, no_effects, 40, 15.0).predict(readings.xy_m[:5], readings.part[:5])
    np.testing.assert_allclose(mean, readings.value[:5], rtol=1e-8)
    np.testing.assert_allclose(var, 0.0, atol=1e-7)


def test_tuning_brings_the_error_under_the_tolerance(drawn, no_effects):
    readings = drawn(MODEL, 900, 400, 5)
    coarse = local(readings, no_effects, 16, 6 * typical_spacing(readings.xy_m))
    rule = SharingRule(0.05, 6, 60, 1.3)
    tuned = tune_sharing(coarse, rule)
    assert tuned.sharing.error_share <= 0.05
    assert tuned.sharing.side_m < coarse.sharing.side_m
    kept = tune_sharing(coarse, SharingRule(0.05, 2, 60, 1.0))
    assert kept.sharing.neighbours == 16


def test_leave_one_out_is_near_the_exact_one(drawn, no_effects):
    readings = drawn(MODEL, 300, 250, 6)
    mean, var = local(readings, no_effects, 64, 20.0).leave_one_out()
    exact_mean, exact_var = System(readings, no_effects, MODEL).leave_one_out()
    assert np.sqrt(np.mean((mean - exact_mean) ** 2)) < 0.05 * np.sqrt(exact_var.mean())
    np.testing.assert_allclose(var, exact_var, rtol=0.03)


def test_part_effects_are_added_back(drawn):
    readings = drawn(MODEL, 300, 250, 7)
    part = (readings.xy_m[:, 1] > 180).astype(np.int64)
    readings = type(readings)(
        readings.xy_m,
        readings.value + 8.0 * part,
        readings.noise_var,
        part,
        readings.day,
        readings.place,
    )
    effects = Effects(np.zeros(2), np.array([0.0, 25.0]))
    system, exact = local(readings, effects, 80, 10.0), System(readings, effects, MODEL)
    assert system.part_effect(1)[0] == pytest.approx(exact.part_effect(1)[0], rel=1e-3)
    places = np.random.default_rng(7).uniform(0, 250, (200, 2))
    there = (places[:, 1] > 180).astype(np.int64)
    got, expected = system.predict(places, there), exact.predict(places, there)
    assert np.sqrt(np.mean((got[0] - expected[0]) ** 2)) < 0.25


def test_posterior_covariance_falls_back_on_the_near_ones(drawn, no_effects):
    readings = drawn(MODEL, 100, 100, 8)
    a, b = np.array([[20.0, 20.0], [70.0, 40.0]]), np.array([[50.0, 50.0]])
    zeros = np.zeros(2, np.int64)
    got = local(readings, no_effects, 30, 10.0).posterior_covariance(a, zeros, b, zeros[:1])
    expected = System(readings, no_effects, MODEL).posterior_covariance(a, zeros, b, zeros[:1])
    np.testing.assert_allclose(got, expected, atol=1e-9)


def test_blocks_hold_every_place_once():
    places = np.random.default_rng(9).uniform(-50, 50, (500, 2))
    groups, middles = blocks_of(places, 10.0)
    assert sorted(np.concatenate(groups).tolist()) == list(range(500))
    for group, middle in zip(groups, middles, strict=True):
        assert np.all(np.abs(places[group] - middle) <= 5.0 + 1e-9)
    assert len(blocks_of(places, 0.0)[0]) == 500


def test_spacing_of_a_grid_and_of_one_place():
    grid = np.stack(np.meshgrid(np.arange(11.0), np.arange(11.0)), axis=-1).reshape(-1, 2)
    assert typical_spacing(grid) == pytest.approx(10 / 11)
    assert typical_spacing(np.zeros((4, 2))) > 0

"""Vecchia's likelihood against the exact one, and on truth that was made."""

from __future__ import annotations

import numpy as np
import pytest

from zoning.surface.covariance import Covariance
from zoning.surface.likelihood import CovariancePrior, Posterior, start_values
from zoning.surface.system import Effects, System
from zoning.surface.vecchia import Vecchia, design, effects_of_many, fit_many

TRUTH = Covariance("exponential", 2.0, 10.0, 25.0)
PRIOR = CovariancePrior(12.0, 1.5, 0.2, 1.5, 100.0, 1.0)


def test_differences_follow_the_exact_likelihood(drawn, no_effects):
    # Each reading is given 14 earlier ones; the exact likelihood of the same readings must rank
    # covariances alike and differ by little.

    readings = drawn(TRUTH, 400, 300, 1)
    vecchia = Vecchia(readings, no_effects, 2000)
    exact = Posterior(readings, no_effects, TRUTH, None)
    others = [TRUTH.with_values(2.0, 10.0, reach) for reach in (12.0, 25.0, 50.0)]
    ours = np.array([vecchia.log_likelihood(c) for c in others])
    theirs = np.array([exact.likelihood(exact.theta(c))[0] for c in others])
    np.testing.assert_allclose(ours - ours[1], theirs - theirs[1], atol=1.5)
    assert np.argmax(ours) == np.argmax(theirs)


def test_truth_is_found_from_thousands(make_readings, no_effects):
    rng = np.random.default_rng(2)
    # Patches of readings that do not know of each other: 40 exact draws far apart.
    xy, value = [], []
    for k in range(40):
        here = rng.uniform(0, 120, (100, 2))
        total = TRUTH.partial_sill * TRUTH.correlation(here, here) + TRUTH.nugget * np.eye(100)
        xy.append(here + np.array([1000.0 * k, 0.0]))
        value.append(30 + np.linalg.cholesky(total) @ rng.standard_normal(100))
    readings = make_readings(np.vstack(xy), np.concatenate(value))
    found = fit_many(
        readings, no_effects, start_values(TRUTH, PRIOR), PRIOR, (True, True, True)
    ).covariance
    assert found.sill == pytest.approx(12.0, rel=0.15)
    assert found.nugget == pytest.approx(2.0, rel=0.35)
    assert found.range_m == pytest.approx(25.0, rel=0.35)


def test_given_parameters_stay(drawn, no_effects):
    readings = drawn(TRUTH, 300, 300, 3)
    found = fit_many(readings, no_effects, (TRUTH,), PRIOR, (False, False, False))
    assert found.covariance == TRUTH


def test_exact_effects_equal_those_of_the_system(drawn):
    readings = drawn(TRUTH, 60, 200, 4, noise=0.5)
    part = (readings.xy_m[:, 0] > 100).astype(np.int64)
    readings = type(readings)(
        readings.xy_m,
        readings.value + 5.0 * part,
        readings.noise_var,
        part,
        readings.day,
        readings.place,
    )
    effects = Effects(
        np.array([0.0, 2.0]), np.array([0.0, 16.0]), level=30.0, level_precision=1 / 64
    )
    linear = effects_of_many(readings, effects, TRUTH)
    system = System(readings, effects, TRUTH)
    mean, sd = system.part_effect(1)
    assert linear.part(1)[0] + 2.0 == pytest.approx(mean, rel=1e-6)
    assert linear.part(1)[1] == pytest.approx(sd, rel=1e-6)
    assert linear.level + 30.0 == pytest.approx(system.level, rel=1e-6)


def test_design_has_a_column_an_effect(make_readings):
    readings = make_readings(np.zeros((3, 2)), np.zeros(3), part=[0, 1, 1], day=[0, -1, 1])
    columns, precision = design(readings, Effects(np.zeros(2), np.array([4.0, 9.0]), 2.0))
    assert columns.tolist() == [[1, 1, 0, 1, 0], [1, 0, 1, 0, 0], [1, 0, 1, 0, 1]]
    np.testing.assert_allclose(precision[1:], [0.25, 1 / 9, 0.5, 0.5])

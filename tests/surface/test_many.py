"""Very many readings: outliers, limits and prediction on truth that was made."""

from __future__ import annotations

import numpy as np
import pytest

from zoning.surface.covariance import Covariance
from zoning.surface.inference import Recipe
from zoning.surface.likelihood import CovariancePrior
from zoning.surface.many import infer_many, share
from zoning.surface.screening import Screening
from zoning.surface.system import System

TRUTH = Covariance("exponential", 2.0, 10.0, 25.0)
PRIOR = CovariancePrior(12.0, 1.5, 0.2, 1.5, 100.0, 1.0)
NONE = np.empty(0, np.int64)


@pytest.fixture(scope="module")
def field():
    """A field of 1200 places drawn exactly."""
    rng = np.random.default_rng(1)
    xy = rng.uniform(0, 350, (1200, 2))
    total = TRUTH.partial_sill * TRUTH.correlation(xy, xy) + TRUTH.nugget * np.eye(1200)
    return xy, 30 + np.linalg.cholesky(total) @ rng.standard_normal(1200)


def test_prediction_is_near_the_exact_one(field, make_readings, no_effects):
    readings = make_readings(*field)
    found = infer_many(readings, NONE, Recipe(no_effects, TRUTH, PRIOR))
    places = np.random.default_rng(2).uniform(0, 350, (400, 2))
    mean, var = found.system.predict(places, np.zeros(400, np.int64))
    exact = System(readings, no_effects, found.fit.covariance)
    expected, spread = exact.predict(places, np.zeros(400, np.int64))
    assert np.sqrt(np.mean((mean - expected) ** 2)) < 0.05 * np.sqrt(spread.mean())
    np.testing.assert_allclose(var, spread, rtol=0.05)
    assert found.fit.covariance.sill == pytest.approx(12.0, rel=0.3)


def test_planted_stones_are_set_aside(field, make_readings, no_effects):
    xy, value = field
    wild = value.copy()
    wild[[3, 500, 901]] += 40.0
    recipe = Recipe(
        no_effects, TRUTH, PRIOR, (False, False, False), Screening(3.0, 0.1, 12, 0.033, 4.0)
    )
    found = infer_many(make_readings(xy, wild), NONE, recipe)
    assert {3, 500, 901} <= set(found.outliers.tolist())
    assert len(found.outliers) <= 6


def test_limits_inform(field, make_readings, no_effects):
    xy, value = field
    limit = np.quantile(value, 0.85)
    censored = np.flatnonzero(value > limit)
    cut = make_readings(xy, np.minimum(value, limit), noise=0.3)
    recipe = Recipe(no_effects, TRUTH, PRIOR, (False, False, False))
    with_limits = infer_many(cut, censored, recipe).system
    substituted = infer_many(cut, NONE, recipe).system
    part = np.zeros(len(censored), np.int64)
    errors = [
        np.mean(system.predict(xy[censored] + 1.0, part)[0] - value[censored])
        for system in (with_limits, substituted)
    ]
    assert abs(errors[0]) < 0.6 * abs(errors[1])


def test_given_neighbours_stay(field, make_readings, no_effects):
    system = share(make_readings(*field), no_effects, TRUTH, 20)
    assert system.sharing.neighbours == 20
    assert share(make_readings(*field), no_effects, TRUTH, None).sharing.error_share <= 0.03

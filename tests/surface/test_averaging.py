"""Averaging over families of covariance."""

from __future__ import annotations

import numpy as np
import pytest

from zoning.surface.averaging import FAMILIES, infer_families, mixed
from zoning.surface.covariance import Covariance
from zoning.surface.inference import Recipe, infer
from zoning.surface.likelihood import CovariancePrior

PRIOR = CovariancePrior(16.0, 0.8, 0.15, 1.2, 120.0, 0.8)
NONE = np.empty(0, np.int64)


def test_mixture_moments_are_those_of_draws():
    rng = np.random.default_rng(0)
    draws = np.where(
        rng.random(500_000) < 0.3, rng.normal(1, 2, 500_000), rng.normal(4, 1, 500_000)
    )
    mean, var = mixed(
        [(0.3, np.array([1.0]), np.array([4.0])), (0.7, np.array([4.0]), np.array([1.0]))]
    )
    assert mean[0] == pytest.approx(draws.mean(), abs=0.02)
    assert var[0] == pytest.approx(draws.var(), abs=0.03)


@pytest.mark.parametrize("kind", FAMILIES)
def test_the_family_the_readings_came_from_weighs_more(drawn, no_effects, kind):
    truth = Covariance(kind, 1.0, 16.0, 40.0 if kind == "exponential" else 45.0)
    log_odds = 0.0
    for seed in range(6):
        recipe = Recipe(no_effects, Covariance("exponential", 1, 1, 1), PRIOR)
        first = infer(drawn(truth, 200, 120, seed), NONE, recipe)
        weight = {i.fit.covariance.kind: w for w, i in infer_families(first, recipe).nodes}
        log_odds += np.log(weight.pop(kind)) - np.log(sum(weight.values()))
    assert log_odds > 0


def test_weights_sum_to_one_and_rows_agree(drawn, no_effects):
    recipe = Recipe(no_effects, Covariance("exponential", 1, 1, 1), PRIOR)
    readings = drawn(Covariance("exponential", 1.0, 9.0, 40.0), 40, 300, 3)
    averaged = infer_families(infer(readings, NONE, recipe), recipe)
    assert sum(weight for weight, _ in averaged.nodes) == pytest.approx(1.0)
    assert {inference.fit.covariance.kind for _, inference in averaged.nodes} == set(FAMILIES)
    assert all(np.array_equal(i.used, averaged.best.used) for _, i in averaged.nodes)
    mean, var = averaged.predict(readings.xy_m, readings.part)
    each = [system.predict(readings.xy_m, readings.part) for _, system in averaged.systems]
    assert np.all(mean <= np.max([m for m, _ in each], axis=0) + 1e-9)
    assert np.all(var >= np.min([v for _, v in each], axis=0) - 1e-9)
    assert averaged.leave_one_out()[0].shape == (40,)

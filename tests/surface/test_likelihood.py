"""Restricted likelihood against scikit-learn's Gaussian process and finite differences."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

from zoning.surface.covariance import Covariance
from zoning.surface.likelihood import CovariancePrior, Posterior, fit_covariance, start_values
from zoning.surface.system import Effects

MODEL = Covariance("matern32", 2.0, 9.0, 25.0)
PRIOR = CovariancePrior(10.0, 0.8, 0.2, 1.0, 80.0, 0.7)


def scikit_learns(readings, level_var):
    kernel = (
        ConstantKernel(9.0) * Matern(25.0, nu=1.5) + WhiteKernel(2.0) + ConstantKernel(level_var)
    )
    model = GaussianProcessRegressor(kernel, alpha=0.5, optimizer=None)
    return model.fit(readings.xy_m, readings.value - 30.0).log_marginal_likelihood_value_


def test_proper_level_equals_scikit_learn(drawn):
    readings = drawn(MODEL, 40, 100, 1, noise=0.5)
    effects = Effects(np.zeros(1), np.zeros(1), level=30.0, level_precision=1 / 50)
    posterior = Posterior(readings, effects, MODEL, None)
    ours = posterior.likelihood(posterior.theta(MODEL))[0]
    assert ours == pytest.approx(scikit_learns(readings, 50.0), rel=1e-9)


def test_flat_level_is_the_limit_of_scikit_learn(drawn, no_effects):
    readings, wide = drawn(MODEL, 40, 100, 2, noise=0.5), 1e7
    posterior = Posterior(readings, no_effects, MODEL, None)
    ours = posterior.likelihood(posterior.theta(MODEL))[0]
    theirs = scikit_learns(readings, wide) + 0.5 * math.log(2 * math.pi * wide)
    assert ours == pytest.approx(theirs, abs=1e-4)


@pytest.mark.parametrize("kind", ["exponential", "matern32", "gaussian"])
def test_gradient_is_that_of_finite_differences(drawn, no_effects, kind):
    readings = drawn(MODEL, 25, 100, 3, noise=0.5)
    posterior = Posterior(readings, no_effects, replace(MODEL, kind=kind), PRIOR)
    theta = posterior.theta(MODEL) + np.array([0.2, -0.3, 0.1])
    gradient = posterior(theta)[1]
    for k in range(3):
        step = np.zeros(3)
        step[k] = 1e-5
        slope = (posterior(theta + step)[0] - posterior(theta - step)[0]) / 2e-5
        assert gradient[k] == pytest.approx(slope, rel=1e-4, abs=1e-5)


def test_truth_is_found_from_many_readings(drawn, no_effects):
    truth = Covariance("exponential", 2.0, 10.0, 20.0)
    posterior = Posterior(drawn(truth, 300, 300, 4), no_effects, truth, PRIOR)
    found = fit_covariance(posterior, start_values(truth, PRIOR)).covariance
    assert found.sill == pytest.approx(12.0, rel=0.35)
    assert found.practical_range_m == pytest.approx(60.0, rel=0.5)


def test_fit_is_a_maximum(drawn, no_effects):
    posterior = Posterior(drawn(MODEL, 40, 100, 5), no_effects, MODEL, PRIOR)
    fit = fit_covariance(posterior, start_values(MODEL, PRIOR))
    theta = posterior.theta(fit.covariance)
    assert np.abs(posterior(theta)[1]).max() < 1e-2
    assert fit.log_posterior == pytest.approx(posterior(theta)[0])
    assert fit.log_likelihood == pytest.approx(posterior.likelihood(theta)[0])


def test_given_parameters_stay(drawn, no_effects):
    posterior = Posterior(drawn(MODEL, 30, 100, 6), no_effects, MODEL, PRIOR, (True, False, False))
    found = fit_covariance(posterior, (MODEL,)).covariance
    assert (found.nugget, found.range_m) == (2.0, 25.0)
    assert found.partial_sill != 9.0


def test_prior_rules_where_one_reading_says_nothing(make_readings):
    effects = Effects(np.zeros(1), np.zeros(1), level=30.0, level_precision=1 / 50)
    posterior = Posterior(make_readings([[0, 0]], [31.0]), effects, MODEL, PRIOR)
    found = fit_covariance(posterior, start_values(MODEL, PRIOR)).covariance
    assert found.practical_range_m == pytest.approx(80.0, rel=0.05)
    assert found.nugget / found.sill == pytest.approx(0.2, abs=0.05)

"""Mean and variance over an uncertain covariance against draws from its posterior."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from zoning.surface.averaging import Averaged
from zoning.surface.covariance import Covariance
from zoning.surface.inference import Recipe, infer
from zoning.surface.likelihood import CovariancePrior, Posterior
from zoning.surface.system import Effects, System, latent_covariance
from zoning.surface.uncertainty import integrated, points

PRIOR = CovariancePrior(16.0, 0.8, 0.15, 1.2, 120.0, 0.6)
NONE = np.empty(0, np.int64)
TRUTH = Covariance("exponential", 2.0, 12.0, 40.0)
EFFECTS = Effects(np.zeros(1), np.zeros(1), level=30.0, level_precision=1 / 64)


def recipe(free=(True, True, True)):
    return Recipe(EFFECTS, TRUTH, PRIOR, free)


def average(base, by):
    return integrated(Averaged(((1.0, base),)), by)


def sampled(base, places, part, draws=6000):
    """Mean and variance of the mixture over the posterior at places, by a random walk."""
    posterior = Posterior(base.system.readings, EFFECTS, base.fit.covariance, PRIOR)
    rng = np.random.default_rng(0)
    theta = posterior.theta(base.fit.covariance)
    height = posterior(theta)[0]
    found = []
    for k in range(draws):
        step = theta + 0.4 * rng.standard_normal(3)
        there = posterior(step)[0]
        if np.log(rng.random()) < there - height:
            theta, height = step, there
        if k % 10 == 0:
            system = System(base.system.readings, EFFECTS, posterior.covariance(theta))
            found.append(system.predict(places, part))
    mean, var = np.array([m for m, _ in found]), np.array([v for _, v in found])
    return mean.mean(axis=0), var.mean(axis=0) + mean.var(axis=0)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_mean_and_factor_agree_with_draws_from_the_posterior(drawn, seed):
    base = infer(drawn(TRUTH, 40, 300, seed, noise=0.5), NONE, recipe())
    averaged = average(base, recipe())
    xy = base.system.readings.xy_m
    places, part = 0.5 * (xy + np.roll(xy, -1, axis=0)), np.zeros(len(xy), np.int64)
    mean, var = sampled(base, places, part)
    best_mean, best_var = base.system.predict(places, part)
    assert averaged.variance_factor == pytest.approx(var.mean() / best_var.mean(), abs=0.08)
    off = [
        np.sqrt(np.mean((m - mean) ** 2)) for m in (averaged.predict(places, part)[0], best_mean)
    ]
    assert off[0] < 0.5 * off[1]


def test_more_readings_leave_less_to_add(drawn):
    few, many = (
        average(infer(drawn(TRUTH, n, 300, 4, noise=0.5), NONE, recipe()), recipe())
        for n in (15, 250)
    )
    assert few.variance_factor > many.variance_factor >= 1.0


def test_given_parameters_and_no_readings_add_nothing(drawn, make_readings):
    fixed = recipe((False, False, False))
    empty = make_readings(np.empty((0, 2)), np.empty(0))
    given = average(infer(drawn(TRUTH, 30, 300, 5), NONE, fixed), fixed)
    unread = average(infer(empty, NONE, recipe()), recipe())
    for averaged in (given, unread):
        assert (averaged.blends, averaged.variance_factor) == ((), 1.0)


@pytest.mark.parametrize("free", [(True, False, True), (False, True, False), (True, True, False)])
def test_parameters_that_are_given_stay_as_given(drawn, free):
    base = infer(drawn(TRUTH, 40, 300, 6, noise=0.5), NONE, recipe(free))
    names = np.array(["partial_sill", "nugget", "range_m"])
    covariances = [s.covariance for s in points(base, recipe(free))]
    for name, loose in zip(names, free, strict=True):
        values = {getattr(c, name) for c in covariances}
        assert len(values) > 1 if loose else values == {getattr(TRUTH, name)}


def test_likelihood_of_a_point_is_that_of_scipy(drawn):
    readings = drawn(TRUTH, 40, 300, 2, noise=0.5)
    posterior = Posterior(readings, EFFECTS, TRUTH, None)
    value, level, weights = posterior.solve(TRUTH, posterior.correlation(TRUTH))
    total = latent_covariance(readings, EFFECTS, TRUTH) + 64.0 + np.diag(readings.noise_var)
    expected = multivariate_normal(np.full(40, 30.0), total).logpdf(readings.value)
    system = System(readings, EFFECTS, TRUTH)
    assert value == pytest.approx(expected, abs=1e-8)
    assert level == pytest.approx(system.level)
    np.testing.assert_allclose(weights, system.weights, atol=1e-10)


def test_mean_and_factor_turn_with_the_readings(drawn):
    readings = drawn(TRUTH, 40, 300, 1, noise=0.5)
    first = average(infer(readings, NONE, recipe()), recipe())
    places, part = np.random.default_rng(0).uniform(0, 300, (20, 2)), np.zeros(20, np.int64)
    for angle in np.radians([17.0, 90.0, 200.0]):
        sin, cos = np.sin(angle), np.cos(angle)
        turn = np.array([[cos, -sin], [sin, cos]])
        moved = replace(readings, xy_m=readings.xy_m @ turn + [500.0, -80.0])
        other = average(infer(moved, NONE, recipe()), recipe())
        assert other.variance_factor == pytest.approx(first.variance_factor, rel=1e-6)
        mean = other.predict(places @ turn + [500.0, -80.0], part)[0]
        np.testing.assert_allclose(mean, first.predict(places, part)[0], rtol=1e-6)

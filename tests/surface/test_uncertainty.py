"""The factor for an uncertain covariance against draws from its posterior."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from zoning.surface.covariance import Covariance
from zoning.surface.inference import Recipe, infer
from zoning.surface.likelihood import CovariancePrior, Posterior
from zoning.surface.system import Effects, System
from zoning.surface.uncertainty import variance_factor

PRIOR = CovariancePrior(16.0, 0.8, 0.2, 1.2, 120.0, 0.8)
NONE = np.empty(0, np.int64)
TRUTH = Covariance("exponential", 2.0, 12.0, 40.0)
EFFECTS = Effects(np.zeros(1), np.zeros(1), level=30.0, level_precision=1 / 64)


def recipe(free=(True, True, True)):
    return Recipe(EFFECTS, TRUTH, PRIOR, free)


def sampled_factor(base, draws=4000):
    """Mean variance of the mixture over the posterior, by a random walk, over that of the mode."""
    posterior = Posterior(base.system.readings, EFFECTS, base.fit.covariance, PRIOR)
    rng = np.random.default_rng(0)
    theta = posterior.theta(base.fit.covariance)
    height = posterior(theta)[0]
    xy = base.system.readings.xy_m
    places, part = 0.5 * (xy + np.roll(xy, -1, axis=0)), np.zeros(len(xy), np.int64)
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
    mixture = var.mean(axis=0) + mean.var(axis=0)
    return mixture.mean() / base.system.predict(places, part)[1].mean()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_factor_agrees_with_draws_from_the_posterior(drawn, seed):
    base = infer(drawn(TRUTH, 40, 300, seed, noise=0.5), NONE, recipe())
    assert variance_factor(base, recipe()) == pytest.approx(sampled_factor(base), abs=0.08)


def test_more_readings_leave_less_to_add(drawn):
    few, many = (infer(drawn(TRUTH, n, 300, 4, noise=0.5), NONE, recipe()) for n in (15, 250))
    assert variance_factor(few, recipe()) > variance_factor(many, recipe()) >= 1.0


def test_given_parameters_and_no_readings_add_nothing(drawn, make_readings):
    fixed = recipe((False, False, False))
    assert variance_factor(infer(drawn(TRUTH, 30, 300, 5), NONE, fixed), fixed) == 1.0
    empty = make_readings(np.empty((0, 2)), np.empty(0))
    assert variance_factor(infer(empty, NONE, recipe()), recipe()) == 1.0


def test_factor_turns_with_the_readings(drawn):
    readings = drawn(TRUTH, 40, 300, 1, noise=0.5)
    base = infer(readings, NONE, recipe())
    for angle in np.radians([17.0, 90.0, 200.0]):
        sin, cos = np.sin(angle), np.cos(angle)
        xy = readings.xy_m @ np.array([[cos, -sin], [sin, cos]]) + [500.0, -80.0]
        other = infer(replace(readings, xy_m=xy), NONE, recipe())
        assert variance_factor(other, recipe()) == pytest.approx(
            variance_factor(base, recipe()), rel=1e-6
        )

"""Censored readings against a long Markov chain and against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from zoning.surface.censoring import first_guess, normal_hazard, tobit_readings
from zoning.surface.covariance import Covariance
from zoning.surface.system import Effects, System, latent_covariance

MODEL = Covariance("exponential", 1.0, 9.0, 30.0)
EFFECTS = Effects(np.zeros(1), np.zeros(1), level=30.0, level_precision=1 / 64)
BODY = np.zeros(1, np.int64)


def chain(readings, censored, target, sweeps=20_000):
    """Draw the readings that were cut off one by one; return mean and sd at the target (Gibbs)."""
    rng = np.random.default_rng(1)
    total = latent_covariance(readings, EFFECTS, MODEL) + 64 + np.diag(readings.noise_var)
    precision = np.linalg.inv(total)
    value = readings.value.copy()
    value[censored] += 1.0
    across = 9.0 * MODEL.correlation(readings.xy_m, target)[:, 0] + 64
    gain = precision @ across
    own = MODEL.sill + 64 - across @ gain
    means = np.empty(sweeps)
    for sweep in range(sweeps):
        for k in censored:
            sd = precision[k, k] ** -0.5
            mean = value[k] - precision[k] @ (value - 30.0) / precision[k, k]
            low = (readings.value[k] - mean) / sd
            value[k] = mean - sd * ndtri(rng.random() * ndtr(-low))
        means[sweep] = 30.0 + gain @ (value - 30.0)
    kept = means[500:]
    return kept.mean(), np.sqrt(own + kept.var())


def test_agrees_with_a_long_markov_chain(drawn):
    readings = drawn(MODEL, 12, 60, 3, noise=1.5)
    censored = np.array([1, 6, 9])
    cut = readings.value.copy()
    cut[censored] = [31.0, 34.0, 30.0]
    readings = readings.with_values(cut, readings.noise_var)
    target = readings.xy_m[[6]] + 4.0
    mean, sd = chain(readings, censored, target)
    system = System(tobit_readings(readings, censored, EFFECTS, MODEL), EFFECTS, MODEL)
    got_mean, got_var = system.predict(target, BODY)
    assert got_mean[0] == pytest.approx(mean, abs=0.05)
    assert np.sqrt(got_var[0]) == pytest.approx(sd, rel=0.03)


def test_one_censored_reading_alone_is_a_truncated_normal(make_readings):
    # y = truth + error > 35 with truth ~ N(30, 64 + 10) and error variance 2.
    readings = make_readings([[0.0, 0.0]], [35.0], noise=2.0)
    system = System(tobit_readings(readings, np.array([0]), EFFECTS, MODEL), EFFECTS, MODEL)
    mean, var = system.predict(np.zeros((1, 2)), BODY)
    spread = np.sqrt(76.0)
    hazard = float(normal_hazard(np.array([-5.0 / spread]))[0])
    z = -5.0 / spread
    assert mean[0] == pytest.approx(30 + 74 * hazard / spread, rel=1e-4)
    assert var[0] == pytest.approx(74 - 74**2 * hazard * (z + hazard) / 76, rel=1e-3)


def test_limit_far_below_says_nothing(make_readings):
    readings = make_readings([[0.0, 0.0], [5.0, 0.0]], [33.0, -40.0], noise=1.0)
    one = System(readings.take(np.array([0])), EFFECTS, MODEL)
    both = System(tobit_readings(readings, np.array([1]), EFFECTS, MODEL), EFFECTS, MODEL)
    here = np.array([[2.0, 1.0]])
    np.testing.assert_allclose(both.predict(here, BODY), one.predict(here, BODY), rtol=1e-3)


def test_false_limits_pull_less(make_readings):
    readings = make_readings([[0.0, 0.0], [1.0, 0.0]], [30.0, 45.0], noise=1.0)
    here = np.array([[0.5, 0.0]])
    pulled = [
        System(
            tobit_readings(readings, np.array([1]), EFFECTS, MODEL, share), EFFECTS, MODEL
        ).predict(here, BODY)[0][0]
        for share in (0.0, 0.1, 0.5)
    ]
    assert pulled[0] > pulled[1] > pulled[2] > 29.0


def test_no_censored_reading_changes_nothing(drawn):
    readings = drawn(MODEL, 5, 60, 3)
    assert tobit_readings(readings, np.empty(0, np.int64), EFFECTS, MODEL) is readings


def test_all_censored_stays_finite(drawn, no_effects):
    readings = drawn(MODEL, 8, 60, 3, noise=1.0)
    found = tobit_readings(readings, np.arange(8), no_effects, MODEL)
    mean, var = System(found, no_effects, MODEL).predict(readings.xy_m, np.zeros(8, np.int64))
    assert np.all(np.isfinite(mean))
    assert np.all(var > 0)
    assert mean.mean() > readings.value.mean()


def test_hazard_does_not_underflow():
    z = np.array([-40.0, 0.0, 40.0])
    expected = [40.025, np.sqrt(2 / np.pi), 0.0]
    np.testing.assert_allclose(normal_hazard(z), expected, rtol=1e-4, atol=1e-12)


def test_first_guess_lies_above_the_limit(drawn):
    readings = drawn(MODEL, 6, 60, 3)
    guess = first_guess(readings, np.array([2]), 9.0)
    assert guess.value[2] > readings.value[2]
    assert guess.noise_var[2] > readings.noise_var[2]
    assert np.array_equal(np.delete(guess.value, 2), np.delete(readings.value, 2))

"""Presence of a pan: against quadrature, and calibrated on patches that were made."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from zoning.surface.covariance import Covariance
from zoning.surface.presence import Counts, PresencePrior, Reporting, fit_presence

REPORTING = Reporting(0.98, 0.95, 0.3)


def prior(parts=1, ranges=(90.0, 150.0, 250.0), strengths=(2.0, 12.0), level_sd=0.6):
    even = (1 / len(ranges),) * len(ranges)
    weights = (1 / len(strengths),) * len(strengths)
    shift = np.where(np.arange(parts) == 0, 0.0, 0.4)
    return PresencePrior(1.0, level_sd, shift, shift, ranges, even, strengths, weights)


def counts(make_readings, xy, with_pan, known, part=None):
    places = make_readings(xy, np.zeros(len(xy)), part=part)
    return Counts(places, np.asarray(with_pan, float), np.asarray(known, float))


def test_likelihoods_of_one_insertion_are_its_reporting():
    there, absent = REPORTING.likelihoods(np.array([1.0, 0.0]), np.array([1.0, 1.0]))
    np.testing.assert_allclose(there, [0.98, 0.02])
    np.testing.assert_allclose(absent, [0.05, 0.95])


def test_four_insertions_weigh_less_than_four_independent_ones():
    # Kish's design effect: 4 / (1 + 3 * 0.3) = 2.105 independent insertions.
    four = REPORTING.independent(np.array([4.0]))
    there, absent = REPORTING.likelihoods(four, four)
    assert np.log(there[0] / absent[0]) == pytest.approx(4 / 1.9 * np.log(0.98 / 0.05))


def test_two_stations_equal_quadrature(make_readings):
    one = prior(ranges=(100.0,), strengths=(2.0,))
    found = fit_presence(
        counts(make_readings, [[0, 0], [20, 0]], [1, 0], [1, 1]), REPORTING, one, 0.01
    )
    target = np.array([[8.0, 0.0]])
    xy = np.array([[0, 0], [20, 0], [8.0, 0.0]])
    model = Covariance("matern52", 0.0, 4.0, 100.0 / 2.648)
    scale = np.sqrt(5.0)
    cov = 4.0 * model.correlation(xy, xy) + (0.6 * scale) ** 2
    rng = np.random.default_rng(0)
    g = scale + rng.standard_normal((400_000, 3)) @ np.linalg.cholesky(cov).T
    weight = (0.05 + 0.93 * ndtr(g[:, 0])) * (0.95 - 0.93 * ndtr(g[:, 1]))
    expected = weight @ ndtr(g[:, 2]) / weight.sum()
    assert found.predict(target, np.zeros(1, np.int64))[0] == pytest.approx(expected, abs=0.02)


def test_probabilities_are_calibrated_on_made_patches(make_readings):
    rng = np.random.default_rng(11)
    told, truth = [], []
    model = Covariance("matern32", 0.0, 1.0, 45.0)
    for _ in range(12):
        xy = rng.uniform(0, 300, (250, 2))
        latent = np.linalg.cholesky(model.correlation(xy, xy) + 1e-8 * np.eye(250))
        pan = latent @ rng.standard_normal(250) > rng.normal(-0.9, 0.3)
        seen = np.where(rng.random(50) < 0.97, pan[:50], ~pan[:50])
        stations = counts(make_readings, xy[:50], seen, np.ones(50))
        found = fit_presence(stations, REPORTING, prior(), 0.03)
        told.append(found.predict(xy[50:], np.zeros(200, np.int64)))
        truth.append(pan[50:])
    told, truth = np.concatenate(told), np.concatenate(truth)
    assert told.mean() == pytest.approx(truth.mean(), abs=0.04)
    for low, high in ((0.0, 0.3), (0.3, 0.7), (0.7, 0.9), (0.9, 1.0)):
        inside = (told >= low) & (told < high)
        assert truth[inside].mean() == pytest.approx(told[inside].mean(), abs=0.12)
    base_rate = np.mean((truth.mean() - truth) ** 2)
    assert np.mean((told - truth) ** 2) < 0.75 * base_rate


def test_nowhere_seen_gives_a_low_probability(make_readings):
    xy = np.random.default_rng(2).uniform(0, 300, (20, 2))
    found = fit_presence(
        counts(make_readings, xy, np.zeros(20), np.ones(20)), REPORTING, prior(), 0.03
    )
    assert found.predict(np.array([[150.0, 150.0]]), np.zeros(1, np.int64))[0] < 0.15


def test_far_away_the_prior_of_the_part_returns(make_readings):
    stations = counts(make_readings, np.zeros((1, 2)), [1], [1], part=[0])
    found = fit_presence(stations, REPORTING, prior(parts=2), 0.01)
    body, head = found.predict(np.full((2, 2), 1e6), np.array([0, 1]))
    assert 0.6 < body < head < 0.97


def test_leave_one_out_equals_a_refit_of_the_sites(make_readings):
    xy = np.random.default_rng(3).uniform(0, 300, (25, 2))
    seen = (xy[:, 0] > 120).astype(float)
    one = prior(ranges=(150.0,), strengths=(4.0,))
    told = fit_presence(
        counts(make_readings, xy, seen, np.ones(25)), REPORTING, one, 0.01
    ).leave_one_out()
    for k in (0, 7, 20):
        rest = np.delete(np.arange(25), k)
        without = counts(make_readings, xy[rest], seen[rest], np.ones(24))
        refit = fit_presence(without, REPORTING, one, 0.01).predict(xy[[k]], np.zeros(1, np.int64))
        assert told[k] == pytest.approx(refit[0], abs=0.06)


def test_weights_sum_to_one_and_light_points_are_dropped(make_readings):
    xy = np.random.default_rng(5).uniform(0, 300, (60, 2))
    seen = (xy[:, 0] > 100).astype(float)
    found = fit_presence(counts(make_readings, xy, seen, np.ones(60)), REPORTING, prior(), 0.2)
    weights = [weight for weight, _ in found.nodes]
    assert sum(weights) == pytest.approx(1.0)
    assert weights == sorted(weights, reverse=True)
    assert min(weights) >= 0.2 * max(weights)
    assert 90 <= found.practical_range_m <= 250

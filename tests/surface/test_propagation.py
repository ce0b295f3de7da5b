"""Expectation propagation against quadrature."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import log_ndtr, ndtr
from scipy.stats import multivariate_normal

from zoning.surface.propagation import Tilt, propagate

MEAN = np.array([0.3, -0.4, 0.8])
COV = np.array([[2.0, 1.1, 0.4], [1.1, 1.5, 0.7], [0.4, 0.7, 1.0]])
SIGN = np.array([1.0, 1.0, -1.0])


def probit(mean, var):
    """A place is seen with a pan (sign 1) or without (-1)."""
    spread = np.sqrt(1 + var)
    z = SIGN * mean / spread
    hazard = np.exp(-0.5 * z * z - log_ndtr(z)) / np.sqrt(2 * np.pi)
    return Tilt(log_ndtr(z), SIGN * hazard / spread, hazard * (z + hazard) / spread**2)


@pytest.fixture(scope="module")
def quadrature():
    """Evidence and posterior moments by summing over a fine grid."""
    axis = np.linspace(-7, 7, 71)
    points = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3)
    weight = multivariate_normal(MEAN, COV).pdf(points) * (axis[1] - axis[0]) ** 3
    weight *= np.prod(ndtr(SIGN * points), axis=1)
    total = weight.sum()
    mean = weight @ points / total
    return np.log(total), mean, weight @ (points - mean) ** 2 / total


def test_evidence_and_moments_equal_quadrature(quadrature):
    log_evidence, mean, var = quadrature
    sites = propagate(MEAN, COV, probit)
    gain = COV @ np.linalg.inv(COV + np.diag(sites.noise_var))
    np.testing.assert_allclose(MEAN + gain @ (sites.value - MEAN), mean, atol=0.01)
    np.testing.assert_allclose(np.diag(COV - gain @ COV), var, rtol=0.02)
    assert sites.log_evidence == pytest.approx(log_evidence, abs=0.01)


def test_gaussian_fact_is_returned_exactly():
    value, noise = np.array([1.0, 2.0, 0.5]), np.array([0.5, 1.0, 2.0])

    def normal(mean, var):
        both = noise + var
        off = value - mean
        return Tilt(-0.5 * off**2 / both - 0.5 * np.log(2 * np.pi * both), off / both, 1 / both)

    sites = propagate(MEAN, COV, normal)
    np.testing.assert_allclose(sites.value, value, atol=1e-4)
    np.testing.assert_allclose(sites.noise_var, noise, rtol=1e-4)
    exact = multivariate_normal(MEAN, COV + np.diag(noise)).logpdf(value)
    assert sites.log_evidence == pytest.approx(exact, abs=1e-4)


def mixture(limit, false_share):
    """A place lies above `limit`, or the limit says nothing: a fact that is not log-concave."""

    def fact(mean, var):
        spread = np.sqrt(0.01 + var)
        z = (mean - limit) / spread
        total = false_share + (1 - false_share) * ndtr(z)
        density = (1 - false_share) * np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi)
        slope = density / (spread * total)
        return Tilt(np.log(total), slope, slope * (z / spread + slope))

    return fact


@pytest.mark.parametrize("limit", [1.0, 2.0, 3.0, 4.0])
def test_a_site_that_narrows_nothing_stays_near_and_keeps_the_mean(limit):
    mean, cov = np.zeros(1), np.eye(1)
    bounded = propagate(mean, cov, mixture(limit, 0.2), farthest_sds=6.0)
    assert abs(bounded.value[0]) <= 6.0 + 1e-6
    axis = np.linspace(-9, 9, 20_001)
    weight = np.exp(-0.5 * axis**2) * (0.2 + 0.8 * ndtr((axis - limit) / 0.1))
    wanted = weight @ axis / weight.sum()
    assert bounded.value[0] / (1 + bounded.noise_var[0]) == pytest.approx(wanted, abs=1e-3)


def test_without_a_bound_such_a_site_lies_very_far_off():
    assert propagate(np.zeros(1), np.eye(1), mixture(3.0, 0.2)).value[0] > 1000

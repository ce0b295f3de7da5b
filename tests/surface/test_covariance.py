"""Correlation functions against scikit-learn's kernels and PyKrige's variograms."""

from __future__ import annotations

import numpy as np
import pytest
from pykrige import variogram_models
from sklearn.gaussian_process.kernels import RBF, Matern

from zoning.surface.covariance import (
    KINDS,
    Covariance,
    correlation_and_slope,
    correlation_in_place,
    distances,
    practical_factor,
)

H = np.linspace(0, 300, 61)[None, :]


@pytest.mark.parametrize(
    ("kind", "kernel"),
    [
        ("exponential", Matern(40.0, nu=0.5)),
        ("matern32", Matern(40.0, nu=1.5)),
        ("matern52", Matern(40.0, nu=2.5)),
        ("gaussian", RBF(40.0 / np.sqrt(2))),
    ],
)
def test_kinds_equal_scikit_learns_kernels(kind, kernel):
    expected = kernel(np.zeros((1, 1)), H.T)
    np.testing.assert_allclose(correlation_in_place(kind, H.copy(), 40.0), expected, atol=1e-12)


def test_spherical_equals_pykriges():
    expected = 1 - variogram_models.spherical_variogram_model([1.0, 40.0, 0.0], H)
    np.testing.assert_allclose(
        correlation_in_place("spherical", H.copy(), 40.0), expected, atol=1e-12
    )


@pytest.mark.parametrize("kind", KINDS)
def test_slope_is_the_derivative_by_log_range(kind):
    step = 1e-6
    up = correlation_in_place(kind, H.copy(), 40.0 * np.exp(step))
    down = correlation_in_place(kind, H.copy(), 40.0 * np.exp(-step))
    rho, slope = correlation_and_slope(kind, H, 40.0)
    np.testing.assert_allclose(rho, correlation_in_place(kind, H.copy(), 40.0), atol=1e-14)
    np.testing.assert_allclose(slope, (up - down) / (2 * step), atol=1e-6)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "spherical"])
def test_correlation_is_five_per_cent_at_the_practical_range(kind):
    at = np.array([[25.0 * practical_factor(kind)]])
    assert correlation_in_place(kind, at, 25.0)[0, 0] == pytest.approx(0.05, abs=5e-4)


def test_spherical_ends_at_its_range():
    assert correlation_in_place("spherical", np.array([[25.0, 24.0]]), 25.0).tolist()[0][0] == 0.0
    assert Covariance("spherical", 0.0, 1.0, 25.0).practical_range_m == 25.0


def test_range_is_longer_along_the_heading():
    # Heading 90 degrees is east: with ratio 2, 30 m north count as much as 60 m east.
    model = Covariance("exponential", 0.0, 1.0, 50.0, across_ratio=2.0, heading_deg=90.0)
    here = np.zeros((1, 2))
    east = model.correlation(here, np.array([[60.0, 0.0]]))[0, 0]
    north = model.correlation(here, np.array([[0.0, 30.0]]))[0, 0]
    assert east == pytest.approx(np.exp(-60 / 50))
    assert north == pytest.approx(east)


def test_distances_are_euclidean():
    assert distances(np.array([[0.0, 0.0]]), np.array([[3.0, 4.0], [0.0, 0.0]])).tolist() == [
        [5.0, 0.0]
    ]


def test_sill_and_other_values():
    model = Covariance("matern32", 1.0, 3.0, 20.0, across_ratio=2.0, heading_deg=10.0)
    other = model.with_values(2.0, 5.0, 30.0)
    assert model.sill == 4.0
    assert (other.nugget, other.partial_sill, other.range_m) == (2.0, 5.0, 30.0)
    assert (other.kind, other.across_ratio, other.heading_deg) == ("matern32", 2.0, 10.0)

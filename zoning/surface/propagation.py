"""Expectation propagation on a Gaussian prior with one non-Gaussian fact a place.

Each fact ``t_i(f_i)`` is replaced by a Gaussian site with precision ``tau_i`` and precision times
mean ``nu_i`` such that the moments of ``f_i`` come out right given all other sites (Minka T., UAI
2001; Rasmussen C.E., Williams C.K.I., Gaussian Processes for Machine Learning, 2006, section 3.6;
from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from zoning.surface.covariance import Array

_SWEEPS = 80
_TOLERANCE = 1e-5
_LEAST_TAU = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Tilt:
    """What a fact does to a Gaussian cavity: log Z and its derivatives by the mean of the cavity.

    `curve` is minus the second derivative.
    """

    log_z: Array
    slope: Array
    curve: Array


Fact = Callable[[Array, Array], Tilt]


@dataclass(frozen=True, slots=True, eq=False)
class Sites:
    """Gaussian sites in the place of the facts.

    Parameters
    ----------
    value, noise_var
        Mean and variance of each site: a pseudo-reading.
    log_evidence
        Log of the marginal likelihood of the facts.
    """

    value: Array
    noise_var: Array
    log_evidence: float


def propagate(mean: Array, cov: Array, fact: Fact, *, farthest_sds: float = math.inf) -> Sites:
    """Return the sites of `fact` under the prior ``N(mean, cov)``.

    Parameters
    ----------
    mean, cov
        Prior of the latent values, shapes ``(n,)`` and ``(n, n)``.
    fact
        Called with cavity means and variances, returns the `Tilt` of each place.
    farthest_sds
        Most standard deviations of its cavity that the value of a site may lie from the mean of its
        cavity. A fact that is not log-concave may move the mean and narrow nothing; a site of next
        to no precision would then lie without bounds away. Precision is put up instead, the mean
        of the place stays right.
    """
    least = _LEAST_TAU / np.diag(cov)
    tau, nu = least.copy(), least * mean
    for sweep in range(_SWEEPS):
        cavity_mean, cavity_var, post_var = _cavities(mean, cov, tau, nu)
        tilt = fact(cavity_mean, cavity_var)
        room = np.maximum(1.0 - tilt.curve * cavity_var, 1e-9)
        new_tau = np.maximum(tilt.curve / room, least)
        pull = np.abs(tilt.slope) * np.sqrt(cavity_var)
        new_tau = np.maximum(new_tau, pull / np.maximum(farthest_sds - pull, pull) / cavity_var)
        new_nu = cavity_mean * new_tau + tilt.slope * (1.0 + new_tau * cavity_var)
        step = 0.9 if sweep < _SWEEPS // 3 else 0.4
        moved = float(np.max(np.abs(new_tau - tau) * post_var))
        tau, nu = tau + step * (new_tau - tau), nu + step * (new_nu - nu)
        if moved < _TOLERANCE:
            break
    return Sites(nu / tau, 1.0 / tau, _log_evidence(mean, cov, (tau, nu), fact))


def _cavities(mean: Array, cov: Array, tau: Array, nu: Array) -> tuple[Array, Array, Array]:
    """Return mean and variance without each place's own site, and the posterior variance."""
    root = np.sqrt(tau)
    inner = root[:, None] * cov * root[None, :]
    inner[np.diag_indices_from(inner)] += 1.0
    solved = cho_solve(cho_factor(inner, lower=True, check_finite=False), root[:, None] * cov)
    scaled = cov * root[None, :]
    post_var = np.diag(cov) - np.einsum("ij,ji->i", scaled, solved)
    right = nu - tau * mean
    post_mean = mean + cov @ right - scaled @ (solved @ right)
    post_var = np.maximum(post_var, 1e-12 * np.diag(cov))
    cavity_tau = np.maximum(1.0 / post_var - tau, 1e-6 / post_var)
    return (post_mean / post_var - nu) / cavity_tau, 1.0 / cavity_tau, post_var


def _log_evidence(mean: Array, cov: Array, sites: tuple[Array, Array], fact: Fact) -> float:
    """Return the log marginal likelihood at the fixed point (section 3.6 there)."""
    tau, nu = sites
    cavity_mean, cavity_var, _ = _cavities(mean, cov, tau, nu)
    value, both = nu / tau, cavity_var + 1.0 / tau
    scale = fact(cavity_mean, cavity_var).log_z + 0.5 * np.log(both)
    scale += (cavity_mean - value) ** 2 / (2.0 * both)
    factor = cho_factor(cov + np.diag(1.0 / tau), lower=True, check_finite=False)
    off = value - mean
    normal = -0.5 * off @ cho_solve(factor, off) - np.log(np.diag(factor[0])).sum()
    return float(scale.sum() + normal)

"""Censored readings ("the base lies deeper than this") by expectation propagation.

A censored reading says that ``f + e > limit`` with ``f`` the truth at the place and ``e`` the error
of the reading. Its likelihood ``Phi((f - limit) / sd(e))`` is replaced by a Gaussian pseudo-reading
whose value and error make the posterior mean and variance of ``f`` right given all else
(`zoning.surface.propagation`). After that every equation of the kriging system holds unchanged.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.special import log_ndtr

from zoning.contracts import constant
from zoning.surface.covariance import Array, Covariance, Index
from zoning.surface.propagation import Tilt, propagate
from zoning.surface.system import Effects, Readings, latent_covariance

TABLE = "surface_rules"
_FLAT_SD = 10.0


def first_guess(readings: Readings, censored: Index, sill: float) -> Readings:
    """Return the readings with a rough pseudo-reading in the place of each censored one."""
    value, noise = readings.value.copy(), readings.noise_var.copy()
    value[censored] += constant(TABLE, "censored_guess_sds") * np.sqrt(sill)
    noise[censored] += constant(TABLE, "censored_guess_share") * sill
    return readings.with_values(value, noise)


def tobit_readings(
    readings: Readings,
    censored: Index,
    effects: Effects,
    covariance: Covariance,
    false_share: float = 0.0,
) -> Readings:
    """Return the readings with pseudo-readings in the place of the censored ones.

    Parameters
    ----------
    readings
        All readings; the value of a censored one is its lower limit, its noise that of a reading.
    censored
        Rows that are censored.
    effects, covariance
        The model that joins them.
    false_share
        Share of limits that are no limits: another hard layer was taken for the pan, and the
        reading says nothing.
    """
    if not len(censored):
        return readings
    mean, cov = given_the_others(readings, censored, effects, covariance)
    limit, error = readings.value[censored], readings.noise_var[censored]
    log_true = math.log1p(-false_share)
    log_false = math.log(false_share) if false_share > 0 else -math.inf

    def deeper_than_limit(cavity_mean: Array, cavity_var: Array) -> Tilt:
        spread = np.sqrt(error + cavity_var)
        z = (cavity_mean - limit) / spread
        log_z = np.logaddexp(log_false, log_true + log_ndtr(z))
        hazard = normal_hazard(z) * np.exp(log_true + log_ndtr(z) - log_z)
        return Tilt(log_z, hazard / spread, hazard * (z + hazard) / spread**2)

    sites = propagate(
        mean, cov, deeper_than_limit, farthest_sds=constant(TABLE, "censored_farthest_sds")
    )
    value, noise = readings.value.copy(), readings.noise_var.copy()
    value[censored], noise[censored] = sites.value, sites.noise_var
    return readings.with_values(value, noise)


def normal_hazard(z: Array) -> Array:
    """Return ``phi(z) / Phi(z)`` without underflow."""
    return np.asarray(np.exp(-0.5 * z * z - 0.5 * np.log(2 * np.pi) - log_ndtr(z)), np.float64)


def given_the_others(
    readings: Readings, censored: Index, effects: Effects, covariance: Covariance
) -> tuple[Array, Array]:
    """Return mean and covariance of the truth at the censored places given the other readings."""
    total = latent_covariance(readings, effects, covariance)
    seen = np.setdiff1d(np.arange(len(readings.value)), censored)
    level, level_var = _level_prior(readings, effects, covariance)
    prior_mean = level + effects.part_mean[readings.part]
    total += level_var
    cross, own = total[np.ix_(seen, censored)], total[np.ix_(censored, censored)]
    own = own + 1e-9 * covariance.sill * np.eye(len(own))
    if not len(seen):
        return prior_mean[censored], own
    known = total[np.ix_(seen, seen)] + np.diag(readings.noise_var[seen])
    known[np.diag_indices_from(known)] += 1e-10 * float(np.mean(np.diag(total)))
    weights = cho_solve(cho_factor(known, lower=True), cross)
    mean = prior_mean[censored] + weights.T @ (readings.value - prior_mean)[seen]
    return mean, own - cross.T @ weights


def _level_prior(
    readings: Readings, effects: Effects, covariance: Covariance
) -> tuple[float, float]:
    """Return a proper prior for the level; a flat one becomes very wide round the readings."""
    if effects.level_precision > 0:
        return effects.level, 1.0 / effects.level_precision
    centred = readings.value - effects.part_mean[readings.part]
    spread = float(np.var(centred)) + covariance.sill + float(np.max(effects.part_var))
    return float(np.mean(centred)), _FLAT_SD**2 * spread

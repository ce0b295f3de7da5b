"""The fields of one farm together: an empirical Bayes estimate of the priors of each.

Each parameter of a field is taken as normal round a mean of the farm. The means and the spreads are
found by expectation and maximisation (Dempster A.P., Laird N.M., Rubin D.B., Journal of the Royal
Statistical Society B 39, 1977, 1-38; for variances between groups Gelman A. and others, Bayesian
Data Analysis, 2013, section 5; both from memory). The usual priors bound both: the variance between
the fields of a farm is expected to be a share of the usual variance, as if some fields had been
seen already, and the farm's mean has the rest of it round the usual mean. The prior handed to a
field has the variance between fields plus that of the farm's mean, so that where the fields say
nothing it is the usual prior. With ``s`` the spread between fields and ``v`` the variance left of
the parameter of one field, that field tells of the farm's mean with precision ``1/s**2 - v/s**4``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from zoning.contracts import PARTS
from zoning.surface.covariance import Array
from zoning.surface.evidence import FieldEvidence, between, grid
from zoning.surface.likelihood import CovariancePrior
from zoning.surface.priors import PartCodes, base_covariance_prior, base_effects, rule
from zoning.surface.shared_prior import SharedPrior, Shift


@dataclass(frozen=True, slots=True, eq=False)
class _Farm:
    """Mean of the farm and standard deviation between its fields, a value a parameter."""

    mean: Array
    sd: Array


def shared_prior(evidence: Sequence[FieldEvidence]) -> SharedPrior | None:
    """Return the prior that `evidence`, a field each, gives; ``None`` if the fields are too few.

    The order of the fields does not matter.
    """
    if len(evidence) < rule("shared_fewest_fields"):
        return None
    p = base_covariance_prior()
    usual = _Farm(
        np.array([np.log(p.sill), np.log(p.nugget_share / (1 - p.nugget_share)),
                  np.log(p.practical_range_m)]),
        np.array([p.log_sill_sd, p.logit_share_sd, p.log_range_sd]),
    )  # fmt: skip
    farm = _covariance_farm(evidence, usual)
    log_sill, logit, log_range = (float(v) for v in farm.mean)
    covariance = CovariancePrior(
        float(np.exp(log_sill)), float(farm.sd[0]),
        float(1.0 / (1.0 + np.exp(-logit))), float(farm.sd[1]),
        float(np.exp(log_range)), float(farm.sd[2]),
    )  # fmt: skip
    return SharedPrior(len(evidence), covariance, _shifts(evidence))


def _covariance_farm(evidence: Sequence[FieldEvidence], usual: _Farm) -> _Farm:
    points = grid(fine=True)
    likelihood = np.array(
        [between(values) for values in sorted(field.log_likelihood.tolist() for field in evidence)]
    )
    farm, told = _Farm(usual.mean, rule("shared_spread_share") * usual.sd), np.zeros(3)
    for _ in range(int(rule("shared_rounds"))):
        log_weight = likelihood - 0.5 * (((points - farm.mean) / farm.sd) ** 2).sum(axis=1)
        weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
        weight /= weight.sum(axis=1, keepdims=True)
        mean = weight @ points
        var = weight @ points**2 - mean**2
        farm, told = _maximised(mean, var, farm, usual), _told(var, farm)
    return _handed_on(farm, usual, told)


def _shifts(evidence: Sequence[FieldEvidence]) -> tuple[Shift, ...]:
    effects = base_effects(PartCodes(()), several_days=False)
    known = range(1, len(PARTS))
    usual = _Farm(
        np.array([effects.level, *(effects.part_mean[i] for i in known)]),
        np.sqrt([1.0 / effects.level_precision, *(effects.part_var[i] for i in known)]),
    )
    ordered = sorted(evidence, key=lambda field: field.weighted.tolist())
    information = np.array([field.information for field in ordered])
    weighted = np.array([field.weighted for field in ordered])
    farm = _Farm(usual.mean, rule("shared_spread_share") * usual.sd)
    told = np.zeros(len(PARTS))
    for _ in range(int(rule("shared_rounds"))):
        precision = np.diag(farm.sd**-2.0)
        cov = np.linalg.inv(information + precision)
        mean = np.einsum("fij,fj->fi", cov, weighted + precision @ farm.mean)
        var = np.einsum("fii->fi", cov)
        farm, told = _maximised(mean, var, farm, usual), _told(var, farm)
    farm = _handed_on(farm, usual, told)
    return tuple(
        Shift(name, float(m), float(s))
        for name, m, s in zip(PARTS, farm.mean, farm.sd, strict=True)
    )


def _maximised(mean: Array, var: Array, farm: _Farm, usual: _Farm) -> _Farm:
    """Return the farm of highest density, given mean and variance of each field's parameters."""
    fields, seen = len(mean), rule("shared_spread_fields")
    own, before = farm.sd**-2.0, _mean_precision(usual)
    middle = (mean.sum(axis=0) * own + usual.mean * before) / (fields * own + before)
    expected = (rule("shared_spread_share") * usual.sd) ** 2
    squares = ((mean - middle) ** 2 + var).sum(axis=0)
    return _Farm(middle, np.sqrt((squares + seen * expected) / (fields + seen)))


def _told(var: Array, farm: _Farm) -> Array:
    """Return the precision with which the fields tell the farm's mean."""
    each = farm.sd**-2.0 - var * farm.sd**-4.0
    return np.asarray(np.maximum(each, 0.0).sum(axis=0), np.float64)


def _handed_on(farm: _Farm, usual: _Farm, told: Array) -> _Farm:
    of_mean = 1.0 / (told + _mean_precision(usual))
    return _Farm(farm.mean, np.sqrt(farm.sd**2 + of_mean))


def _mean_precision(usual: _Farm) -> Array:
    """Return the precision of the farm's mean before any field is seen."""
    share = rule("shared_spread_share")
    return np.asarray(1.0 / ((1.0 - share**2) * usual.sd**2), np.float64)

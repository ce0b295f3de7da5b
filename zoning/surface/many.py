"""Inference from very many readings: Vecchia's likelihood, shared neighbourhoods."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree
from scipy.special import log_ndtr

from zoning.surface.censoring import first_guess, normal_hazard
from zoning.surface.conditionals import conditionals
from zoning.surface.covariance import Covariance, Index
from zoning.surface.inference import Inference, Recipe
from zoning.surface.likelihood import start_values
from zoning.surface.local import (
    LocalSystem,
    Sharing,
    SharingRule,
    tune_sharing,
    typical_spacing,
)
from zoning.surface.priors import rule
from zoning.surface.screening import worst
from zoning.surface.system import Effects, Readings
from zoning.surface.vecchia import effects_of_many, fit_many

_CENSORED_ROUNDS = 2
_SCREENING_ROUNDS = 3


def infer_many(
    readings: Readings, censored: Index, recipe: Recipe, neighbours: int | None = None
) -> Inference:
    """Return the inference from very many readings, of which the rows `censored` are lower limits.

    `neighbours` is the size of a neighbourhood; ``None`` takes that of the table.
    """
    used = np.arange(len(readings.value))
    most = int(recipe.screening.most_share * len(used)) if recipe.screening else 0
    start: Covariance | None = None
    for round_ in range(_SCREENING_ROUNDS + 1):
        raw = readings.take(used)
        hidden = np.flatnonzero(np.isin(used, censored))
        inference = _fit(raw, hidden, recipe, start, neighbours)
        outliers = np.setdiff1d(np.arange(len(readings.value)), used)
        bad = worst(inference.system, hidden, recipe.screening, most - len(outliers))
        if not len(bad) or round_ == _SCREENING_ROUNDS:
            break
        used, start = np.delete(used, bad), inference.fit.covariance
    return Inference(inference.system, inference.fit, used, outliers, raw, hidden)


def _fit(
    raw: Readings, censored: Index, recipe: Recipe, start: Covariance | None, neighbours: int | None
) -> Inference:
    working = first_guess(raw, censored, recipe.prior.sill)
    starts = (start,) if start else start_values(recipe.template, recipe.prior)
    for _ in range(_CENSORED_ROUNDS if len(censored) else 1):
        fit = fit_many(working, recipe.effects, starts, recipe.prior, recipe.free)
        system = share(working, recipe.effects, fit.covariance, neighbours)
        working = tobit_alone(raw, censored, system, recipe.false_limit_share)
        starts = (fit.covariance,)
    if len(censored):
        system = share(working, recipe.effects, fit.covariance, neighbours)
    return Inference(system, fit, np.arange(len(raw.value)), censored[:0], raw, censored)


def share(
    readings: Readings, effects: Effects, covariance: Covariance, neighbours: int | None
) -> LocalSystem:
    """Return the readings solved by shared neighbourhoods, within the table's tolerance.

    Where `neighbours` is given it stays; only the blocks shrink.
    """
    linear = effects_of_many(readings, effects, covariance)
    side = rule("block_spacings") * typical_spacing(readings.xy_m)
    sharing = Sharing(neighbours or int(rule("neighbours")), side)
    system = LocalSystem(readings, effects, covariance, linear, sharing)
    growth = 1.0 if neighbours else rule("sharing_growth")
    rounds, sample = int(rule("sharing_rounds")), int(rule("sharing_sample"))
    how = SharingRule(rule("sharing_tolerance"), rounds, sample, growth)
    return tune_sharing(system, how)


def tobit_alone(
    raw: Readings, censored: Index, system: LocalSystem, false_share: float
) -> Readings:
    """Return the readings with a pseudo-reading for each censored one, each met by itself.

    Each is judged against its nearest readings that are not censored, in one step.
    """
    if not len(censored):
        return raw
    seen = np.setdiff1d(np.arange(len(raw.value)), censored)
    count = min(int(rule("neighbours")), len(seen))
    near = np.asarray(cKDTree(raw.xy_m[seen]).query(raw.xy_m[censored], k=count)[1])
    near = seen[near.reshape(len(censored), count)]
    noise = raw.noise_var.copy()
    noise[censored] = 0.0
    bare = raw.with_values(raw.value, noise)
    weights, var = conditionals(bare, censored, near, system.covariance)
    residual = system.residuals(raw.value)
    prior = (weights * residual[near]).sum(axis=1)
    limit = residual[censored]
    spread = np.sqrt(raw.noise_var[censored] + var)
    z = (prior - limit) / spread
    log_z = np.logaddexp(np.log(max(false_share, 1e-300)), np.log1p(-false_share) + log_ndtr(z))
    slope = normal_hazard(z) * np.exp(np.log1p(-false_share) + log_ndtr(z) - log_z)
    curve = np.maximum(slope * (z + slope) / spread**2, 1e-9 / var)
    tau = np.maximum(curve / np.maximum(1.0 - curve * var, 1e-9), 1e-6 / var)
    site = (prior * tau + slope / spread * (1.0 + tau * var)) / tau
    value, noise = raw.value.copy(), raw.noise_var.copy()
    value[censored] = site + (raw.value[censored] - limit)
    noise[censored] = 1.0 / tau
    return raw.with_values(value, noise)

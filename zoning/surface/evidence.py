"""What one field says of its covariance and its parts, in a form that can be added up.

For the covariance: the logarithm of its restricted likelihood on a grid of ``(log sill, logit of
the nugget share, log practical range)``, two standard deviations of the usual prior each way. For
the level of the body and the effects of the parts: with ``X`` the level and the known parts of each
reading, ``V`` the covariance of the readings at the field's own best, all else included, the
information ``A = X'V^-1 X`` and ``b = X'V^-1 y``. A part without a reading adds nothing to ``A``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.linalg import cho_factor, cho_solve

from zoning.contracts import PARTS
from zoning.surface.censoring import tobit_readings
from zoning.surface.covariance import Array, Covariance, practical_factor
from zoning.surface.inference import Inference, Recipe, infer
from zoning.surface.likelihood import Posterior
from zoning.surface.priors import (
    BODY,
    PartCodes,
    base_covariance_prior,
    base_effects,
    rule,
)
from zoning.surface.stations import Stations, read_stations
from zoning.surface.system import Readings, latent_covariance
from zoning.surface.threads import one_thread

KIND = Covariance("exponential", 1.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True, eq=False)
class FieldEvidence:
    """What one field says.

    Parameters
    ----------
    log_likelihood
        At the points of `grid`, shape ``(points,)``.
    information, weighted
        ``A`` and ``b`` of the module, for the parts of `PARTS`, the body's being the level.
    """

    log_likelihood: Array
    information: Array
    weighted: Array


def grid(*, fine: bool = False) -> Array:
    """Return ``(log sill, logit share, log practical range)`` of each point, shape ``(n, 3)``.

    The fine grid has the same ends and is the one of `between`.
    """
    p, reach = base_covariance_prior(), rule("shared_grid_sds")
    middle = (np.log(p.sill), _logit(p.nugget_share), np.log(p.practical_range_m))
    spread = (p.log_sill_sd, p.logit_share_sd, p.log_range_sd)
    times = int(rule("shared_grid_finer")) if fine else 1
    axes = [
        np.linspace(m - reach * s, m + reach * s, times * (n - 1) + 1)
        for m, s, n in zip(middle, spread, _points(), strict=True)
    ]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)


def between(values: Sequence[float]) -> Array:
    """Return values at the points of the fine grid, by cubic splines through those of the grid."""
    from scipy.interpolate import make_interp_spline  # noqa: PLC0415 - heavy, for farms alone

    points, times = _points(), int(rule("shared_grid_finer"))
    found: Array = np.reshape(np.asarray(values, np.float64), points)
    for axis, count in enumerate(points):
        place = np.linspace(0, count - 1, times * (count - 1) + 1)
        found = make_interp_spline(np.arange(count), found, axis=axis)(place)
    return found.reshape(-1)


def _points() -> tuple[int, ...]:
    return tuple(int(rule(f"shared_grid_{name}_points")) for name in ("sill", "share", "range"))


@one_thread
def field_evidence(stations: pd.DataFrame) -> FieldEvidence | None:
    """Return what the stations of one field say; ``None`` if no base was read.

    Parameters
    ----------
    stations
        As for `zoning.surface.PanModel.fit`.
    """
    read = read_stations(stations)
    few, most = rule("shared_fewest_bases"), rule("most_exact_readings")
    if not few <= len(read.base.value) <= most:
        return None
    prior = base_covariance_prior()
    effects = base_effects(read.parts, several_days=len(read.days) > 1)
    recipe = Recipe(effects, KIND, prior, false_limit_share=rule("false_limit_share"))
    found = infer(read.base, read.censored, recipe)
    information, weighted = _information(found, read, recipe)
    return FieldEvidence(_log_likelihoods(found, recipe), information, weighted)


def _log_likelihoods(found: Inference, recipe: Recipe) -> Array:
    posterior = Posterior(_readings(found, recipe), recipe.effects, KIND, None)
    factor = practical_factor(KIND.kind)
    values = []
    for log_sill, logit, log_range in grid():
        share = 1.0 / (1.0 + np.exp(-logit))
        theta = np.array(
            [log_sill + np.log1p(-share), log_sill + np.log(share), log_range - np.log(factor)]
        )
        values.append(posterior.likelihood(theta)[0])
    return np.array(values)


def _information(found: Inference, read: Stations, recipe: Recipe) -> tuple[Array, Array]:
    readings = _readings(found, recipe)
    design = _design(readings, read.parts)
    known = np.isin(readings.part, read.parts.of(PARTS))
    var = np.where(_known_codes(read.parts), 0.0, recipe.effects.part_var)
    others = replace(recipe.effects, part_var=var)
    total = latent_covariance(readings, others, found.fit.covariance) + np.diag(readings.noise_var)
    y = readings.value - np.where(known, 0.0, recipe.effects.part_mean[readings.part])
    factor = cho_factor(total, lower=True)
    return (
        np.asarray(design.T @ cho_solve(factor, design), np.float64),
        np.asarray(design.T @ cho_solve(factor, y), np.float64),
    )


def _readings(found: Inference, recipe: Recipe) -> Readings:
    return tobit_readings(
        found.raw, found.censored, recipe.effects, found.fit.covariance, recipe.false_limit_share
    )


def _design(readings: Readings, parts: PartCodes) -> Array:
    """Return the level and the known parts of each reading, shape ``(n, len(PARTS))``."""
    columns = [
        np.ones(len(readings.value)) if name == BODY else (readings.part == parts.of([name])[0])
        for name in PARTS
    ]
    return np.column_stack(columns).astype(np.float64)


def _known_codes(parts: PartCodes) -> Array:
    return np.array([name in PARTS for name in parts.names])


def _logit(share: float) -> float:
    return float(np.log(share / (1.0 - share)))

"""Priors of the pan model, read from ``shared/tables/surface_rules.csv``."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from zoning.contracts import PARTS, constant
from zoning.surface.covariance import Array, Index
from zoning.surface.likelihood import CovariancePrior
from zoning.surface.presence import PresencePrior, Reporting
from zoning.surface.screening import Screening
from zoning.surface.system import Effects

BODY = "body"
OTHER = "(any other)"
TABLE = "surface_rules"


def rule(name: str) -> float:
    """Return one value of the table."""
    return constant(TABLE, name)


class PartCodes:
    """Numbers for the names of parts; a name never met gets the code of ``(any other)``.

    Parameters
    ----------
    names
        Names of parts that carry readings.
    known
        Names that have a code whether they carry readings or not.
    """

    def __init__(self, names: Sequence[str], known: tuple[str, ...] = PARTS) -> None:
        extra = sorted(set(names) - set(known) - {OTHER})
        self.names = (*known, *extra, OTHER)
        self._codes = {name: code for code, name in enumerate(self.names)}

    def of(self, names: Sequence[str]) -> Index:
        """Return the code of each name, shape ``(len(names),)``."""
        unique, inverse = np.unique(
            np.asarray(names, dtype=object).astype(str), return_inverse=True
        )
        other = self._codes[OTHER]
        codes = np.array([self._codes.get(str(name), other) for name in unique], dtype=np.int64)
        return codes[inverse] if len(codes) else np.empty(0, np.int64)


def base_effects(parts: PartCodes, *, several_days: bool) -> Effects:
    """Return the priors of level, parts and days of the pan base [cm]."""
    return Effects(
        np.array([_shift("base_shift_{}_cm", name) for name in parts.names]),
        np.array([_shift("base_shift_sd_{}_cm", name) ** 2 for name in parts.names]),
        rule("day_sd_cm") ** 2 if several_days else 0.0,
        rule("base_level_cm"),
        1.0 / rule("base_level_sd_cm") ** 2,
    )


def base_covariance_prior() -> CovariancePrior:
    """Return the priors of the covariance of the pan base."""
    return CovariancePrior(
        rule("residual_sill_cm2"),
        rule("residual_log_sill_sd"),
        rule("nugget_share"),
        rule("nugget_logit_sd"),
        rule("practical_range_m"),
        rule("practical_range_log_sd"),
    )


def screening() -> Screening:
    """Return when a reading of the base counts as an outlier."""
    return Screening(
        rule("outlier_limit"),
        rule("outlier_most_share"),
        int(rule("outlier_fewest")),
        rule("outlier_expected_share"),
        rule("outlier_spread"),
    )


def presence_prior(parts: PartCodes) -> PresencePrior:
    """Return the priors of the presence of a pan."""
    sds = [0.0 if name == BODY else rule("presence_shift_sd") for name in parts.names]
    ranges = _spread("presence_range_least_m", "presence_range_most_m", "presence_range_points")
    strengths = _spread(
        "presence_strength_least", "presence_strength_most", "presence_strength_points"
    )
    weak = rule("presence_weak_weight")
    return PresencePrior(
        rule("presence_level"),
        rule("presence_level_sd"),
        np.array([_shift("presence_shift_{}", name) for name in parts.names]),
        np.array(sds),
        ranges,
        (1.0 / len(ranges),) * len(ranges),
        strengths,
        (weak, *[(1.0 - weak) / (len(strengths) - 1)] * (len(strengths) - 1)),
    )


def reporting() -> Reporting:
    """Return how insertions report a pan."""
    return Reporting(rule("sensitivity"), rule("specificity"), rule("intraclass"))


def _shift(pattern: str, name: str) -> float:
    if name == BODY:
        return 0.0
    return rule(pattern.format(name if name in PARTS else "named"))


def _spread(least: str, most: str, points: str) -> tuple[float, ...]:
    ends: Array = np.linspace(math.log(rule(least)), math.log(rule(most)), int(rule(points)))
    return tuple(float(v) for v in np.exp(ends))

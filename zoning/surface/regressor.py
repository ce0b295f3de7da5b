"""Kriging as a scikit-learn estimator."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import check_is_fitted, validate_data

from zoning.surface.averaging import Averaged, infer_average
from zoning.surface.covariance import KINDS, Array, Covariance, Index, Kind
from zoning.surface.inference import Recipe, infer, splits
from zoning.surface.likelihood import CovariancePrior
from zoning.surface.many import infer_many, share
from zoning.surface.priors import PartCodes, rule, screening
from zoning.surface.stations import place_codes
from zoning.surface.system import Effects, Readings
from zoning.surface.threads import one_thread
from zoning.surface.uncertainty import integrated

_LEAST_VARIANCE = 1e-12


class KrigingRegressor(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """Ordinary kriging with part effects, reading errors, days and censored readings.

    With all three parameters given it is plain ordinary kriging of the readings; those that are
    ``None`` are estimated by restricted maximum likelihood with weak priors scaled to the readings
    (`zoning.surface.likelihood`).

    Parameters
    ----------
    covariance
        ``exponential``, ``spherical``, ``matern32`` or ``gaussian``.
    nugget, partial_sill
        Variances [square of the unit of ``y``]. The nugget is small-scale variation of the truth,
        so a prediction at a reading without error returns the reading; the error of readings is
        `error_var`.
    range_m
        The length ``a`` in ``exp(-h/a)`` for the exponential, the range at which the spherical
        ends, the ``a`` of ``(1 + sqrt(3) h/a) exp(-sqrt(3) h/a)`` for matern32 and of
        ``exp(-(h/a)**2)`` for the gaussian [unit of ``X``].
    neighbours
        Number of readings used for a place; ``None`` uses all of them.
    outlier_limit
        Where parameters are estimated, readings whose standardised leave-one-out residual is beyond
        this are suspects, which count by the odds that they are sound (`zoning.surface.screening`);
        those set aside in the likeliest split stand in ``outliers_``. ``None`` keeps all.

    Attributes
    ----------
    covariance_
        The `Covariance` used, in the likeliest split.
    outliers_
        Rows of ``X`` that were set aside.
    variance_factor_
        What the uncertain covariance puts on the variance; 1 where all parameters are given.
    n_features_in_
        Number of coordinates.
    """

    def __init__(
        self,
        covariance: Kind = "exponential",
        nugget: float | None = None,
        partial_sill: float | None = None,
        range_m: float | None = None,
        neighbours: int | None = None,
        outlier_limit: float | None = 2.5,
    ) -> None:
        self.covariance = covariance
        self.nugget = nugget
        self.partial_sill = partial_sill
        self.range_m = range_m
        self.neighbours = neighbours
        self.outlier_limit = outlier_limit

    def fit(
        self,
        X: ArrayLike,
        y: ArrayLike,
        *,
        parts: Sequence[str] | None = None,
        error_var: ArrayLike | None = None,
        censored: ArrayLike | None = None,
        days: Sequence[str] | None = None,
    ) -> Self:
        """Fit to readings `y` at the places `X`.

        Parameters
        ----------
        X, y
            Places, shape ``(n, d)`` (spherical: at most three coordinates), and readings, shape
            ``(n,)``.
        parts
            Part of the field of each reading; effects of parts have a Gaussian prior as wide as the
            readings, or are nothing, averaged by what the readings say.
        error_var
            Variance of the error of each reading; none by default.
        censored
            True where the truth is known only to lie above ``y``.
        days
            Day of each reading; the days share a Gaussian prior.
        """
        if self.covariance not in KINDS:
            raise ValueError(
                f"covariance is {self.covariance!r}, must be one of {', '.join(KINDS)}"
            )
        places, values = validate_data(self, X, y, y_numeric=True, dtype=np.float64)
        count = len(values)
        noise = (
            np.zeros(count) if error_var is None else _per_reading(error_var, count, "error_var")
        )
        hidden = np.zeros(count) if censored is None else _per_reading(censored, count, "censored")
        names = [""] * count if parts is None else [str(name) for name in parts]
        self._parts = PartCodes(names, known=())
        part = self._parts.of(names)
        day = np.full(count, -1) if days is None else np.unique(days, return_inverse=True)[1]
        order = np.lexsort((noise, day, part, values, *places.T[::-1]))
        readings = Readings(
            places, values.astype(np.float64), noise, part, day, place_codes(places, part)
        ).take(order)
        readings, rows = merge_exact(readings, hidden[order] > 0)
        self._order = order[rows]
        recipe = self._recipe(readings, several_parts=parts is not None)
        rows = np.flatnonzero(hidden[self._order] > 0)
        self._base = _infer(readings, rows, recipe, self.neighbours)
        inference = self._base.best
        self.covariance_ = inference.fit.covariance
        self.variance_factor_ = self._base.variance_factor
        self.outliers_ = np.sort(self._order[inference.outliers])
        return self

    def predict(
        self,
        X: ArrayLike,
        *,
        parts: Sequence[str] | None = None,
        return_std: bool = False,
    ) -> Array | tuple[Array, Array]:
        """Return the prediction at `X`, with its standard deviation where `return_std`.

        A part that carried no reading gets the prior of its effect.
        """
        check_is_fitted(self)
        places = validate_data(self, X, reset=False, dtype=np.float64)
        names = [""] * len(places) if parts is None else [str(p) for p in parts]
        mean, var = self._base.predict(places, self._parts.of(names))
        return (mean, np.sqrt(var)) if return_std else mean

    @one_thread
    def leave_one_out(self) -> tuple[NDArray[np.int64], Array, Array]:
        """Return rows of ``X``, and mean and standard deviation of each from the others."""
        check_is_fitted(self)
        mean, var = self._base.leave_one_out()
        return self._order[self._base.best.used], mean, np.sqrt(var)

    def _recipe(self, readings: Readings, *, several_parts: bool) -> Recipe:
        spread = max(float(np.var(readings.value)), _LEAST_VARIANCE)
        part_var = spread * rule("free_part_sd_share") ** 2 if several_parts else 0.0
        count = len(self._parts.names)
        effects = Effects(
            np.zeros(count), np.full(count, part_var), spread * rule("free_day_sd_share") ** 2
        )
        extent = _extent(readings.xy_m)
        prior = CovariancePrior(
            spread,
            rule("free_log_sill_sd"),
            rule("nugget_share"),
            rule("nugget_logit_sd"),
            extent * rule("free_range_share"),
            rule("free_range_log_sd"),
        )
        free = (self.partial_sill is None, self.nugget is None, self.range_m is None)
        template = Covariance(
            self.covariance,
            spread if self.nugget is None else float(self.nugget),
            spread if self.partial_sill is None else float(self.partial_sill),
            extent if self.range_m is None else float(self.range_m),
        )
        screened = None
        if self.outlier_limit is not None and any(free):
            screened = replace(screening(), limit=self.outlier_limit)
        alike = rule("parts_alike_share") if any(free) else 0.0
        return Recipe(effects, template, prior, free, screened, alike_share=alike)

    def __sklearn_tags__(self) -> Any:
        """Return the estimator's tags."""
        tags = super().__sklearn_tags__()
        tags.regressor_tags.poor_score = True
        return tags


@one_thread
def _infer(readings: Readings, censored: Index, recipe: Recipe, neighbours: int | None) -> Averaged:
    """Return the inference: exact for few readings, by neighbourhoods for many or where asked."""
    count = len(readings.value)
    if count > rule("most_exact_readings"):
        return Averaged(((1.0, infer_many(readings, censored, recipe, neighbours)),))
    if neighbours is None or neighbours >= count:
        several = splits(readings, censored, recipe)
        return integrated(infer_average(several, recipe, (recipe.template.kind,)), recipe)
    found = infer(readings, censored, recipe)
    local = share(found.system.readings, recipe.effects, found.fit.covariance, neighbours)
    return Averaged(((1.0, replace(found, system=local)),))


def merge_exact(readings: Readings, censored: NDArray[np.bool_]) -> tuple[Readings, Index]:
    """Return the readings with those of one place, part and day and no error joined to their mean.

    Also returns the row of the first reading of each that is left. Two exact readings of one place
    contradict each other and would make the system singular.
    """
    exact = (readings.noise_var <= 0) & ~censored
    key = np.column_stack(
        [readings.place, readings.day, np.where(exact, -1, np.arange(len(exact)))]
    )
    _, first, group = np.unique(key, axis=0, return_index=True, return_inverse=True)
    if len(first) == len(exact):
        return readings, np.arange(len(exact))
    group = group.reshape(-1)
    mean = np.bincount(group, readings.value) / np.bincount(group)
    order = np.argsort(first)
    joined = readings.take(first[order])
    return joined.with_values(mean[order], joined.noise_var), first[order]


def _per_reading(values: ArrayLike, count: int, name: str) -> Array:
    array = np.asarray(values, dtype=np.float64)
    if array.shape != (count,) or not np.all(np.isfinite(array)) or np.any(array < 0):
        raise ValueError(f"{name} must hold {count} finite numbers that are not negative")
    return array


def _extent(xy: Array) -> float:
    extent = float(np.linalg.norm(np.ptp(xy, axis=0)))
    return extent if extent > 0 else 1.0


__all__ = ["KrigingRegressor", "merge_exact"]

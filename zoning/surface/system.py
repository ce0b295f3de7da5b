"""The kriging system: readings, part and day effects and a covariance, solved once.

A reading is ``y_i = b + g(part_i) + d(day_i) + s(x_i) + m(x_i, part_i) + e_i`` with ``b`` the level
of the field, ``g`` and ``d`` Gaussian effects, ``s`` the spatial residual, ``m`` the small-scale
variation of the soil (the nugget) and ``e`` the error of the reading, which is no part of the
truth. With ``V`` the covariance of all but ``b``, ``Q = 1'V^-1 1 + q`` and ``q`` the prior
precision of ``b`` (0: flat), the prediction at a place with covariances ``c`` and own variance
``c0`` is::

    mean = b (1 - 1'V^-1 c) + c'V^-1 z,        b = (1'V^-1 z + q m) / Q
    var  = c0 - c'V^-1 c + (1 - 1'V^-1 c)**2 / Q

which with ``q = 0``, one part and no error is ordinary kriging (Chilès and Delfiner 2012, section
3.4; from memory) and otherwise its Bayesian form (Kitanidis P.K., Water Resources Research 22,
1986, 499-507; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.linalg.blas import dtrsm
from scipy.linalg.lapack import dtrtri

from zoning.surface.covariance import Array, Covariance, Index, correlation_in_place, distances
from zoning.surface.threads import spread

_CHUNK_VALUES = 250_000
_JITTER = 1e-10


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Readings ready for the system.

    Parameters
    ----------
    xy_m
        Places, shape ``(n, 2)`` [m].
    value
        Values, shape ``(n,)``; for a censored reading its pseudo-value.
    noise_var
        Variance of the error of each reading, shape ``(n,)``.
    part, day
        Index of the part and of the day of each reading; day -1 has no day effect.
    place
        Index of the place: readings of one place and part share their small-scale variation.
    """

    xy_m: Array
    value: Array
    noise_var: Array
    part: Index
    day: Index
    place: Index

    def take(self, rows: Index) -> Readings:
        """Return the readings `rows`."""
        return Readings(
            self.xy_m[rows],
            self.value[rows],
            self.noise_var[rows],
            self.part[rows],
            self.day[rows],
            self.place[rows],
        )

    def with_values(self, value: Array, noise_var: Array) -> Readings:
        """Return the same places with other values and errors."""
        return replace(self, value=value, noise_var=noise_var)


@dataclass(frozen=True, slots=True, eq=False)
class Effects:
    """Gaussian priors of what is common to many places.

    Parameters
    ----------
    part_mean, part_var
        Mean and variance of the effect of each part, shape ``(parts,)``.
    day_var
        Variance of the effect of a day.
    level, level_precision
        Prior mean and precision (1/variance) of the level of the field; precision 0 is flat.
    """

    part_mean: Array
    part_var: Array
    day_var: float = 0.0
    level: float = 0.0
    level_precision: float = 0.0


def same(a: Index, b: Index) -> Array:
    """Return 1 where the codes agree and are not -1, else 0, shape ``(len(a), len(b))``."""
    alike = (a[:, None] == b[None, :]) & (a[:, None] >= 0)
    return np.asarray(alike, dtype=np.float64)


def effect_covariance(readings: Readings, effects: Effects) -> Array:
    """Return the covariance that part and day effects give the readings, shape ``(n, n)``."""
    total = same(readings.part, readings.part) * effects.part_var[readings.part][:, None]
    if effects.day_var > 0:
        total += effects.day_var * same(readings.day, readings.day)
    return np.asarray(total, dtype=np.float64)


def latent_covariance(readings: Readings, effects: Effects, covariance: Covariance) -> Array:
    """Return the covariance of the readings without their errors, shape ``(n, n)``."""
    total = covariance.partial_sill * covariance.correlation(readings.xy_m, readings.xy_m)
    total += covariance.nugget * same(readings.place, readings.place)
    total += effect_covariance(readings, effects)
    return np.asarray(total, dtype=np.float64)


class System:
    """Readings, effects and covariance, factorised.

    Parameters
    ----------
    readings, effects, covariance
        What is known; see the module's equations.

    Raises
    ------
    numpy.linalg.LinAlgError
        If the covariance of the readings is not positive definite to working precision.
    """

    def __init__(self, readings: Readings, effects: Effects, covariance: Covariance) -> None:
        self.readings = readings
        self._isotropic = covariance.isotropic(readings.xy_m)
        self.effects = effects
        self.covariance = covariance
        total = latent_covariance(readings, effects, covariance)
        scale = float(np.max(np.diag(total))) if len(total) else 0.0
        total[np.diag_indices_from(total)] += readings.noise_var + _JITTER * scale * (
            readings.noise_var <= 0
        ) * _repeated(readings.place)
        self._factor = cho_factor(total, lower=True, check_finite=False)
        ones = np.ones(len(readings.value))
        self._ones_solved = self.solve(ones)
        self.centred = readings.value - effects.part_mean[readings.part]
        self.information = float(self._ones_solved.sum() + effects.level_precision)
        solved = self.solve(self.centred)
        self.level = (
            float(solved.sum() + effects.level_precision * effects.level) / self.information
            if self.information > 0
            else effects.level
        )
        self.weights = solved - self.level * self._ones_solved

    def solve(self, right: Array) -> Array:
        """Return ``V^-1 right``."""
        return np.asarray(cho_solve(self._factor, right, check_finite=False), dtype=np.float64)

    def precision(self) -> Array:
        """Return ``P = V^-1 - V^-1 1 1'V^-1 / Q``, shape ``(n, n)``."""
        inverse = self.solve(np.eye(len(self.readings.value)))
        if self.information > 0:
            inverse -= np.outer(self._ones_solved, self._ones_solved) / self.information
        return inverse

    def covariances(self, xy_m: Array, part: int) -> Array:
        """Return the covariance of the truth at places of one part with the readings: (n, m)."""
        model, readings = self.covariance, self.readings
        c = distances(self._isotropic, model.isotropic(xy_m))
        at_reading = _zeros(c) if model.nugget > 0 else np.empty((0, 2), np.int64)
        c = correlation_in_place(model.kind, c, model.range_m)
        c *= model.partial_sill
        rows, columns = at_reading.T
        alike = readings.part[rows] == part
        c[rows[alike], columns[alike]] += model.nugget
        if self.effects.part_var[part] > 0:
            c[readings.part == part] += self.effects.part_var[part]
        return c

    def predict(self, xy_m: Array, part: Index) -> tuple[Array, Array]:
        """Return mean and variance of the truth at the places, each of shape ``(m,)``.

        The small-scale variation belongs to the truth, the error of a reading does not.
        """
        mean, var = np.empty(len(xy_m)), np.empty(len(xy_m))
        step = max(1, _CHUNK_VALUES // max(1, len(self.readings.value)))

        def chunk(rows: Index) -> None:
            mean[rows], var[rows] = self._predict_chunk(xy_m[rows], int(part[rows[0]]))

        spread(chunk, chunks_by_code(part, step))
        return mean, var

    def _predict_chunk(self, xy_m: Array, part: int) -> tuple[Array, Array]:
        c = self.covariances(xy_m, part)
        mean = self.level + self.effects.part_mean[part] + self.weights @ c
        missing = 1.0 - self._ones_solved @ c
        half = self._half(c)
        np.multiply(half, half, out=half)
        var = self.covariance.sill + self.effects.part_var[part] - half.sum(axis=0)
        if self.information > 0:
            var += missing * missing / self.information
        return mean, np.maximum(var, 0.0)

    def _half(self, c: Array) -> Array:
        """Return ``L^-1 c``; `c` is overwritten."""
        if not len(c):
            return c
        turned = dtrsm(1.0, self._factor[0], c.T, side=1, lower=1, trans_a=1, overwrite_b=1)
        return np.asarray(turned.T, dtype=np.float64)

    def posterior_covariance(self, a_m: Array, a_part: Index, b_m: Array, b_part: Index) -> Array:
        """Return the covariance of the truth at `a` with that at `b`, given the readings.

        Shape ``(len(a_m), len(b_m))``. It does not depend on the values read, so it tells what a
        further reading at `b` would do for `a`: the variance at `a` falls by
        ``cov(a, b)**2 / (cov(b, b) + error variance)``.
        """
        model = self.covariance
        ca, cb = self._covariances_of(a_m, a_part), self._covariances_of(b_m, b_part)
        prior = model.partial_sill * model.correlation(a_m, b_m)
        prior += same(a_part, b_part) * self.effects.part_var[a_part][:, None]
        prior += model.nugget * same(a_part, b_part) * (distances(a_m, b_m) == 0.0)
        if self.information > 0:
            prior += np.outer(1.0 - self._ones_solved @ ca, 1.0 - self._ones_solved @ cb) / (
                self.information
            )
        return np.asarray(prior - self._half(ca).T @ self._half(cb), dtype=np.float64)

    def _covariances_of(self, xy_m: Array, part: Index) -> Array:
        c = np.empty((len(self.readings.value), len(xy_m)))
        for rows in chunks_by_code(part, max(1, len(part))):
            c[:, rows] = self.covariances(xy_m[rows], int(part[rows[0]]))
        return c

    def part_effect(self, code: int) -> tuple[float, float]:
        """Return mean and standard deviation of the effect of part `code` given the readings."""
        var = float(self.effects.part_var[code])
        c = var * (self.readings.part == code)
        mean = float(self.effects.part_mean[code] + self.weights @ c)
        spent = float(c @ self.solve(c))
        if self.information > 0:
            spent -= float(self._ones_solved @ c) ** 2 / self.information
        return mean, float(np.sqrt(max(var - spent, 0.0)))

    def day_effect(self, code: int) -> tuple[float, float]:
        """Return mean and standard deviation of the effect of day `code` given the readings."""
        c = self.effects.day_var * (self.readings.day == code)
        spent = float(c @ self.solve(c))
        if self.information > 0:
            spent -= float(self._ones_solved @ c) ** 2 / self.information
        return float(self.weights @ c), float(np.sqrt(max(self.effects.day_var - spent, 0.0)))

    def leave_one_out(self) -> tuple[Array, Array]:
        """Return mean and variance of each reading from all the others, shape ``(n,)`` each.

        Closed form: ``y_i - [P z]_i / P_ii`` and ``1 / P_ii`` (Dubrule O., Mathematical Geology 15,
        1983, 687-699; from memory). The variance includes the error of the reading left out.
        """
        if not len(self.readings.value):
            return np.empty(0), np.empty(0)
        inverse = np.tril(dtrtri(self._factor[0], lower=1)[0])
        diagonal = np.einsum("ij,ij->j", inverse, inverse)
        if self.information > 0:
            diagonal -= self._ones_solved**2 / self.information
        return self.readings.value - self.weights / diagonal, 1.0 / diagonal


def _repeated(place: Index) -> Array:
    _, inverse, counts = np.unique(place, return_inverse=True, return_counts=True)
    return (counts[inverse] > 1).astype(np.float64)


def _zeros(distance_m: Array) -> Index:
    """Return rows and columns of the zeros of a matrix of distances, shape ``(zeros, 2)``."""
    if not distance_m.size or distance_m.min() > 0:
        return np.empty((0, 2), np.int64)
    return np.argwhere(distance_m == 0.0)


def chunks_by_code(code: Index, step: int) -> list[Index]:
    """Return the rows in groups of one code and at most `step` rows."""
    order = np.argsort(code, kind="stable")
    edges = np.flatnonzero(np.diff(code[order])) + 1
    return [
        group[start : start + step]
        for group in np.split(order, edges)
        for start in range(0, len(group), step)
    ]

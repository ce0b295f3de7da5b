"""Neighbourhoods shared by blocks of places, for very many readings.

Places are grouped in square blocks; all places of a block are predicted by ordinary kriging from
the same readings, the nearest to its middle, so the system is solved once a block. Part and day
effects, known well from very many readings, are taken off before and put back after.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg.blas import dtrsm
from scipy.linalg.lapack import dpotrf, dpotrs
from scipy.spatial import cKDTree

from zoning.surface.conditionals import conditionals, nearest_others
from zoning.surface.covariance import Array, Covariance, Index, correlation_in_place, distances
from zoning.surface.system import Effects, Readings, System, same
from zoning.surface.threads import cores, spread
from zoning.surface.vecchia import LinearEffects

_MOST_IN_BLOCK = 4_000
_TASKS_A_CORE = 8
_LEFT_OUT_GIVEN = 24
_NEAR_MIDDLE = 600
_JITTER = 1e-12


@dataclass(frozen=True, slots=True)
class Sharing:
    """How neighbourhoods are shared.

    Parameters
    ----------
    neighbours
        Readings a block is predicted from.
    side_m
        Side of a block [m]; 0 gives each place a neighbourhood of its own.
    error_share
        Measured: root mean square difference from neighbourhoods of each place's own, four times
        as large, as a share of the mean kriging standard deviation.
    """

    neighbours: int
    side_m: float
    error_share: float = 0.0


class LocalSystem:
    """Very many readings, predicted block by block.

    Parameters
    ----------
    readings, effects, covariance
        As in `zoning.surface.system.System`.
    linear
        Level, part and day effects given the readings.
    sharing
        Size of blocks and neighbourhoods.
    """

    def __init__(
        self,
        readings: Readings,
        effects: Effects,
        covariance: Covariance,
        linear: LinearEffects,
        sharing: Sharing,
    ) -> None:
        self.readings = readings
        self.effects = effects
        self.covariance = covariance
        self.sharing = sharing
        self._linear = linear
        self._places = np.ascontiguousarray(covariance.isotropic(readings.xy_m))
        self._tree = cKDTree(self._places)
        self.places_repeat = len(np.unique(readings.place)) < len(readings.place)
        parts = [linear.part(code) for code in range(len(effects.part_var))]
        self._part_mean = np.array([mean for mean, _ in parts]) + effects.part_mean
        self._part_var = np.array([sd for _, sd in parts]) ** 2
        days = len(linear.mean) - 1 - len(parts)
        self._day_mean = np.array([linear.day(code)[0] for code in range(days)] + [0.0])
        self._centred = self._without_effects(readings.value)

    @property
    def level(self) -> float:
        """The level of the field."""
        return self._linear.level + self.effects.level

    def _without_effects(self, value: Array) -> Array:
        readings = self.readings
        drift = self._part_mean[readings.part] + self._day_mean[readings.day]
        return np.asarray(value - drift, dtype=np.float64)

    def residuals(self, value: Array) -> Array:
        """Return values at the readings less level and effects, shape ``(n,)``."""
        return self._without_effects(value) - self.level

    def predict(self, xy_m: Array, part: Index) -> tuple[Array, Array]:
        """Return mean and variance of the truth at the places, each of shape ``(m,)``."""
        places = np.ascontiguousarray(self.covariance.isotropic(xy_m))
        mean, var = np.empty(len(places)), np.empty(len(places))
        groups, middles = blocks_of(places, self.sharing.side_m)
        count = min(self.sharing.neighbours, len(self._places))
        near = np.sort(np.asarray(self._tree.query(middles, k=count)[1]).reshape(-1, count), axis=1)

        def some(task: Index) -> None:
            for block in task:
                block_rows = groups[block]
                local = _Local(self, near[block])
                for start in range(0, len(block_rows), _MOST_IN_BLOCK):
                    rows = block_rows[start : start + _MOST_IN_BLOCK]
                    mean[rows], var[rows] = local.predict(places[rows], part[rows])

        tasks = np.array_split(np.arange(len(groups)), min(len(groups), _TASKS_A_CORE * cores()))
        spread(some, tasks)
        mean += self._part_mean[part]
        var += self._part_var[part]
        return mean, np.maximum(var, 0.0)

    def with_sharing(self, sharing: Sharing) -> LocalSystem:
        """Return the same system with other blocks and neighbourhoods."""
        return LocalSystem(self.readings, self.effects, self.covariance, self._linear, sharing)

    def posterior_covariance(self, a_m: Array, a_part: Index, b_m: Array, b_part: Index) -> Array:
        """Return the covariance of the truth at `a` with that at `b`, given the readings.

        Shape ``(len(a_m), len(b_m))``. Only the readings nearest to the middle of `b` are used.
        """
        apart = np.linalg.norm(self.readings.xy_m - b_m.mean(axis=0), axis=1)
        rows = np.sort(np.argsort(apart, kind="stable")[:_NEAR_MIDDLE])
        system = System(self.readings.take(rows), self.effects, self.covariance)
        return system.posterior_covariance(a_m, a_part, b_m, b_part)

    def leave_one_out(self) -> tuple[Array, Array]:
        """Return mean and variance of each reading from its nearest others, shape ``(n,)`` each."""
        near = nearest_others(self._places, min(_LEFT_OUT_GIVEN, len(self._places) - 1))
        rows = np.arange(len(near))
        weights, var = conditionals(self.readings, rows, near, self.covariance)
        residual = self.residuals(self.readings.value)
        mean = (weights * residual[near]).sum(axis=1)
        return self.readings.value - residual + mean, var

    def part_effect(self, code: int) -> tuple[float, float]:
        """Return mean and standard deviation of the effect of part `code` given the readings."""
        mean, sd = self._linear.part(code)
        return mean + float(self.effects.part_mean[code]), sd

    def day_effect(self, code: int) -> tuple[float, float]:
        """Return mean and standard deviation of the effect of day `code` given the readings."""
        return self._linear.day(code)


class _Local:
    """Ordinary kriging from one neighbourhood."""

    def __init__(self, system: LocalSystem, near: Index) -> None:
        model, readings = system.covariance, system.readings
        self._model = model
        self._places = system._places[near]  # noqa: SLF001  (one module, one thing)
        self._part = readings.part[near]
        total = correlation_in_place(
            model.kind, distances(self._places, self._places), model.range_m
        )
        total *= model.partial_sill
        diagonal = total.reshape(-1)[:: len(near) + 1]
        diagonal += readings.noise_var[near] + (model.nugget or _JITTER * model.sill)
        if system.places_repeat:
            alike = same(readings.place[near], readings.place[near])
            total += model.nugget * (alike - np.eye(len(near)))
        self._lower = dpotrf(total, lower=1, clean=0, overwrite_a=1)[0]
        right = np.empty((len(near), 2), order="F")
        right[:, 0], right[:, 1] = 1.0, system._centred[near]  # noqa: SLF001
        solved = dpotrs(self._lower, right, lower=1, overwrite_b=1)[0]
        self._information = float(solved[:, 0].sum())
        self._level = float(solved[:, 1].sum()) / self._information
        solved[:, 1] -= self._level * solved[:, 0]
        self._rows = solved[:, ::-1].T

    def predict(self, places: Array, part: Index) -> tuple[Array, Array]:
        model = self._model
        c = distances(self._places, places)
        at_reading = np.argwhere(c == 0.0) if model.nugget > 0 and not c.min() > 0 else None
        c = correlation_in_place(model.kind, c, model.range_m)
        c *= model.partial_sill
        if at_reading is not None:
            rows, columns = at_reading.T
            alike = self._part[rows] == part[columns]
            c[rows[alike], columns[alike]] += model.nugget
        mean, reached = self._rows @ c
        half = dtrsm(1.0, self._lower, c.T, side=1, lower=1, trans_a=1, overwrite_b=1).T
        np.multiply(half, half, out=half)
        var = model.sill - half.sum(axis=0)
        missing = 1.0 - reached
        return self._level + mean, var + missing * missing / self._information


def blocks_of(places: Array, side_m: float) -> tuple[list[Index], Array]:
    """Return the rows of the places of each square block, and the middles of the blocks."""
    if side_m <= 0:
        return [np.array([row], dtype=np.int64) for row in range(len(places))], places
    cell = np.floor(places / side_m).astype(np.int64)
    order = np.lexsort(cell.T)
    edges = np.flatnonzero(np.any(np.diff(cell[order], axis=0) != 0, axis=1)) + 1
    groups = [np.asarray(group, dtype=np.int64) for group in np.split(order, edges)]
    middles = (cell[[group[0] for group in groups]] + 0.5) * side_m
    return groups, np.asarray(middles, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class SharingRule:
    """How far sharing may go.

    Parameters
    ----------
    tolerance
        Largest `Sharing.error_share`.
    most_rounds
        Most times blocks shrink.
    sample
        Places at which the error is measured.
    growth
        Factor of the neighbourhood each time blocks shrink.
    """

    tolerance: float
    most_rounds: int
    sample: int
    growth: float


def tune_sharing(system: LocalSystem, how: SharingRule) -> LocalSystem:
    """Return `system` with blocks small and neighbourhoods large enough for the tolerance.

    The error of sharing is measured beside some of the readings, off their places by 0.37 of a
    spacing east and north, against neighbourhoods of each place's own of four times the size.
    """
    places = system.readings.xy_m
    rows = np.linspace(0, len(places) - 1, min(how.sample, len(places))).astype(np.int64)
    probes = places[rows] + 0.37 * typical_spacing(places)
    part = system.readings.part[rows]
    own = Sharing(min(4 * system.sharing.neighbours, len(places)), 0.0)
    truth, var = system.with_sharing(own).predict(probes, part)
    scale = max(float(np.sqrt(var).mean()), 1e-300)
    for round_ in range(how.most_rounds + 1):
        found = system.predict(probes, part)[0]
        error = float(np.sqrt(np.mean((found - truth) ** 2))) / scale
        shared = system.sharing
        system = system.with_sharing(Sharing(shared.neighbours, shared.side_m, error))
        if error <= how.tolerance or round_ == how.most_rounds:
            break
        more = int(how.growth * shared.neighbours)
        system = system.with_sharing(Sharing(more, shared.side_m / 1.5))
    return system


def typical_spacing(xy_m: Array) -> float:
    """Return the side of the square of ground that falls to one reading [m]."""
    extent = np.ptp(xy_m, axis=0)
    area = float(np.prod(extent[extent > 0])) if np.any(extent > 0) else 1.0
    return float((area / max(1, len(xy_m))) ** (1.0 / max(1, int(np.sum(extent > 0)))))

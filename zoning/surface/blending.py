"""The mean of a prediction averaged over many covariances of one family.

With ``w_k`` the weight of a system (`zoning.surface.system`) in the average, ``b_k`` its level and
``a_k = P_k z`` the weights of its readings, the mean at a place of part ``g`` is a sum over ``k``
of ``w_k`` times::

    b_k + part_mean_kg + part_var_kg sum_(i in g) a_ki
        + sum_i a_ki [ partial_sill_k rho(h_i / range_k) + nugget_k 1(h_i = 0) ]

All but the correlation can be summed beforehand. Where there are more ranges than `_RANGES`, each
correlation is taken between that many Chebyshev points of the logarithm of the range (polynomial
interpolation: Trefethen L.N., Approximation Theory and Approximation Practice, 2013; from memory),
so that a thousand systems cost as much as a few.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from zoning.surface.covariance import Array, Covariance, Index, correlation_in_place, distances
from zoning.surface.inference import Inference
from zoning.surface.system import chunks_by_code
from zoning.surface.threads import spread

_CHUNK_VALUES = 250_000
_RANGES = 6


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """The system of one covariance: its weight, level, and the weights of the readings."""

    weight: float
    covariance: Covariance
    level: float
    weights: Array


class Blend:
    """Sum of the weighted means of solved systems of one family and heading.

    Parameters
    ----------
    nodes
        Each inference with the systems solved round it; their weights count as they are.
    """

    def __init__(self, nodes: Sequence[tuple[Inference, Sequence[Solved]]]) -> None:
        self._model = nodes[0][0].fit.covariance
        rows = np.unique(np.concatenate([inference.used for inference, _ in nodes]))
        places = np.empty((len(rows), nodes[0][0].raw.xy_m.shape[1]))
        self._part = np.empty(len(rows), np.int64)
        self._constant = np.zeros(len(nodes[0][0].system.effects.part_mean))
        self._nugget = np.zeros(len(rows))
        ranges, by_range = [], []
        for inference, solved in nodes:
            at, effects = np.searchsorted(rows, inference.used), inference.system.effects
            places[at], self._part[at] = inference.raw.xy_m, inference.raw.part
            weight = np.array([s.weight for s in solved])
            own = np.zeros((len(solved), len(rows)))
            own[:, at] = weight[:, None] * np.array([s.weights for s in solved])
            in_part = np.bincount(self._part[at], own.sum(axis=0)[at], len(effects.part_mean))
            self._constant += float(weight @ [s.level for s in solved])
            self._constant += weight.sum() * effects.part_mean + effects.part_var * in_part
            self._nugget += np.array([s.covariance.nugget for s in solved]) @ own
            ranges += [s.covariance.range_m for s in solved]
            by_range.append(np.array([s.covariance.partial_sill for s in solved])[:, None] * own)
        self._places = self._model.isotropic(places)
        self._ranges_m, basis = _few_ranges(np.array(ranges))
        self._by_range = basis.T @ np.vstack(by_range)

    def mean(self, xy_m: Array, part: Index) -> Array:
        """Return the weighted sum of the means at the places, shape ``(m,)``."""
        mean = np.empty(len(xy_m))

        def chunk(rows: Index) -> None:
            mean[rows] = self._chunk(xy_m[rows], int(part[rows[0]]))

        step = max(1, _CHUNK_VALUES // max(1, len(self._part)))
        spread(chunk, chunks_by_code(part, step))
        return mean

    def _chunk(self, xy_m: Array, part: int) -> Array:
        distance = distances(self._places, self._model.isotropic(xy_m))
        mean = np.full(len(xy_m), self._constant[part])
        if distance.size and distance.min() <= 0:
            mean += (self._nugget * (self._part == part)) @ (distance == 0.0)
        for reach, weights in zip(self._ranges_m, self._by_range, strict=True):
            mean += weights @ correlation_in_place(self._model.kind, distance.copy(), float(reach))
        return mean


def _few_ranges(ranges_m: Array) -> tuple[Array, Array]:
    """Return at most `_RANGES` ranges, and what each stands for of those given: ``(n, few)``."""
    few, of = np.unique(ranges_m, return_inverse=True)
    if len(few) <= _RANGES:
        return few, np.asarray(of[:, None] == np.arange(len(few)), np.float64)
    ends = np.log(few[[0, -1]])
    points = np.cos(np.pi * (np.arange(_RANGES) + 0.5) / _RANGES)
    points = ends.mean() + 0.5 * (ends[1] - ends[0]) * points
    basis = np.ones((len(ranges_m), _RANGES))
    for k, point in enumerate(points):
        for other in np.delete(points, k):
            basis[:, k] *= (np.log(ranges_m) - other) / (point - other)
    return np.exp(points), basis

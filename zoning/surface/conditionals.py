"""Readings given a few neighbours: the building block of everything for very many readings.

The joint density of many readings is close to the product of each one's density given a few near
ones that come before it in some order (Vecchia A.V., Journal of the Royal Statistical Society B 50,
1988, 297-312; Katzfuss M., Guinness J., Statistical Science 36, 2021, 124-141; from memory). The
order is a fixed shuffle, so that early readings are far apart and late ones close together.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from scipy.spatial import cKDTree

from zoning.surface.covariance import Array, Covariance, Index, correlation_in_place
from zoning.surface.system import Readings

_BATCH_VALUES = 400_000
_SHUFFLE_SEED = 20_260_901
_STEP_GROWTH = 1.125


def conditionals(
    readings: Readings, rows: Index, near: Index, covariance: Covariance
) -> tuple[Array, Array]:
    """Return weights and variance of the readings `rows` given others, by simple kriging.

    Parameters
    ----------
    readings
        All readings; their errors count.
    rows
        Readings to be predicted, shape ``(t,)``.
    near
        Rows of the readings each is given, shape ``(t, m)``.
    covariance
        Of the residual.

    Returns
    -------
    weights, var
        Shapes ``(t, m)`` and ``(t,)``.
    """
    weights, var = np.empty(near.shape), np.empty(len(rows))
    places = covariance.isotropic(readings.xy_m)
    for cut in _batches(len(rows), near.shape[1]):
        own, others = rows[cut], near[cut]
        among = _covariance(places[others], places[others], covariance)
        among += covariance.nugget * _alike(readings.place[others], readings.place[others])
        diagonal = np.arange(near.shape[1])
        among[:, diagonal, diagonal] += readings.noise_var[others] + 1e-10 * covariance.sill
        across = _covariance(places[others], places[own][:, None], covariance)
        across += covariance.nugget * _alike(readings.place[others], readings.place[own][:, None])
        found = np.linalg.solve(among, across)[:, :, 0]
        weights[cut] = found
        spent = np.einsum("ij,ij->i", found, across[:, :, 0])
        var[cut] = covariance.sill + readings.noise_var[own] - spent
    return weights, np.maximum(var, 1e-12 * max(covariance.sill, 1e-300))


def shuffled(count: int) -> Index:
    """Return a fixed shuffle of ``range(count)``."""
    return np.random.default_rng(_SHUFFLE_SEED).permutation(count)


def earlier_neighbours(xy_m: Array, order: Index, ranks: Index, count: int) -> Index:
    """Return for the readings at `ranks` of `order` their `count` nearest among earlier ones.

    The earlier ones are those before the last step of a series of ranks that grows by an eighth.
    Shape ``(len(ranks), count)``; every rank must be at least ``2 * count``.
    """
    near = np.empty((len(ranks), count), dtype=np.int64)
    sizes = np.unique(_steps(2 * count, int(ranks.max(initial=2 * count))))
    step = np.searchsorted(sizes, ranks, side="right") - 1
    for code in np.unique(step):
        tree = cKDTree(xy_m[order[: sizes[code]]])
        here = np.flatnonzero(step == code)
        found = tree.query(xy_m[order[ranks[here]]], k=count)[1]
        near[here] = order[np.asarray(found).reshape(len(here), count)]
    return near


def _steps(first: int, last: int) -> Index:
    count = 1 + math.ceil(math.log(max(last / first, 1.0)) / math.log(_STEP_GROWTH))
    return np.asarray(first * _STEP_GROWTH ** np.arange(count), dtype=np.int64)


def nearest_others(xy_m: Array, count: int) -> Index:
    """Return the `count` nearest other readings of each, shape ``(n, count)``."""
    found = np.asarray(cKDTree(xy_m).query(xy_m, k=count + 1)[1])
    own = found == np.arange(len(xy_m))[:, None]
    own[~own.any(axis=1), -1] = True
    return np.asarray(found[~own].reshape(len(xy_m), count), dtype=np.int64)


def _batches(count: int, width: int) -> Iterator[slice]:
    step = max(1, _BATCH_VALUES // max(1, width * width))
    return (slice(start, start + step) for start in range(0, count, step))


def _covariance(a_m: Array, b_m: Array, covariance: Covariance) -> Array:
    """Return the covariance of stacks of places: (t, m, d) and (t, k, d) give (t, m, k)."""
    square = np.zeros((len(a_m), a_m.shape[1], b_m.shape[1]))
    for axis in range(a_m.shape[2]):
        step = a_m[:, :, None, axis] - b_m[:, None, :, axis]
        square += step * step
    distance = np.sqrt(square, out=square)
    rho = correlation_in_place(covariance.kind, distance, covariance.range_m)
    rho *= covariance.partial_sill
    return rho


def _alike(a: Index, b: Index) -> Array:
    return np.asarray(a[:, :, None] == b[:, None, :], dtype=np.float64)

"""Validation in closed form: one reading left out, or a whole block of ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from zoning.surface.covariance import Array, Index
from zoning.surface.scores import crps, interval_hits
from zoning.surface.system import System


@dataclass(frozen=True, slots=True)
class Score:
    """How readings left out were predicted.

    Parameters
    ----------
    count, inside
        Readings left out, and how many of them fell inside their interval.
    bias, rmse, crps
        Mean error, root mean square error and continuous ranked probability score [unit of the
        readings]; 0 where nothing was left out.
    """

    count: int
    inside: int
    bias: float
    rmse: float
    crps: float


def score(observed: Array, mean: Array, var: Array, level: float) -> Score:
    """Return the score of predictions ``N(mean, var)``; `level` is the interval's probability."""
    if not len(observed):
        return Score(0, 0, 0.0, 0.0, 0.0)
    error, sd = mean - observed, np.sqrt(var)
    return Score(
        len(observed),
        interval_hits(observed, mean, sd, level),
        float(error.mean()),
        float(np.sqrt(np.mean(error**2))),
        float(crps(observed, mean, sd).mean()),
    )


def spatial_blocks(xy_m: Array, count: int) -> Index:
    """Return a block number for each place: the ground is halved along its longer side.

    Halving goes on for at least `count` blocks of nearly equal numbers, or a block a place.
    """
    blocks = [np.arange(len(xy_m))]
    while len(blocks) < count and max(len(block) for block in blocks) > 1:
        blocks = [half for block in blocks for half in _halves(xy_m, block)]
    number = np.empty(len(xy_m), dtype=np.int64)
    for code, block in enumerate(blocks):
        number[block] = code
    return number


def _halves(xy_m: Array, block: Index) -> list[Index]:
    if len(block) < 2:
        return [block]
    side = int(np.argmax(np.ptp(xy_m[block], axis=0)))
    order = block[np.lexsort((xy_m[block, 1 - side], xy_m[block, side]))]
    return [order[: len(order) // 2], order[len(order) // 2 :]]


def leave_blocks_out(system: System, block: Index) -> tuple[Array, Array]:
    """Return mean and variance of each reading predicted without any reading of its block.

    Closed form: with ``B`` a block, the errors of its readings are ``P_BB^-1 [P z]_B`` with
    covariance ``P_BB^-1``; the covariance parameters stay those of all readings.
    """
    precision = system.precision()
    value = system.readings.value
    mean, var = np.empty(len(value)), np.empty(len(value))
    for code in np.unique(block):
        rows = np.flatnonzero(block == code)
        factor = cho_factor(precision[np.ix_(rows, rows)], lower=True)
        mean[rows] = value[rows] - cho_solve(factor, system.weights[rows])
        var[rows] = np.diag(cho_solve(factor, np.eye(len(rows))))
    return mean, var

"""Scores of a prediction with its uncertainty."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import ndtr, ndtri

from zoning.surface.covariance import Array


def crps(observed: Array, mean: Array, sd: Array) -> Array:
    """Return the continuous ranked probability score of normal predictions, shaped as `observed`.

    ``sd (z (2 Phi(z) - 1) + 2 phi(z) - 1/sqrt(pi))`` with ``z = (observed - mean) / sd``, in the
    unit of the readings; 0 is perfect and with ``sd = 0`` it is the absolute error (Gneiting T.,
    Raftery A.E., Journal of the American Statistical Association 102, 2007, 359-378; from memory).
    """
    safe = np.where(sd > 0, sd, 1.0)
    z = (observed - mean) / safe
    density = np.exp(-0.5 * z * z) / math.sqrt(2 * math.pi)
    score = safe * (z * (2 * ndtr(z) - 1) + 2 * density - 1 / math.sqrt(math.pi))
    return np.where(sd > 0, score, np.abs(observed - mean))


def interval_hits(observed: Array, mean: Array, sd: Array, level: float) -> int:
    """Return how many observations lie inside their central interval of probability `level`."""
    half = float(ndtri(0.5 + level / 2)) * sd
    return int(np.sum(np.abs(observed - mean) <= half * (1 + 1e-12)))

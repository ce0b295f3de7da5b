"""How many stations a wanted precision asks for."""

from __future__ import annotations

import math

from scipy.stats import norm, t


def stations_for(spread: float, error: float, confidence: float) -> int:
    """Return the least number of stations whose mean is known to within `error`.

    ``n = (t s / e)^2`` with Student's t on ``n - 1`` degrees of freedom, iterated because t depends
    on n (Cochran W.G., Sampling Techniques, 3rd edition, 1977, section 4.4; from memory). It holds
    for independent stations of one population; stations near each other say less.

    Parameters
    ----------
    spread, error
        Standard deviation between stations and half width of the interval wanted, in one unit
        (centimetres, or both as shares of the mean).
    confidence
        Probability that the interval holds the true mean, between 0 and 1.

    Raises
    ------
    ValueError
        If a number is outside its range.
    """
    if not (spread >= 0 and error > 0 and 0 < confidence < 1):
        raise ValueError("spread must not be negative, error positive, confidence between 0 and 1")
    z = float(norm.ppf(0.5 + confidence / 2))
    n = max(2, math.ceil((z * spread / error) ** 2))
    while half_width(n, spread, confidence) > error:
        n += 1
    return n


def half_width(n: int, spread: float, confidence: float) -> float:
    """Return the half width of the interval of a mean of `n` stations, in the unit of `spread`."""
    return float(t.ppf(0.5 + confidence / 2, n - 1)) * spread / math.sqrt(n)

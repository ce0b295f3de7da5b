"""Readings that are no pan: a stone met, a station noted wrongly.

A reading that does not fit is only a suspect: in a sound field one in four hundred lies three
standard errors off, and to set it aside costs more than it saves. So suspects are taken away
worst first, the covariance is found anew each time, and all the splits met enter the average by
their odds (`zoning.surface.averaging`). A reading set aside is thought to be normal round what the
others say, `Screening.spread` times as wide as a sound one (the contaminated normal of Box G.E.P.,
Tiao G.C., Biometrika 55, 1968, 119-129; from memory); how many there are follows a beta-binomial
law, so that the first is thought unlikely and each further one less so. With residual ``r`` and
variance ``v`` of the reading from all others, ``j`` readings of ``n`` set aside before it and
``b = 1 / expected_share - 1`` the log odds of a split rise with that reading by::

    log p(kept | theta') p(theta') - log p(kept and it | theta) p(theta)
        + log N(r; 0, spread**2 v) + log((1 + j) / (b + n - 1 - j))

with ``theta`` and ``theta'`` the covariance found before and after. Finding it anew is what
unmasks stones that hide each other: with each one gone the sill falls and the rest stand out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from zoning.surface.covariance import Array, Index
from zoning.surface.local import LocalSystem, typical_spacing
from zoning.surface.system import System

_NEAR_SPACINGS = 2.0


@dataclass(frozen=True, slots=True)
class Screening:
    """When a reading counts as an outlier.

    Parameters
    ----------
    limit
        Standardised leave-one-out residual beyond which a reading is a suspect; for many readings
        the one that a sound reading in so many passes once is taken.
    most_share
        Largest share of the readings that may be set aside.
    fewest
        Fewest readings with which any is set aside.
    expected_share
        Share of readings that are thought to be no pan before any is looked at.
    spread
        Standard deviation of such a reading as a multiple of a sound one's.
    """

    limit: float
    most_share: float
    fewest: int
    expected_share: float
    spread: float

    def log_odds(self, gone: int, count: int) -> float:
        """Return the prior log odds of one more of `count` when `gone` are set aside."""
        b = 1.0 / self.expected_share - 1.0
        return math.log((1.0 + gone) / (b + count - 1.0 - gone))

    def log_density(self, residual: float, var: float) -> float:
        """Return the log density of a reading that is no pan, from its leave-one-out residual."""
        wide = self.spread**2 * var
        return -0.5 * (math.log(2.0 * math.pi * wide) + residual**2 / wide)


def worst(
    system: System | LocalSystem, censored: Index, screening: Screening | None, room: int
) -> Index:
    """Return the suspects, worst first, at most `room`.

    A reading near a worse one waits: the worse one may be why it does not fit.
    """
    count = len(system.readings.value)
    if screening is None or room <= 0 or count < screening.fewest:
        return np.empty(0, np.int64)
    mean, var = system.leave_one_out()
    t = np.abs(system.readings.value - mean) / np.sqrt(var)
    t[censored] = 0.0
    limit = max(screening.limit, float(ndtri(1.0 - 0.5 / count)))
    bad = np.flatnonzero(t > limit)
    bad = bad[np.argsort(-t[bad], kind="stable")]
    xy = system.readings.xy_m
    return _apart(xy, bad, _NEAR_SPACINGS * typical_spacing(xy))[:room]


def _apart(xy_m: Array, rows: Index, distance_m: float) -> Index:
    """Return those of `rows` that lie farther than `distance_m` from all kept before them."""
    kept: list[int] = []
    for row in rows:
        if not kept or np.linalg.norm(xy_m[kept] - xy_m[row], axis=1).min() > distance_m:
            kept.append(int(row))
    return np.array(kept, dtype=np.int64)

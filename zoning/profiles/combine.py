"""Repeated insertions of one station to one base: robust, and with bases that were not reached."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from zoning.profiles.rules import rule

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]
_LOG_SQRT_2PI = 0.9189385332046727


@dataclass(frozen=True, slots=True, eq=False)
class Bases:
    """What the insertions of one station say about the base of the pan.

    Parameters
    ----------
    base_cm
        Base, or the depth below which it lies where `bound` is True, shape ``(n,)`` [cm].
    bound
        True where only a lower bound is known.
    aside
        True where the insertion is set aside because it stands alone.
    """

    base_cm: Numbers
    bound: Flags
    aside: Flags

    @property
    def known(self) -> Numbers:
        """Bases that were reached and are not set aside."""
        return self.base_cm[~self.bound & ~self.aside]

    @property
    def telling(self) -> Numbers:
        """Lower bounds that say more than the bases that were reached, none set aside."""
        bounds = self.base_cm[self.bound & ~self.aside]
        return bounds[bounds > self.known.mean()] if len(self.known) else bounds


@dataclass(frozen=True, slots=True)
class Base:
    """The base of one station [cm]; with `censored` it lies deeper than `base_cm`."""

    base_cm: float
    spread_cm: float
    n: int
    censored: bool


def set_aside(base_cm: Numbers, bound: Flags, tolerance_cm: float) -> Flags:
    """Mark insertions far from the middle of their station where most of the others agree.

    A lower bound that lies shallower than the bases reached is no contradiction: it counts neither
    for the middle nor as far from it. The farthest goes first, as long as those set aside stay
    fewer than those that are left: two insertions cannot tell which of them is alone.
    """
    aside = np.zeros(len(base_cm), dtype=bool)
    if bound.all():
        return aside
    counts = ~bound | (base_cm > np.median(base_cm[~bound]))
    while (aside.sum() + 1) * 2 < counts.sum():
        left = counts & ~aside
        off = np.where(left, np.abs(base_cm - np.median(base_cm[left])), -1.0)
        farthest = int(off.argmax())
        if off[farthest] <= tolerance_cm:
            break
        aside[farthest] = True
    return aside


def tolerance_cm(groups: Sequence[Numbers]) -> float:
    """Return how far from the middle of its station an insertion may lie [cm].

    The larger of ``outlier_cm`` and ``outlier_spreads`` times the robust spread between insertions
    of the data set (1.4826 times the median distance from the middle, stations of three or more).
    """
    off = [np.abs(bases - np.median(bases)) for bases in groups if len(bases) >= 3]
    spread = 1.4826 * float(np.median(np.concatenate(off))) if off else 0.0
    return max(rule("outlier_cm"), rule("outlier_spreads") * spread)


def shrunk_sd_cm(groups: Sequence[Numbers], prior_sd_cm: float) -> float:
    """Return the spread of the base between insertions of one station [cm].

    ``sqrt((w s0^2 + sum of squares) / (w + degrees of freedom))``: the spread that the repeats in
    `groups` show, drawn towards `prior_sd_cm` (s0) as if that had been seen with
    ``within_station_sd_weight`` (w) degrees of freedom: the scaled inverse chi-square prior of a
    normal variance. Any number of repeats, none included.
    """
    squares = sum(float(((bases - bases.mean()) ** 2).sum()) for bases in groups if len(bases) > 1)
    freedom = sum(len(bases) - 1 for bases in groups if len(bases) > 1)
    weight = rule("within_station_sd_weight")
    return float(np.sqrt((weight * prior_sd_cm**2 + squares) / (weight + freedom)))


def combine(bases: Bases, sd_cm: float) -> Base:
    """Return the base of a station from its insertions.

    Bounds that lie above the mean of the bases reached say nothing new and are left out. With as
    many telling bounds as bases reached, or more, the station is censored: at the mean of both,
    which the true mean cannot lie above, or at the deepest bound where no base was reached.
    Otherwise the mean is that of a normal distribution with some values known only from below.
    """
    known, telling = bases.known, bases.telling
    n = len(known) + len(telling)
    spread = float(known.std(ddof=1)) if len(known) > 1 else float("nan")
    if n == 0:
        return Base(float("nan"), spread, 0, censored=False)
    if not len(telling):
        return Base(float(known.mean()), spread, n, censored=False)
    if not len(known):
        return Base(float(telling.max()), spread, n, censored=True)
    if len(telling) >= len(known):
        mean = float(np.concatenate([known, telling]).mean())
        return Base(mean, spread, n, censored=True)
    return Base(censored_mean_cm(known, telling, sd_cm), spread, n, censored=False)


def censored_mean_cm(known: Numbers, bounds: Numbers, sd_cm: float) -> float:
    """Return the most likely mean of a normal sample whose last values are known only from below.

    Expectation-maximisation with known `sd_cm`: a value above bound c counts as
    ``m + s h((c - m) / s)``, h the hazard of the normal distribution (Tobin 1958, from memory).
    """
    mean = float(np.concatenate([known, bounds]).mean())
    for _ in range(100):
        z = (bounds - mean) / sd_cm
        hazard = np.exp(-0.5 * z * z - _LOG_SQRT_2PI - log_ndtr(-z))
        new = float(np.concatenate([known, mean + sd_cm * hazard]).mean())
        if abs(new - mean) < 1e-9:
            break
        mean = new
    return mean

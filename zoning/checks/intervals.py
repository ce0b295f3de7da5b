"""What a few pits say about a share of the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import betaincinv

from zoning.checks.rules import rule

Side = Literal["most", "least", "open"]


@dataclass(frozen=True, slots=True)
class Share:
    """`count` of `of` places, with the exact interval on the share of the ground.

    The pits of `torn` more of them disagree. They are taken both ways, so that they settle nothing:
    the interval reaches from its lower limit with all of them failed to its upper limit with all
    of them passed.
    """

    count: int
    of: int
    torn: int = 0

    @property
    def share(self) -> float:
        """Share of the places, torn ones by half; NaN without any."""
        return (self.count + self.torn / 2) / self.of if self.of else float("nan")

    @property
    def interval(self) -> tuple[float, float]:
        """Clopper-Pearson interval at ``interval_level``."""
        level = rule("interval_level")
        low, _ = clopper_pearson(self.count, self.of, level)
        _, high = clopper_pearson(self.count + self.torn, self.of, level)
        return low, high

    @property
    def side(self) -> Side:
        """Whether most of the ground counts, most does not, or the pits leave it open."""
        low, high = self.interval
        if low > rule("share_least"):
            return "most"
        return "least" if high < rule("share_least") else "open"

    @property
    def so_far(self) -> Side:
        """What more of the places show than not, however few they are."""
        if self.share > 0.5:
            return "most"
        return "least" if self.share < 0.5 else "open"

    def plus(self, count: int, of: int) -> Share:
        """Return the share after `of` further pits, `count` of which count."""
        return Share(self.count + count, self.of + of, self.torn)


def clopper_pearson(count: int, of: int, level: float) -> tuple[float, float]:
    """Return the exact two-sided interval on a share seen `count` times in `of`.

    The limits are points of the beta distribution: ``B(a/2; k, n - k + 1)`` and
    ``B(1 - a/2; k + 1, n - k)`` with ``a = 1 - level`` (Clopper and Pearson, Biometrika 26, 1934,
    404-413, from memory). It covers at least `level` at every share; 0 to 1 where nothing was seen.

    Raises
    ------
    ValueError
        If `count` is not between 0 and `of`.
    """
    if not 0 <= count <= of:
        raise ValueError(f"{count} of {of} is no share")
    tail = (1.0 - level) / 2.0
    low = float(betaincinv(count, of - count + 1, tail)) if count else 0.0
    high = float(betaincinv(count + 1, of - count, 1.0 - tail)) if count < of else 1.0
    return float(np.clip(low, 0.0, 1.0)), float(np.clip(high, 0.0, 1.0))

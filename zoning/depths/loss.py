r"""What a working depth costs at a place where the pan is known only by its distribution.

The need :math:`N` at a place is the depth of the pan base plus the clearance where there is a pan,
and 0 where there is none. A depth :math:`d` costs the pinball loss

.. math:: L(d, N) = a\,(N - d)^+ + (1 - a)\,(d - N)^+

with the assurance :math:`a`, so the depth of least expected loss is the :math:`a` point of the
need: the critical fractile of a cost :math:`a` a centimetre too shallow against :math:`1 - a` a
centimetre too deep (source ``newsvendor_1951``). Depth 0 means that the legs are lifted out.

The base is a normal distribution cut off at the surface: no pan lies above ground. A mean above the
surface is read as a mean at the surface.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from zoning.model import PanSurface

Floats = NDArray[np.float64]

_SMALLEST_SD_CM = 1e-9  # keeps the formulas defined where the base is known exactly


@dataclass(frozen=True, slots=True, eq=False)
class _Base:
    """Depth of the pan base given a pan: a normal cut off at 0, one a place."""

    mean: Floats
    sd: Floats
    above: Floats  # weight of the uncut normal above ground

    @classmethod
    def of(cls, surface: PanSurface) -> _Base:
        mean = np.maximum(surface.base_mean_cm, 0.0)
        sd = np.maximum(surface.base_sd_cm, _SMALLEST_SD_CM)
        return cls(mean, sd, ndtr(-mean / sd))

    def expected(self) -> Floats:
        """Return the mean of the cut-off distribution [cm]."""
        return self.mean + self.sd * _density(self.mean / self.sd) / (1.0 - self.above)

    def below(self, depth_cm: ArrayLike) -> Floats:
        """Return the probability that the base lies at `depth_cm` or less."""
        depth = np.maximum(depth_cm, 0.0)
        inside = ndtr((depth - self.mean) / self.sd) - self.above
        return np.clip(inside / (1.0 - self.above), 0.0, 1.0)

    def excess(self, depth_cm: float) -> Floats:
        """Return the mean of how far `depth_cm` lies below the base, 0 where it lies above [cm]."""
        if depth_cm <= 0:
            return np.zeros_like(self.mean)
        uncut = self._partial(depth_cm) - self._partial(0.0) - depth_cm * self.above
        return np.maximum(uncut, 0.0) / (1.0 - self.above)

    def quantile(self, share: Floats) -> Floats:
        """Return the depth that the base does not exceed with probability `share` [cm]."""
        return self.mean + self.sd * ndtri(self.above + share * (1.0 - self.above))

    def _partial(self, depth_cm: float) -> Floats:
        z = (depth_cm - self.mean) / self.sd
        return self.sd * (z * ndtr(z) + _density(z))


def expected_loss(
    surface: PanSurface, depths_cm: ArrayLike, *, clearance_cm: float, assurance: float
) -> Floats:
    """Return the expected pinball loss of each depth at each place [cm].

    Parameters
    ----------
    surface
        The pan at `n` places.
    depths_cm
        `k` working depths, 0 for legs lifted out [cm].
    clearance_cm
        How far below the pan base the points should run [cm].
    assurance
        Weight of a centimetre too shallow, between 0 and 1; too deep weighs ``1 - assurance``.

    Returns
    -------
    NDArray, shape ``(n, k)``
        Convex along the depths at every place.

    Raises
    ------
    ValueError
        If the surface holds a number that is not finite, a negative standard deviation or a
        probability outside 0 to 1.
    """
    _check(surface)
    depths = np.atleast_1d(np.asarray(depths_cm, dtype=np.float64))
    base = _Base.of(surface)
    mean = base.expected()
    pan = surface.pan_probability
    loss = np.empty((len(pan), len(depths)))
    for column, depth in enumerate(depths):
        point = float(depth) - clearance_cm
        over = base.excess(point)
        under = np.maximum(mean - point + over, 0.0)
        there = assurance * under + (1.0 - assurance) * over
        loss[:, column] = pan * there + (1.0 - pan) * (1.0 - assurance) * depth
    return loss


def probability_enough(surface: PanSurface, depth_cm: ArrayLike, *, clearance_cm: float) -> Floats:
    """Return the probability that `depth_cm` is all that is needed, shape ``(n,)``.

    A place without a pan needs nothing, so ``1 - p + p F(d - clearance)`` with `p` the probability
    of a pan and `F` the distribution of its base; `depth_cm` is one depth or one a place.
    """
    pan = surface.pan_probability
    point = np.asarray(depth_cm, dtype=np.float64) - clearance_cm
    return 1.0 - pan + pan * _Base.of(surface).below(point)


def needed_depth(surface: PanSurface, *, clearance_cm: float, assurance: float) -> Floats:
    """Return the depth of least expected loss at each place, free of steps and limits [cm].

    It is the `assurance` point of the need: 0 where the probability of no pan alone reaches the
    assurance, else the base at ``(assurance - 1 + p) / p`` plus the clearance, with `p` the
    probability of a pan (source ``newsvendor_1951``). For a base N(33, 4) that is certain to be
    there and an assurance of 0.8 it is 36.37 cm before clearance.
    """
    _check(surface)
    pan = surface.pan_probability
    works = pan > 1.0 - assurance
    share = (assurance - 1.0 + pan) / np.where(works, pan, 1.0)
    base = _Base.of(surface).quantile(np.where(works, np.maximum(share, 0.0), 0.5))
    return np.where(works, np.maximum(base, 0.0) + clearance_cm, 0.0)


def _density(z: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi))


def _check(surface: PanSurface) -> None:
    mean, sd, pan = surface.base_mean_cm, surface.base_sd_cm, surface.pan_probability
    if not (np.isfinite(mean).all() and np.isfinite(sd).all() and np.isfinite(pan).all()):
        raise ValueError("The pan surface holds a value that is not a finite number.")
    if (sd < 0).any() or (pan < 0).any() or (pan > 1).any():
        raise ValueError("The pan surface holds a negative spread or a probability outside 0 to 1.")

r"""What a further station is worth: how much it is expected to lower the plan's expected loss.

Only how well a place is known after a further reading can be told before it is taken, not what it
will say. At a place with base :math:`N(\mu, \sigma^2)`, readings that explain the share
:math:`s^2` of the variance move the mean by :math:`s\sigma Z`, :math:`Z \sim N(0, 1)`, and leave
the variance :math:`(1 - s^2)\sigma^2`. In the same way an answer about the pan moves the probit
:math:`h` of its probability: the pan is there where :math:`u > 0` with :math:`u \sim N(h, 1)`, and
answers that explain the share :math:`r^2` of the variance of :math:`u` leave the probability
:math:`\Phi((h + r Y)/\sqrt{1 - r^2})`, :math:`Y \sim N(0, 1)`. After them the best depth is chosen
again, so the loss to be expected is

.. math:: V(s, r) = E_{Z, Y} \min_d L(d \mid \mu + s\sigma Z,\ (1 - s^2)\sigma^2,\ p(r, Y))

(value of sample information, Raiffa H., Schlaifer R., Applied Statistical Decision Theory, 1961;
from memory). :math:`V` depends on a batch of stations through :math:`s` and :math:`r` alone, so one
table a place serves every candidate and every batch. What is simplified: base and presence are
taken as independent of each other, and an answer yes or no as a Gaussian one that explains the same
variance.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Loss = Callable[[Floats, Floats, Floats], Floats]

_SURE = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """The pan as it is known now at `m` places, and what may be done there.

    Parameters
    ----------
    base_mean_cm, base_sd_cm, pan_probability
        As in `zoning.model.PanSurface`, shape ``(m,)``.
    area_ha
        Ground that each place stands for, shape ``(m,)``.
    depths_cm
        Depths to choose from, rising, 0 for legs lifted out, shape ``(k,)``.
    allowed
        Depths that hazards allow at each place, shape ``(m, k)``.
    loss
        Expected loss of each depth, shape ``(m, k)`` [cm], given mean and standard deviation of the
        base and probability of a pan, shape ``(m,)`` each.
    """

    base_mean_cm: Floats
    base_sd_cm: Floats
    pan_probability: Floats
    area_ha: Floats
    depths_cm: Floats
    allowed: Bools
    loss: Loss

    @property
    def probit(self) -> Floats:
        """Probit of the probability of a pan, shape ``(m,)``."""
        return np.asarray(ndtri(np.clip(self.pan_probability, _SURE, 1.0 - _SURE)))


@dataclass(frozen=True, slots=True)
class Quadrature:
    """How finely the tables are worked out.

    Parameters
    ----------
    steps, most
        Number of shares `s` (and `r`) from 0 to `most` in a table.
    base_points, presence_points
        Gauss-Hermite points over the reading and over the answer.
    """

    steps: int
    most: float
    base_points: int
    presence_points: int


class ValueTable:
    """Loss to be expected at each place for every share explained: ``V(s, r)``.

    Parameters
    ----------
    outlook
        What is known now.
    quadrature
        How finely.
    """

    def __init__(self, outlook: Outlook, quadrature: Quadrature) -> None:
        self.outlook = outlook
        self.shares = np.linspace(0.0, quadrature.most, quadrature.steps)
        self._step = float(self.shares[1])
        base = [with_pan_losses(outlook, s, quadrature.base_points) for s in self.shares]
        chance = [pan_chances(outlook, r, quadrature.presence_points) for r in self.shares]
        without = without_pan_losses(outlook)
        self.loss_cm = np.array([[_expected(a, p, without) for p in chance] for a in base])

    @property
    def now_cm(self) -> Floats:
        """Expected loss at each place as things stand, shape ``(m,)`` [cm]."""
        return np.asarray(self.loss_cm[0, 0])

    def at(self, base_share: Floats, presence_share: Floats) -> Floats:
        """Return the loss to be expected at each place, shape ``(..., m)`` [cm].

        Parameters
        ----------
        base_share, presence_share
            Shares `s` and `r`, shape ``(..., m)``.
        """
        i, u = self._cell(base_share)
        j, v = self._cell(presence_share)
        place = np.arange(self.loss_cm.shape[2])
        low = self.loss_cm[i, j, place] * (1 - u) + self.loss_cm[i + 1, j, place] * u
        high = self.loss_cm[i, j + 1, place] * (1 - u) + self.loss_cm[i + 1, j + 1, place] * u
        return np.asarray(low * (1 - v) + high * v)

    def _cell(self, share: Floats) -> tuple[NDArray[np.int64], Floats]:
        scaled = np.clip(share / self._step, 0.0, len(self.shares) - 1.0)
        cell = np.minimum(scaled.astype(np.int64), len(self.shares) - 2)
        return cell, scaled - cell


def hermite(points: int) -> tuple[Floats, Floats]:
    """Return places and weights of the Gauss-Hermite rule for a standard normal variable."""
    place, weight = np.polynomial.hermite_e.hermegauss(points)
    return np.asarray(place), np.asarray(weight / weight.sum())


def with_pan_losses(outlook: Outlook, share: Floats | float, points: int) -> tuple[Floats, Floats]:
    """Return weights and, a point of the rule, the loss of each depth where there is a pan.

    Shapes ``(points,)`` and ``(points, m, k)``.
    """
    place, weight = hermite(points)
    sd = outlook.base_sd_cm * np.sqrt(1.0 - np.square(share))
    sure = np.ones(len(sd))
    shift = outlook.base_sd_cm * share
    losses = [outlook.loss(outlook.base_mean_cm + z * shift, sd, sure) for z in place]
    return weight, np.where(outlook.allowed, np.array(losses), np.inf)


def without_pan_losses(outlook: Outlook) -> Floats:
    """Return the loss of each depth where there is no pan, shape ``(m, k)`` [cm]."""
    none = np.zeros(len(outlook.base_sd_cm))
    losses = outlook.loss(outlook.base_mean_cm, outlook.base_sd_cm, none)
    return np.asarray(np.where(outlook.allowed, losses, np.inf))


def pan_chances(outlook: Outlook, share: Floats | float, points: int) -> tuple[Floats, Floats]:
    """Return weights and, a point of the rule, the probability of a pan, shape ``(points, m)``."""
    place, weight = hermite(points)
    left = np.sqrt(1.0 - np.square(share))
    chance = np.array([ndtr((outlook.probit + y * share) / left) for y in place])
    return weight, chance


def _expected(
    base: tuple[Floats, Floats], chance: tuple[Floats, Floats], without: Floats
) -> Floats:
    """Return the expected loss of the best depth, shape ``(m,)``."""
    total = np.zeros(len(without))
    for weight_z, there in zip(*base, strict=True):
        for weight_y, p in zip(*chance, strict=True):
            total += weight_z * weight_y * best(there, p, without).min(axis=1)
    return total


def best(there: Floats, p: Floats, without: Floats) -> Floats:
    """Return the loss of each depth with probability `p` of a pan, shape ``(m, k)``."""
    with np.errstate(invalid="ignore"):
        mixed = p[:, None] * there + (1.0 - p)[:, None] * without
    return np.where(np.isfinite(without), mixed, np.inf)

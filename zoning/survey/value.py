r"""What a further station is worth: how much it is expected to lower the plan's expected loss.

Only how well a place is known after a further reading can be told before it is taken, not what it
will say. At a place with base :math:`N(\mu, \sigma^2)`, readings that explain the share
:math:`s^2` of the variance move the mean by :math:`s\sigma Z`, :math:`Z \sim N(0, 1)`, and leave
the variance :math:`(1 - s^2)\sigma^2`. After them the best depth is chosen again, so with
probability :math:`p` of a pan the loss to be expected is

.. math:: V(s, p) = E_Z \min_d L(d \mid \mu + s\sigma Z,\ (1 - s^2)\sigma^2,\ p)

(value of sample information, Raiffa H., Schlaifer R., Applied Statistical Decision Theory, 1961;
from memory). :math:`V` depends on a batch of readings through :math:`s` alone, so one table a place
serves every candidate and every batch. How answers move :math:`p` is told in
`zoning.survey.answers`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Loss = Callable[[Floats, Floats, Floats], Floats]


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


@dataclass(frozen=True, slots=True)
class Quadrature:
    """How finely values are worked out.

    Parameters
    ----------
    shares, share_most
        Number of shares `s` from 0 to `share_most` in a table.
    chances
        Number of probabilities `p` from 0 to 1 in a table.
    points
        Gauss-Hermite points over the reading of the base.
    scenarios
        Most combinations of answers of earlier stations that are kept.
    """

    shares: int
    share_most: float
    chances: int
    points: int
    scenarios: int


class ValueTable:
    """Loss to be expected at each place for every share explained and chance of a pan: ``V(s, p)``.

    Parameters
    ----------
    outlook
        What is known now.
    quadrature
        How finely.
    """

    def __init__(self, outlook: Outlook, quadrature: Quadrature) -> None:
        self.outlook = outlook
        self.quadrature = quadrature
        shares = np.linspace(0.0, quadrature.share_most, quadrature.shares)
        chances = np.linspace(0.0, 1.0, quadrature.chances)
        self._steps = float(shares[1]), float(chances[1])
        without = without_pan_losses(outlook)
        base = [with_pan_losses(outlook, s, quadrature.points) for s in shares]
        self.loss_cm = np.array([[_expected(there, p, without) for p in chances] for there in base])

    def at(self, share: Floats, chance: Floats) -> Floats:
        """Return the loss to be expected at each place, shape ``(..., m)`` [cm].

        Parameters
        ----------
        share, chance
            Share `s` and probability `p`, shape ``(..., m)``.
        """
        i, u = _cell(share, self._steps[0], self.loss_cm.shape[0])
        j, v = _cell(chance, self._steps[1], self.loss_cm.shape[1])
        place = np.arange(self.loss_cm.shape[2])
        low = self.loss_cm[i, j, place] * (1 - u) + self.loss_cm[i + 1, j, place] * u
        high = self.loss_cm[i, j + 1, place] * (1 - u) + self.loss_cm[i + 1, j + 1, place] * u
        return np.asarray(low * (1 - v) + high * v)


def _cell(value: Floats, step: float, steps: int) -> tuple[NDArray[np.int64], Floats]:
    """Return the cell of the table that holds each value, and how far into it the value lies."""
    scaled = np.clip(value / step, 0.0, steps - 1.0)
    cell = np.minimum(scaled.astype(np.int64), steps - 2)
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


def mixed(there: Floats, chance: Floats, without: Floats) -> Floats:
    """Return the loss of each depth with a `chance` of a pan, shape ``(m, k)``; inf if barred."""
    barred = ~np.isfinite(without)
    calm = np.where(barred, 0.0, there), np.where(barred, 0.0, without)
    loss = chance[..., None] * calm[0] + (1.0 - chance[..., None]) * calm[1]
    return np.where(barred, np.inf, loss)


def _expected(base: tuple[Floats, Floats], chance: float, without: Floats) -> Floats:
    """Return the expected loss of the best depth, shape ``(m,)``."""
    weight, there = base
    same = np.full(without.shape[0], chance)
    return np.asarray(weight @ mixed(there, same, without).min(axis=-1))

"""What further stations may change, in the terms of the plan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from zoning.survey.value import (
    Floats,
    Outlook,
    best,
    pan_chances,
    with_pan_losses,
    without_pan_losses,
)


@dataclass(frozen=True, slots=True)
class Change:
    """What to expect of a batch of stations.

    Parameters
    ----------
    area_ha
        Ground whose working depth is expected to change [ha].
    depth_cm
        Mean change there, up or down [cm]; 0 where none is expected.
    fuel_moved_l
        Fuel of the change, up or down alike [L].
    fuel_l
        Change of the fuel of the whole field, negative for less [L].
    """

    area_ha: float
    depth_cm: float
    fuel_moved_l: float
    fuel_l: float


def expected_change(
    outlook: Outlook,
    base_share: Floats,
    presence_share: Floats,
    fuel_l_ha: Floats,
    points: tuple[int, int],
) -> Change:
    """Return what readings that explain the shares given are expected to change.

    Parameters
    ----------
    outlook
        What is known now.
    base_share, presence_share
        Shares explained at each place, below 1, shape ``(m,)``.
    fuel_l_ha
        Fuel of each depth [L/ha], shape ``(k,)``.
    points
        Gauss-Hermite points over the reading and over the answer.
    """
    without = without_pan_losses(outlook)
    weight_z, there = with_pan_losses(outlook, base_share, points[0])
    weight_y, chance = pan_chances(outlook, presence_share, points[1])
    now = best(_now(outlook), outlook.pan_probability, without).argmin(axis=1)
    area, moved, fuel_moved, fuel = 0.0, 0.0, 0.0, 0.0
    for wz, losses in zip(weight_z, there, strict=True):
        for wy, p in zip(weight_y, chance, strict=True):
            new = best(losses, p, without).argmin(axis=1)
            ground = wz * wy * outlook.area_ha
            litres = fuel_l_ha[new] - fuel_l_ha[now]
            area += float(ground @ (new != now))
            moved += float(ground @ np.abs(outlook.depths_cm[new] - outlook.depths_cm[now]))
            fuel_moved += float(ground @ np.abs(litres))
            fuel += float(ground @ litres)
    return Change(area, moved / area if area > 0 else 0.0, fuel_moved, fuel)


def _now(outlook: Outlook) -> Floats:
    sure = np.ones(len(outlook.base_sd_cm))
    losses = outlook.loss(outlook.base_mean_cm, outlook.base_sd_cm, sure)
    return np.asarray(np.where(outlook.allowed, losses, np.inf))

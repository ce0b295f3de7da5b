"""What further stations may change, in the terms of the plan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from zoning.survey.choose import Batch
from zoning.survey.value import Floats, Outlook, mixed, with_pan_losses, without_pan_losses


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


def expected_change(outlook: Outlook, batch: Batch, fuel_l_ha: Floats, points: int) -> Change:
    """Return what the stations of a batch are expected to change.

    Parameters
    ----------
    outlook
        What is known now.
    batch
        The stations.
    fuel_l_ha
        Fuel of each depth [L/ha], shape ``(k,)``.
    points
        Gauss-Hermite points over the readings of the base.
    """
    without = without_pan_losses(outlook)
    weight, there = with_pan_losses(outlook, batch.base_share, points)
    sure = np.ones(len(outlook.base_sd_cm))
    as_is = np.where(
        outlook.allowed, outlook.loss(outlook.base_mean_cm, outlook.base_sd_cm, sure), np.inf
    )
    now = mixed(as_is, outlook.pan_probability, without).argmin(axis=1)
    area, moved, fuel_moved, fuel = 0.0, 0.0, 0.0, 0.0
    for likely, chance in zip(batch.weight, batch.chance, strict=True):
        new = mixed(there, chance, without).argmin(axis=-1)
        ground = likely * weight[:, None] * outlook.area_ha
        litres = fuel_l_ha[new] - fuel_l_ha[now]
        area += float((ground * (new != now)).sum())
        moved += float((ground * np.abs(outlook.depths_cm[new] - outlook.depths_cm[now])).sum())
        fuel_moved += float((ground * np.abs(litres)).sum())
        fuel += float((ground * litres).sum())
    return Change(area, moved / area if area > 0 else 0.0, fuel_moved, fuel)

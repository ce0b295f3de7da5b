"""The worked places of a field: what each needs, and what it gets."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.depths import DepthChoice, Places, expected_loss, needed_depth, probability_enough
from zoning.model import PanSurface, Settings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Worked:
    """The worked places of a field, a row each: what each needs, and what it gets.

    Parameters
    ----------
    zone
        Number of the zone.
    part
        Name of the part.
    area_m2
        Area [m2].
    needed_cm
        Depth that the assurance asks for, free of settings and limits [cm].
    depth_cm, cap_cm
        Working depth, and the deepest setting that the hazards leave [cm].
    assurance
        Probability that the working depth is enough.
    base_cm, pan_probability
        Mean pan base [cm], and the probability of a pan.
    pass_id
        Number of the pass.
    deeper_gain_cm
        How much less the expected loss is at the next setting that the hazards leave, less than 0
        where it is more; 0 without such a setting [cm].
    """

    zone: Ints
    part: NDArray[np.str_]
    area_m2: Floats
    needed_cm: Floats
    depth_cm: Floats
    cap_cm: Floats
    assurance: Floats
    base_cm: Floats
    pan_probability: Floats
    pass_id: Ints
    deeper_gain_cm: Floats

    def among(self, zones: Iterable[int]) -> Worked:
        """Return the places in `zones`."""
        return self.where(np.isin(self.zone, list(zones)))

    def where(self, kept: NDArray[np.bool_]) -> Worked:
        """Return the places that are `kept`."""
        return Worked(*(getattr(self, each.name)[kept] for each in fields(self)))


def worked_ground(
    places: Places,
    zone: Ints,
    pass_id: Ints,
    pan: PanSurface,
    choice: DepthChoice,
    settings: Settings,
) -> Worked:
    """Return the worked places with what they need and get.

    Parameters
    ----------
    places, pan
        Ground of each part in each piece, and the pan there.
    zone, pass_id
        Zone and pass of each piece.
    choice
        Depth and cap of each piece.
    settings
        Clearance and assurance that the depths were chosen by.
    """
    asked = settings.depth
    depth_cm, cap_cm = (of[places.piece] for of in (choice.depth_cm, choice.cap_cm))
    return Worked(
        zone=zone[places.piece],
        part=places.part,
        area_m2=places.area_m2,
        needed_cm=needed_depth(pan, clearance_cm=asked.clearance_cm, assurance=asked.assurance),
        depth_cm=depth_cm,
        cap_cm=cap_cm,
        assurance=probability_enough(pan, depth_cm, clearance_cm=asked.clearance_cm),
        base_cm=pan.base_mean_cm,
        pan_probability=pan.pan_probability,
        pass_id=pass_id[places.piece],
        deeper_gain_cm=_deeper_gain_cm(pan, depth_cm, cap_cm, settings),
    ).where(depth_cm > 0)


def _deeper_gain_cm(
    pan: PanSurface, depth_cm: Floats, cap_cm: Floats, settings: Settings
) -> Floats:
    """Return how much less the expected loss is one setting deeper, where the cap leaves one."""
    steps_cm, asked = np.asarray(settings.machine.settings_cm, dtype=np.float64), settings.depth
    loss_cm = expected_loss(
        pan, steps_cm, clearance_cm=asked.clearance_cm, assurance=asked.assurance
    )
    now = np.abs(depth_cm[:, None] - steps_cm).argmin(axis=1)
    deeper = np.minimum(now + 1, len(steps_cm) - 1)
    deeper = np.where(steps_cm[deeper] <= cap_cm, deeper, now)
    row = np.arange(len(depth_cm))
    return np.asarray(loss_cm[row, now] - loss_cm[row, deeper])


def parts_by_hand(ground: Worked) -> frozenset[str]:
    """Return the parts whose passes a hand had better set one setting deeper.

    The passes that lie mostly in the part, all their ground taken together: that of other parts and
    of runs that are deep enough already weighs in. None lies in strips narrower than the machine or
    across the passes.

    Parameters
    ----------
    ground
        All worked places of the field.
    """
    table = pd.DataFrame(
        {
            "of": ground.pass_id,
            "part": ground.part,
            "m2": ground.area_m2,
            "gain": ground.deeper_gain_cm * ground.area_m2,
        }
    )
    area_m2 = table.pivot_table(
        index="of", columns="part", values="m2", aggfunc="sum", fill_value=0.0
    )
    mostly = area_m2.gt(area_m2.sum(axis=1) / 2.0, axis=0)
    gain = mostly.mul(table.groupby("of")["gain"].sum(), axis=0).sum()
    return frozenset(str(part) for part in gain.index[gain > 0])

"""What the driven plan loses, beside what else could be done.

Every choice is held to the same caps:

- **driven**: the depths of the pieces;
- **unconstrained**: the same decision place by place, as if depth could change anywhere: the best
  `max_depths` depths for that (found exactly), each place with the best of them;
- **single depth**: the plan along the same passes with at most one working depth; with ``lift_out``
  the legs are lifted out where that costs less, it may be everywhere;
- **95 % point**: one depth everywhere, the shallowest setting that is enough on 95 % of the field
  in expectation.

With one depth the legs are lifted out where a cap is lower.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.depths.levels import best_option, choose_levels
from zoning.depths.loss import probability_enough
from zoning.model import Losses, PanSurface

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Weighed:
    """Loss of each option at each place, and what each place may have.

    Parameters
    ----------
    loss_cm
        Expected loss, shape ``(places, options)`` [cm].
    area_m2
        Area of each place, shape ``(places,)`` [m2].
    allowed
        Options allowed at each place, shape ``(places, options)``.
    cap
        Deepest option that the hazards leave each place, shape ``(places,)``.
    options_cm
        The options, 0 first, shape ``(options,)`` [cm].
    """

    loss_cm: Floats
    area_m2: Floats
    allowed: Bools
    cap: Ints
    options_cm: Floats

    def mean(self, option: Ints) -> float:
        """Return the mean loss over the field of one option a place [cm]."""
        loss = self.loss_cm[np.arange(len(option)), option]
        return float(np.average(loss, weights=self.area_m2))

    def best_of(self, columns: Ints) -> Ints:
        """Return the best allowed option of each place among `columns`, else its deepest."""
        cost = np.where(self.allowed[:, columns], self.loss_cm[:, columns], np.inf)
        some = np.isfinite(cost).any(axis=1)
        return np.where(some, columns[best_option(cost)], self.cap)

    def few(self, max_depths: int) -> Ints:
        """Return the columns of the best `max_depths` depths for places free of passes, 0 first."""
        free = self.allowed[:, 1:].any(axis=1)  # the others are lifted whatever is chosen
        if not free.any():
            return np.zeros(1, dtype=np.int64)
        start = int(not self.allowed[free, 0].any())
        cost = np.where(self.allowed[free], self.loss_cm[free] * self.area_m2[free, None], np.inf)
        levels = choose_levels(cost[:, start:], self.options_cm[start:], max_depths=max_depths)
        return np.append(0, np.searchsorted(self.options_cm, levels))

    def everywhere(self, option: int) -> Ints:
        """Return one option for the whole field, lifted out where the cap is lower."""
        return np.where(self.cap >= option, option, 0)


def insured_option(surface: PanSurface, weighed: Weighed, *, clearance_cm: float) -> int:
    """Return the shallowest option that is enough on `insurance_share` of the field."""
    share = constant("depth_rules", "insurance_share")
    for option in range(1, len(weighed.options_cm)):
        enough = probability_enough(
            surface, float(weighed.options_cm[option]), clearance_cm=clearance_cm
        )
        if np.average(enough, weights=weighed.area_m2) >= share:
            return option
    return len(weighed.options_cm) - 1


def losses_of(
    weighed: Weighed,
    driven: Ints,
    driven_one: Ints,
    unconstrained: Ints,
    surface: PanSurface,
    *,
    clearance_cm: float,
) -> Losses:
    """Return the expected losses of the driven plan and of the other choices.

    Parameters
    ----------
    weighed
        Losses of the options at the places.
    driven, driven_one, unconstrained
        Option of each place when driven, when driven with at most one working depth, and when free
        of passes, shape ``(places,)``.
    surface
        The pan at the places.
    clearance_cm
        Clearance below the pan [cm].
    """
    insured = insured_option(surface, weighed, clearance_cm=clearance_cm)
    return Losses(
        driven_cm=weighed.mean(driven),
        unconstrained_cm=weighed.mean(unconstrained),
        single_depth_cm=float(weighed.options_cm[driven_one.max()]),
        single_depth_loss_cm=weighed.mean(driven_one),
        point95_depth_cm=float(weighed.options_cm[insured]),
        point95_loss_cm=weighed.mean(weighed.everywhere(insured)),
    )

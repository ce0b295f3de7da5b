"""The pan at many places: whether there is one, how deep its base lies, how sure that is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class PanSurface:
    """Predicted pan at `n` places.

    Parameters
    ----------
    base_mean_cm, base_sd_cm
        Mean and standard deviation of the depth of the pan base, given that there is a pan,
        shape ``(n,)`` [cm below the surface]. The standard deviation is that of the true base at
        the place, reading error left out.
    pan_probability
        Probability that a pan is there, shape ``(n,)``.
    stations_near
        Number of stations within the distance named in ``shared/tables/surface_rules.csv``.
    report
        Plain facts of the fit and its validation, name to number or text, for ``plan.json``.
    """

    base_mean_cm: NDArray[np.float64]
    base_sd_cm: NDArray[np.float64]
    pan_probability: NDArray[np.float64]
    stations_near: NDArray[np.int64]
    report: Mapping[str, float | str | bool | None]

    def take(self, index: NDArray[np.int64]) -> PanSurface:
        """Return the places of `index`, in its order."""
        return PanSurface(
            self.base_mean_cm[index],
            self.base_sd_cm[index],
            self.pan_probability[index],
            self.stations_near[index],
            self.report,
        )

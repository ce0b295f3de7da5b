"""The pan model: stations in, presence and base of the pan at any place out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from zoning.model import PanSurface
from zoning.surface.averaging import Averaged, infer_families
from zoning.surface.covariance import Array, Covariance, Index
from zoning.surface.inference import Recipe, Screening, infer
from zoning.surface.presence import Presence, fit_presence
from zoning.surface.priors import (
    base_covariance_prior,
    base_effects,
    presence_prior,
    reporting,
    rule,
)
from zoning.surface.report import make_report
from zoning.surface.stations import Stations, read_stations
from zoning.surface.threads import one_thread

Report = Mapping[str, float | str | bool | None]


class PanModel:
    """Presence and base of the pan, fitted to stations; make one with `PanModel.fit`.

    Parameters
    ----------
    stations
        What was read.
    base
        Inference of the base, averaged over families of covariance.
    presence
        Probability of a pan.
    report
        Plain facts of the fit and its validation.
    """

    def __init__(
        self,
        stations: Stations,
        base: Averaged,
        presence: Presence,
        report: Report,
    ) -> None:
        self.stations = stations
        self.base = base
        self.presence = presence
        self.report = report

    @classmethod
    @one_thread
    def fit(
        cls,
        stations: pd.DataFrame,
        *,
        heading_deg: float | None = None,  # noqa: ARG003
    ) -> PanModel:
        """Return the model of the stations.

        Parameters
        ----------
        stations
            Rows of the stations table with the column ``part_used``: places ``x_m, y_m`` [m],
            ``kind``, ``n_pan`` of ``n_known`` insertions with a pan, ``pan_base_cm`` with
            ``error_sd_cm`` and ``censored``, ``date``. Rows whose ``used`` is false are left out.
        heading_deg
            Direction of travel; where given, and where the readings support it, the range may be
            longer along it.

        Raises
        ------
        PlanRefused
            If no station says anything about a pan.
        """
        read = read_stations(stations)
        recipe = _recipe(read)
        base = infer_families(infer(read.base, read.censored, recipe), recipe)
        presence = fit_presence(
            read.places,
            reporting().likelihoods(read.with_pan, read.known),
            presence_prior(read.parts),
            rule("presence_least_weight"),
        )
        report = make_report(read, base, presence)
        return cls(read, base, presence, report)

    @one_thread
    def predict(self, xy_m: Array, parts: Sequence[str]) -> PanSurface:
        """Return the pan at the places `xy_m`, shape ``(n, 2)`` [m], each with its part's name."""
        places = np.asarray(xy_m, dtype=np.float64).reshape(-1, 2)
        part = self.stations.parts.of(parts)
        mean, var = self.base.predict(places, part)
        probability = self.presence.predict(places, part)
        return PanSurface(mean, np.sqrt(var), probability, self._near(places), self.report)

    def _near(self, xy_m: Array) -> Index:
        tree = cKDTree(self.stations.places.xy_m)
        count = tree.query_ball_point(xy_m, rule("near_distance_m"), return_length=True)
        return np.asarray(count, dtype=np.int64)


def _recipe(read: Stations) -> Recipe:
    prior = base_covariance_prior()
    template = Covariance("exponential", 1.0, 1.0, 1.0)
    screening = Screening(
        rule("outlier_limit"), rule("outlier_most_share"), int(rule("outlier_fewest"))
    )
    effects = base_effects(read.parts, several_days=len(read.days) > 1)
    return Recipe(effects, template, prior, screening=screening)

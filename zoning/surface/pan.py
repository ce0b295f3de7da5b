"""The pan model: stations in, presence and base of the pan at any place out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from zoning.model import PanSurface
from zoning.surface.anisotropy import heading_test
from zoning.surface.averaging import Averaged, infer_average
from zoning.surface.covariance import Array, Covariance, Index
from zoning.surface.inference import Recipe, likeliest, splits
from zoning.surface.joining import neighbour_groups
from zoning.surface.many import infer_many
from zoning.surface.presence import Counts, Presence, fit_presence
from zoning.surface.priors import (
    base_covariance_prior,
    base_effects,
    presence_prior,
    reporting,
    rule,
    screening,
)
from zoning.surface.report import make_report
from zoning.surface.shared_prior import SharedPrior
from zoning.surface.stations import Stations, read_stations
from zoning.surface.threads import one_thread
from zoning.surface.uncertainty import integrated

Report = Mapping[str, float | str | bool | None]


class PanModel:
    """Presence and base of the pan, fitted to stations; make one with `PanModel.fit`.

    Parameters
    ----------
    stations
        What was read.
    base
        Inference of the base, averaged over what the readings cannot tell.
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
        heading_deg: float | None = None,
        shared: SharedPrior | None = None,
    ) -> PanModel:
        """Return the model of the stations.

        Parameters
        ----------
        stations
            Rows of the stations table with the column ``part_used``: places ``x_m, y_m`` [m],
            ``kind``, ``n_pan`` of ``n_known`` insertions with a pan, ``pan_base_cm`` with
            ``error_sd_cm`` and ``censored``, ``date``. Rows whose ``used`` is false are
            left out.
        heading_deg
            Direction of travel; where given, and where the readings support it, the range may be
            longer along it.
        shared
            What the other fields of the farm say; ``None``: the priors of the table.

        Raises
        ------
        PlanRefused
            If no station says anything about a pan.
        """
        read = read_stations(stations, heading_deg or 0.0)
        recipe = _recipe(read, shared)
        if len(read.base.value) > rule("most_exact_readings"):
            return cls._fit_many(read, recipe, shared)
        found = splits(read.base, read.censored, recipe)
        heading = heading_test(
            likeliest(found),
            recipe,
            None if heading_deg is None else 0.0,
            int(rule("anisotropy_fewest")),
            rule("anisotropy_limit"),
        )
        if heading.supported:
            recipe = replace(recipe, template=heading.covariance)
            found = splits(read.base, read.censored, recipe)
        base = integrated(infer_average(found, recipe), recipe)
        presence = _presence(read)
        report = make_report(read, base, presence, heading, shared)
        return cls(read, base, presence, report)

    @classmethod
    def _fit_many(cls, read: Stations, recipe: Recipe, shared: SharedPrior | None) -> PanModel:
        base = Averaged(((1.0, infer_many(read.base, read.censored, recipe)),))
        presence = _presence(read)
        return cls(read, base, presence, make_report(read, base, presence, None, shared))

    @one_thread
    def predict(self, xy_m: Array, parts: Sequence[str]) -> PanSurface:
        """Return the pan at the places `xy_m`, shape ``(n, 2)`` [m], each with its part's name."""
        places = self._placed(xy_m)
        part = self.stations.parts.of(parts)
        mean, var = self.base.predict(places, part)
        probability = self.presence.predict(places, part)
        return PanSurface(mean, np.sqrt(var), probability, self._near(places), self.report)

    @one_thread
    def _placed(self, xy_m: Array) -> Array:
        """Return places of the working CRS in the axes of the stations, shape ``(n, 2)`` [m]."""
        return self.stations.axes.inward(np.asarray(xy_m, np.float64).reshape(-1, 2))

    def _near(self, xy_m: Array) -> Index:
        tree = cKDTree(self.stations.places.xy_m)
        count = tree.query_ball_point(xy_m, rule("near_distance_m"), return_length=True)
        return np.asarray(count, dtype=np.int64)


def _presence(read: Stations) -> Presence:
    group = neighbour_groups(read.places.xy_m, read.places.part, int(rule("most_presence_places")))
    count = np.bincount(group)
    first = np.unique(group, return_index=True)[1]
    middle = [np.bincount(group, column) / count for column in read.places.xy_m.T]
    places = replace(read.places.take(first), xy_m=np.column_stack(middle))
    summed = [
        np.bincount(group, column).astype(np.float64) for column in (read.with_pan, read.known)
    ]
    counts = Counts(places, *summed)
    return fit_presence(
        counts, reporting(), presence_prior(read.parts), rule("presence_least_weight")
    )


def _recipe(read: Stations, shared: SharedPrior | None) -> Recipe:
    """Return how to infer; whether parts differ is asked where no other field of the farm tells."""
    prior = base_covariance_prior() if shared is None else shared.covariance
    template = Covariance("exponential", 1.0, 1.0, 1.0)
    several_days = len(read.days) > 1
    if shared is None:
        effects = base_effects(read.parts, several_days=several_days)
    else:
        effects = shared.effects(read.parts, several_days=several_days)
    return Recipe(
        effects,
        template,
        prior,
        screening=screening(),
        false_limit_share=rule("false_limit_share"),
        alike_share=rule("parts_alike_share") if shared is None else 0.0,
    )

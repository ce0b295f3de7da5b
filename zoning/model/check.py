"""What an after-work check needs of a plan, and what it says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from shapely import MultiPolygon

from zoning.grid import Grid
from zoning.model.inputs import FieldInputs
from zoning.model.notices import Notice
from zoning.model.settings import Settings

JUDGED = (
    "reached", "too_deep", "leg_only", "not_reached", "not_between", "leg_passed",
    "not_worked",
)  # fmt: skip
"""Verdicts that count for the share of the ground: a missed strip is ground not reached."""


def majority(facts: Mapping[Any, Any]) -> bool:
    """Return whether more than half of the pits of a piece of ground show what it has ``so_far``.

    Parameters
    ----------
    facts
        A row of `Check.groups` or `Check.zones`.
    """
    leg, between = int(facts["passed_at_leg"]), int(facts["passed_between"])
    showing = {
        "reached": between,
        "too_deep": int(facts["too_deep"]),
        "leg_only": min(leg, int(facts["seen_between"])) - between,
        "not_between": int(facts["seen_between"]) - between,
        "not_reached": int(facts.get("seen_at_leg", facts["pits"])) - leg,
    }
    return showing.get(str(facts["so_far"]), 0) * 2 > int(facts["pits"])


@dataclass(frozen=True, slots=True, eq=False)
class PlannedGround:
    """A plan folder read back: what was to be done where, and what was known of the pan.

    Parameters
    ----------
    plan_id
        Fingerprint of the plan.
    digests
        SHA-256 of each thing the fingerprint is made of, by name.
    inputs
        SHA-256 of the content of each input file, by role and number.
    zones
        ``zone, depth_cm, area_ha, parts, pan_base_cm, assurance, cautions, geometry`` in the
        working CRS; depth 0 means lifted out.
    working_crs
        The working coordinate system of the plan.
    grid, bands
        Raster cells, and band name to array of shape ``grid.shape``, NaN outside the field:
        ``pan_base_cm, pan_base_sd_cm, pan_probability``.
    clearance_cm, ridge_allowance_cm
        What the plan added to the pan base [cm].
    """

    plan_id: str
    digests: Mapping[str, str]
    inputs: Mapping[str, str]
    zones: gpd.GeoDataFrame
    working_crs: str
    grid: Grid
    bands: Mapping[str, NDArray[np.float64]]
    clearance_cm: float
    ridge_allowance_cm: float


@dataclass(frozen=True, slots=True, eq=False)
class RidgeCurve:
    """What the trial runs say about the ridge left between legs.

    Parameters
    ----------
    runs
        ``run, speed_km_h, depth_setting_cm, ridge_cm, surface``: the runs with both depths.
    speeds
        ``speed_km_h, runs, ridge_cm, fitted_cm, surface``: one row a speed, slowest first; the
        fitted ridge never rises with speed.
    slowest_even_km_h
        Slowest speed tried that leaves no more ridge than wanted and a level surface; ``None``
        where none did.
    wanted_cm
        The ridge wanted at most [cm].
    """

    runs: pd.DataFrame
    speeds: pd.DataFrame
    slowest_even_km_h: float | None
    wanted_cm: float

    def speeds_about(self, speed_km_h: float) -> pd.DataFrame:
        """Return the rows of the speeds that the ridge at a speed is taken from: next to it."""
        tried = self.speeds["speed_km_h"]
        below, above = tried[tried <= speed_km_h].max(), tried[tried >= speed_km_h].min()
        return self.speeds[tried.isin([below, above])]

    def runs_about(self, speed_km_h: float) -> str:
        """Return which trial runs the ridge at a speed is taken from."""
        speeds = [f"{v:g}" for v in self.speeds_about(speed_km_h)["speed_km_h"]]
        return f"the trial runs at {' and '.join(speeds)} km/h" if speeds else "no trial run"


@dataclass(frozen=True, slots=True, eq=False)
class Check:
    """The work judged by the pits dug behind the machine, places in the working CRS.

    Parameters
    ----------
    plan_id
        Fingerprint of the plan that was checked.
    inputs
        What was judged, as read now: the files of the field and the pits of the review page.
    zones
        One row a zone: ``shared/schemas/check_zones.schema.json``, geometry.
    groups
        The same counts for the whole field, each depth and each part: ``group, name`` first;
        ``places`` that the pits lie at and, of the field, the ground ``unseen`` in words.
    pits
        One row an after-pit: ``shared/schemas/check_pits.schema.json``, geometry.
    steady
        Names of the pits whose ridge and speed count: worked, not in doubt, the leg not afloat.
    probes
        One row a cone station of after the work, geometry.
    pairs
        Before and after at one place or in one zone: ``by, what, before, after, change`` and where.
    changes
        What the pairs say: ``shared/schemas/check_changes.schema.json``.
    advice
        ``where, order, step, text``: what to do, the least costly first; ``zones``: for which,
        none where it is for all of the ground.
    dig_next
        ``order, zone, depth_cm, reason, chance_between, geometry``: where to dig next.
    ridge
        What the trial runs say.
    ridge_allowance_cm
        What the next plan adds for the ridge at the speed of the settings [cm].
    notices
        Cautions and notes, cautions first.
    """

    plan_id: str
    inputs: FieldInputs
    zones: gpd.GeoDataFrame
    groups: pd.DataFrame
    pits: gpd.GeoDataFrame
    steady: frozenset[str]
    probes: gpd.GeoDataFrame
    pairs: pd.DataFrame
    changes: pd.DataFrame
    advice: pd.DataFrame
    dig_next: gpd.GeoDataFrame
    ridge: RidgeCurve
    ridge_allowance_cm: float
    notices: tuple[Notice, ...]

    @property
    def settings(self) -> Settings:
        """The settings of the field as read now."""
        return self.inputs.settings

    @property
    def boundary(self) -> MultiPolygon:
        """The outline of the field as read now."""
        return self.inputs.boundary

    @property
    def working_crs(self) -> str:
        """The working coordinate system of the field as read now."""
        return self.inputs.working_crs

    @property
    def hazards(self) -> gpd.GeoDataFrame:
        """Drains, services and obstacles that the field names now: ``kind``, geometry."""
        return self.inputs.hazards

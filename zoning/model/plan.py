"""A finished plan: what `zoning.workflow.make_plan` returns and `zoning.outputs` writes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from shapely import MultiPolygon

from zoning.grid import Grid
from zoning.model.inputs import InputFile
from zoning.model.notices import Notice
from zoning.model.pictures import Backdrop, Photo
from zoning.model.settings import Settings


@dataclass(frozen=True, slots=True, eq=False)
class Losses:
    """Expected loss of this plan and of what else could be done [cm, mean over the field].

    The loss is the pinball loss of the working depth against pan base + clearance, weighted by the
    assurance: too shallow counts ``assurance`` a centimetre, too deep ``1 - assurance``.
    """

    driven_cm: float
    unconstrained_cm: float
    single_depth_cm: float
    single_depth_loss_cm: float
    point95_depth_cm: float
    point95_loss_cm: float


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """Everything a plan says, places in the working CRS.

    Parameters
    ----------
    plan_id
        Fingerprint of boundary, readings, settings, hazards, zones and depths (64 hex digits).
    settings, files, boundary, working_crs, crs_accuracy_m
        As read.
    parts
        ``part, kind, area_ha, geometry``: an exact partition of the field.
    insertions
        One row an insertion: ``shared/schemas/insertions.schema.json``.
    stations
        One row a station or pit: ``shared/schemas/stations.schema.json``, with geometry.
    cone, pits, hazards, left_out
        As read.
    zones
        One row a zone, columns of the contract, geometry.
    passes
        One row a run of a pass at one depth, columns of the contract, ``laid`` (round or straight:
        how the pass was laid, whatever part lies beneath it), geometry (line).
    uncertain
        Polygons where support is thin: ``reason, area_ha, geometry``.
    grid, inside
        Raster cells and which of them lie in the field, shape ``grid.shape``.
    rasters
        Band name to array of shape ``grid.shape``, NaN outside the field.
    rating
        Whether loosening is called for: ``shared/schemas/rating.schema.json``.
    losses
        This plan against the other choices.
    totals
        Name with unit suffix to number.
    surface_report
        Facts of the fit and its validation.
    notices
        Cautions and notes, cautions first.
    backdrop, photos
        The user's own pictures.
    """

    plan_id: str
    settings: Settings
    files: tuple[InputFile, ...]
    boundary: MultiPolygon
    working_crs: str
    crs_accuracy_m: float | None
    parts: gpd.GeoDataFrame
    insertions: pd.DataFrame
    stations: gpd.GeoDataFrame
    cone: pd.DataFrame
    pits: gpd.GeoDataFrame
    hazards: gpd.GeoDataFrame
    left_out: pd.DataFrame
    zones: gpd.GeoDataFrame
    passes: gpd.GeoDataFrame
    uncertain: gpd.GeoDataFrame
    grid: Grid
    inside: NDArray[np.bool_]
    rasters: Mapping[str, NDArray[np.float64]]
    rating: pd.DataFrame
    losses: Losses
    totals: Mapping[str, float]
    surface_report: Mapping[str, float | str | bool | None]
    notices: tuple[Notice, ...]
    backdrop: Backdrop | None = None
    photos: tuple[Photo, ...] = ()

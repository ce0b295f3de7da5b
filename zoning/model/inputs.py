"""A field folder after reading: checked, projected, nothing interpreted yet."""

from __future__ import annotations

from dataclasses import dataclass, field

import geopandas as gpd
import pandas as pd
from shapely import MultiPolygon

from zoning.model.notices import Notice
from zoning.model.pictures import Backdrop, Photo
from zoning.model.settings import Settings


@dataclass(frozen=True, slots=True)
class InputFile:
    """One file that was read: its role, its name inside the folder, its SHA-256."""

    role: str
    name: str
    sha256: str


@dataclass(frozen=True, slots=True, eq=False)
class FieldInputs:
    """Everything read from a field folder, places in the working CRS.

    Parameters
    ----------
    settings
        ``field.toml`` with its defaults filled in.
    boundary
        Outline of the field, holes kept [m, working CRS].
    working_crs
        ``EPSG:...`` or WKT of the projected working CRS.
    crs_accuracy_m
        Accuracy of the shift from the boundary's own CRS; ``None`` where none was needed.
    cone, cone_after
        One row a reading: schema ``shared/schemas/cone_readings.schema.json``.
    pits
        One row a pit, both phases: ``shared/schemas/pits.schema.json``.
    wheeling_lines, gateways, named_areas, hazards
        Vector layers in the working CRS; empty where not given. ``named_areas`` has ``area``;
        ``hazards`` has ``kind, name, depth_cm, clear_m`` (``""``, NaN where not given).
    left_out
        Rows not used, each with its reason: ``file, row, what, pit_phase, reason``; ``pit_phase``
        is blank for a cone reading.
    files
        Every file read, with its hash.
    notices
        What the reader must tell the user.
    withdrawn
        The pits that were withdrawn on the review page, as rows of ``pits``.
    backdrop, photos
        The user's own pictures: from above, and of the pits.
    trials
        One row a trial run of the machine: ``shared/schemas/trials.schema.json``.
    """

    settings: Settings
    boundary: MultiPolygon
    working_crs: str
    crs_accuracy_m: float | None
    cone: pd.DataFrame
    cone_after: pd.DataFrame
    pits: pd.DataFrame
    wheeling_lines: gpd.GeoDataFrame
    gateways: gpd.GeoDataFrame
    named_areas: gpd.GeoDataFrame
    hazards: gpd.GeoDataFrame
    left_out: pd.DataFrame
    files: tuple[InputFile, ...]
    notices: tuple[Notice, ...]
    trials: pd.DataFrame = field(default_factory=pd.DataFrame)
    withdrawn: pd.DataFrame = field(default_factory=pd.DataFrame)
    backdrop: Backdrop | None = None
    photos: tuple[Photo, ...] = ()

"""A survey proposed: what `zoning.workflow.propose_stations` returns and the outputs write."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import geopandas as gpd
from shapely import MultiPolygon

from zoning.model.inputs import InputFile
from zoning.model.notices import Notice
from zoning.model.settings import Settings


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """Where to probe and where to dig, places in the working CRS.

    Parameters
    ----------
    settings, files, boundary, working_crs
        As read.
    parts
        ``part, kind, area_ha, geometry``: an exact partition of the field.
    keep_off
        ``kind, geometry``: ground about hazards where nobody probes.
    taken
        Stations and pits that the readings hold already: ``station, kind`` and geometry; empty for
        a first survey.
    proposed
        The stations in walking order: ``station, part, role`` (spread, transect or next), ``pit``
        (name of the pit to dig there, blank for none), ``insertions, walk_m, rank`` (order of
        worth), ``gain_cm_ha`` (NaN in a first survey), geometry.
    start
        Where the walk begins and ends, ``None`` where no gateway is known: ``(x, y)`` [m].
    facts
        Name with unit suffix to number or text: how many and why, the walk, the gain expected.
    notices
        What the adviser must be told.
    """

    settings: Settings
    files: tuple[InputFile, ...]
    boundary: MultiPolygon
    working_crs: str
    parts: gpd.GeoDataFrame
    keep_off: gpd.GeoDataFrame
    taken: gpd.GeoDataFrame
    proposed: gpd.GeoDataFrame
    start: tuple[float, float] | None
    facts: Mapping[str, float | str]
    notices: tuple[Notice, ...]

    @property
    def first(self) -> bool:
        """Whether no earlier reading was there to go by."""
        return self.taken.empty

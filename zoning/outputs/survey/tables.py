"""``stations.csv`` and ``pit_form.csv``: forms that read back once they are filled in.

``stations.csv`` is a cone log in the wide form of the contract: a row an insertion, depths as
headings, so that a reading is one number in one cell, on paper as on a screen. Rows that stay blank
are read as insertions without an answer and lose nothing.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import geopandas as gpd
import shapely

from zoning.contracts import constant
from zoning.model import Survey
from zoning.model.settings import MachineSection
from zoning.outputs.places import decimals, lonlat_points
from zoning.outputs.tables import guarded

RULES = "survey_rules"
STATION_COLUMNS = (
    "station", "insertion", "lon", "lat", "date", "moisture", "part", "refused", "note",
)  # fmt: skip
PIT_COLUMNS = (
    "pit", "date", "phase", "lon", "lat", "part", "pan", "pan_top_cm", "pan_base_cm",
    "structure_score", "moisture", "photo", "note",
)  # fmt: skip


def form_depths_cm(machine: MachineSection, step_cm: float) -> list[float]:
    """Return the depths that the form has columns for [cm].

    Parameters
    ----------
    machine
        The loosener: the columns go deeper than it does.
    step_cm
        The step wanted; the usual one stands where that makes more columns than have room.
    """
    below = machine.depth_max_cm + constant(RULES, "form_below_cm")
    below = min(constant(RULES, "form_deepest_cm"), below)
    fits = math.ceil(below / step_cm) <= constant(RULES, "form_columns_most")
    step = step_cm if fits else constant(RULES, "form_step_cm")
    deepest = math.ceil(below / step) * step
    return [step * number for number in range(1, round(deepest / step) + 1)]


def survey_depths_cm(survey: Survey) -> list[float]:
    """Return the depths that the form of a survey has columns for [cm]."""
    return form_depths_cm(survey.settings.machine, float(survey.facts["form_step_cm"]))


def stations_csv(survey: Survey) -> bytes:
    """Return the form for the cone, stations in walking order."""
    depths = [f"{depth:g} cm" for depth in survey_depths_cm(survey)]
    blank = ["" for _ in depths]
    lines = [
        [row.station, str(number + 1), row.lon, row.lat, "", "", row.part, "", "", *blank]
        for row in placed_rows(survey)
        for number in range(row.insertions)
    ]
    return _csv([*STATION_COLUMNS, *depths], lines)


def pit_form_csv(survey: Survey) -> bytes:
    """Return the form for the spade, pits in walking order."""
    lines = [
        [row.pit, "", "before", row.lon, row.lat, row.part, *[""] * 7]
        for row in placed_rows(survey)
        if row.pit
    ]
    return _csv(PIT_COLUMNS, lines)


@dataclass(frozen=True, slots=True)
class Placed:
    """A station as it stands on a form: texts, and degrees with fixed decimals."""

    station: str
    part: str
    pit: str
    insertions: int
    lon: str
    lat: str


def placed_rows(survey: Survey) -> list[Placed]:
    """Return the stations in walking order.

    A named area whose name a spreadsheet would take for a formula is left blank: the map knows it.
    """
    table = survey.proposed
    texts = [table[name].astype(str).tolist() for name in ("station", "part", "pit")]
    lonlat = lonlat_of(table, survey.working_crs)
    return [
        Placed(
            station,
            part if guarded(part) == part else "",
            pit,
            int(insertions),
            f"{lon + 0.0:.{decimals()}f}",
            f"{lat + 0.0:.{decimals()}f}",
        )
        for station, part, pit, insertions, (lon, lat) in zip(
            *texts, table["insertions"].tolist(), lonlat, strict=True
        )
    ]


def lonlat_of(stations: gpd.GeoDataFrame, crs: str) -> list[tuple[float, float]]:
    """Return longitude and latitude of each station [deg]."""
    xy = shapely.get_coordinates(stations.geometry.to_numpy())
    return [(float(lon), float(lat)) for lon, lat in lonlat_points(xy, crs)]


def _csv(header: Sequence[str], lines: Iterable[Sequence[str]]) -> bytes:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows(lines)
    return stream.getvalue().encode("utf-8")

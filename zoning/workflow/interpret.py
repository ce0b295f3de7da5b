"""The readings of a field, interpreted: what each insertion shows, what each station counts for."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import geopandas as gpd
import pandas as pd

from zoning import parts as parts_room
from zoning import profiles
from zoning.model import FieldInputs, Notice
from zoning.workflow.support import pan_met
from zoning.workflow.survey_notices import near_keep_off


@dataclass(frozen=True, slots=True, eq=False)
class Interpreted:
    """What the readings say.

    Parameters
    ----------
    insertions
        One row an insertion, with its verdict.
    stations
        One row a station or pit, with ``part_used``: the part recorded at the probe, or the map's.
    rating
        Whether loosening is called for, for the field and by part.
    notices
        What the readings call for.
    """

    insertions: pd.DataFrame
    stations: pd.DataFrame
    rating: pd.DataFrame
    notices: tuple[Notice, ...]


def interpret(
    inputs: FieldInputs, parts: gpd.GeoDataFrame, *, outvoted: Collection[str] = ()
) -> Interpreted:
    """Interpret the readings of a field whose parts are known; pits `outvoted` outrank nothing."""
    insertions = profiles.interpret(inputs.cone, limit_mpa=inputs.settings.readings.limit_mpa)
    stations = profiles.join_stations(insertions, inputs.pits, outvoted=outvoted)
    stations = stations.assign(part_used=part_used(stations, parts))
    rating = profiles.rate(insertions, part_used(insertions, parts))
    moisture = profiles.moisture_notices(inputs.pits, inputs.cone)
    further = profiles.deeper_notices(insertions, _kept_off(inputs, stations))
    called = _calls_for(rating, met=pan_met(stations))
    notices = (*moisture, *further, *called)
    return Interpreted(profiles.told_apart(insertions), stations, rating, notices)


def _kept_off(inputs: FieldInputs, stations: pd.DataFrame) -> list[str]:
    """Return the stations in the keep-off of a hazard or right beside it: nobody digs there."""
    width_m = inputs.settings.machine.width_m
    keep_off, _ = parts_room.hazard_zones(inputs.hazards, machine_width_m=width_m)
    near = near_keep_off(stations[["x_m", "y_m"]].to_numpy(dtype=float), keep_off)
    return stations.loc[near, "station"].astype(str).tolist()


def part_used(rows: pd.DataFrame, parts: gpd.GeoDataFrame) -> pd.Series:
    """Return the part each row counts for: what the adviser stood on outranks the map."""
    mapped = parts_room.part_of(parts, rows[["x_m", "y_m"]].to_numpy(dtype=float))
    return rows["part"].where(rows["part"] != "", pd.Series(mapped, index=rows.index))


def placed(rows: pd.DataFrame, crs: str) -> gpd.GeoDataFrame:
    """Return `rows` with a point each at ``x_m, y_m``."""
    return gpd.GeoDataFrame(rows, geometry=gpd.points_from_xy(rows["x_m"], rows["y_m"]), crs=crs)


def _calls_for(rating: pd.DataFrame, *, met: bool = True) -> list[Notice]:
    """Return what the published rating says of the whole field, when it is not a plain yes.

    `met` tells whether a pan was met, so that there are depths to speak of.
    """
    whole = rating[rating["part"] == WHOLE_FIELD]
    if whole.empty:
        return []
    row = whole.iloc[0]
    if row["few_points"]:
        return [Notice("caution", "few-stations", FEW.format(said=_said(int(row["points"]))))]
    if row["loosen"] == "yes":
        return []
    text = NOT_CALLED_FOR.format(
        over=row["over_limit"],
        points=row["points"],
        passes="passes" if row["over_limit"] == 1 else "pass",
        rating=row["rating"],
        asked=ASKED_FOR if met else "",
    )
    return [Notice("caution", "loosening-not-called-for", text)]


def _said(points: int) -> str:
    if points == 0:
        return "No cone station says"
    return "Only 1 cone station says" if points == 1 else f"Only {points} cone stations say"


WHOLE_FIELD = "whole field"
FEW = (
    "{said} whether the soil is compacted; the published survey asks for 10 to 20 at least. "
    "Whether loosening is called for cannot be told, and depths away from the stations are little "
    "more than common experience: probe more before you work."
)
NOT_CALLED_FOR = (
    "By the published rating loosening is not called for: {over} of {points} stations "
    "{passes} the limit in the top 38 cm ({rating} compaction).{asked} Dig before you decide."
)
ASKED_FOR = (
    " The plan is made because it was asked for: its depths say how deep work must go where a pan "
    "is loosened all the same, not that it pays."
)

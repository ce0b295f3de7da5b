"""Stations, profiles and pits of the map page, profiles stored close together."""

from __future__ import annotations

import math
import string
from collections.abc import Mapping
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.model import Plan
from zoning.model.days import taken_base_cm
from zoning.model.pictures import Photo
from zoning.outputs.map_page.places import RULES, Places
from zoning.outputs.map_page.rasters import data_address
from zoning.outputs.plain import plain
from zoning.outputs.rows import zones_in_order

_DIGITS = string.ascii_uppercase + string.ascii_lowercase + string.digits + "+/"
_STATION = (
    "station", "kind", "date", "part_used", "verdict", "pan_top_cm", "pan_base_cm", "error_sd_cm",
    "n_pan", "n_known", "censored", "used", "reason",
)  # fmt: skip
_INSERTION = (
    "insertion", "moisture", "verdict", "pan_top_cm", "pan_base_cm", "censored", "max_mpa",
    "reason",
)  # fmt: skip
_PIT = (
    "pit", "phase", "date", "part", "pan", "pan_top_cm", "pan_base_cm", "structure_score",
    "moisture", "loosened_at_leg_cm", "loosened_between_cm", "speed_km_h", "photo", "note",
)  # fmt: skip


def station_records(plan: Plan, places: Places) -> tuple[list[dict[str, Any]], list[list[float]]]:
    """Return a record a cone station with its insertions, and the lists of depths they use.

    Returns
    -------
    records : list
        Columns of ``stations``, ``taken_cm`` (`taken_base_cm`) and, under ``insertions``, those of
        each insertion with ``depths`` (which list of depths it uses), ``cone`` (two letters a
        reading: `_letters`) and the ``note`` on its readings where there is one.
    depths : list
        The lists of depths [cm].
    """
    cone = plan.stations[plan.stations["kind"] == "cone"]
    ordered = cone.sort_values(["station"], kind="stable")
    profiles, depths = _profiles(plan.cone)
    by_station = _insertions(plan.insertions, profiles)
    placed = _placed(ordered, _STATION, plan, places)
    taken = taken_base_cm(ordered, plan.surface_report)
    records = [
        record
        | {"taken_cm": None if math.isnan(cm) else round(cm, 1)}
        | {"insertions": by_station.get(str(record["station"]), [])}
        for record, cm in zip(placed, taken.tolist(), strict=True)
    ]
    return records, depths


def pit_records(plan: Plan, places: Places) -> list[dict[str, Any]]:
    """Return a record a pit, both phases, with what became of it and its photograph if small.

    ``beside`` is the nearest cone station within ``beside_m``: its name and how far off it is [m].
    """
    ordered = plan.pits.sort_values(["pit", "phase", "date", "file", "row"], kind="stable")
    records = _placed(ordered, _PIT, plan, places)
    dug = plan.stations[plan.stations["kind"] == "pit"]
    used = dict(zip(dug["station"], dug["used"], strict=True))
    reasons = dict(zip(dug["station"], dug["reason"], strict=True))
    pictures = _pictures(plan)
    for record, beside in zip(records, _stations_beside(plan, ordered), strict=True):
        record["beside"] = beside
        before = record["phase"] != "after"
        record["used"] = bool(used.get(record["pit"], False)) if before else None
        record["reason"] = str(reasons.get(record["pit"], "")) if before else ""
        record["picture"] = pictures.get(record["photo"], "")
    return records


def _stations_beside(plan: Plan, pits: gpd.GeoDataFrame) -> list[list[Any] | None]:
    """Return the nearest cone station of each pit and its distance [m], the first of equals."""
    cone = plan.stations[plan.stations["kind"] == "cone"].sort_values("station", kind="stable")
    if cone.empty:
        return [None] * len(pits)
    x, y = cone["x_m"].to_numpy(), cone["y_m"].to_numpy()
    away = np.hypot(pits["x_m"].to_numpy()[:, None] - x, pits["y_m"].to_numpy()[:, None] - y).round(
        1
    )
    most, names = constant(RULES, "beside_m"), cone["station"].tolist()
    return [
        [str(names[at]), float(row[at])] if row[at] <= most else None
        for row, at in zip(away, away.argmin(axis=1), strict=True)
    ]


def _placed(
    frame: gpd.GeoDataFrame, columns: tuple[str, ...], plan: Plan, places: Places
) -> list[dict[str, Any]]:
    """Return the named columns of each row with its place, zone and working depth there."""
    held = [name for name in columns if name in frame]
    table = pd.DataFrame(frame)[held]
    rows = [plain({str(k): v for k, v in row.items()}) for row in table.to_dict("records")]
    xy_m = frame[["x_m", "y_m"]].to_numpy(dtype=np.float64)
    spots = zip(rows, xy_m, _zone_at(plan, xy_m), strict=True)
    return [
        row | {"at": places.point(x, y), "zone": zone[0], "work_cm": zone[1]}
        for row, (x, y), zone in spots
    ]


def _zone_at(plan: Plan, xy_m: NDArray[np.float64]) -> list[tuple[int | None, float | None]]:
    """Return number and working depth of the zone at each place, the lower one on an edge."""
    zones = zones_in_order(plan)
    tree = shapely.STRtree(zones.geometry.to_numpy())
    pairs = tree.query(gpd.points_from_xy(*xy_m.T), predicate="intersects")
    found: dict[int, int] = {}
    for point, zone in sorted(pairs.T.tolist()):
        found.setdefault(point, zone)
    numbers, depths = zones["zone"].tolist(), zones["depth_cm"].tolist()
    return [
        (int(numbers[found[i]]), float(depths[found[i]])) if i in found else (None, None)
        for i in range(len(xy_m))
    ]


def _profiles(cone: pd.DataFrame) -> tuple[Mapping[str, dict[str, Any]], list[list[float]]]:
    steps = constant(RULES, "cone_steps_a_mpa")
    lists: dict[tuple[float, ...], int] = {}
    profiles: dict[str, dict[str, Any]] = {}
    ordered = cone.sort_values(["insertion_id", "depth_cm", "row"], kind="stable")
    for name, held in ordered.groupby("insertion_id", sort=True):
        depths = tuple(round(float(depth), 2) for depth in held["depth_cm"])
        index = held["cone_index_mpa"].to_numpy(dtype=np.float64)
        profiles[str(name)] = {
            "depths": lists.setdefault(depths, len(lists)),
            "cone": "".join(_letters(value * steps) for value in index),
        } | _noted(held)
    return profiles, [list(depths) for depths in lists]


def _noted(held: pd.DataFrame) -> dict[str, str]:
    """Return the remarks on the readings of an insertion, each once; nothing without one."""
    notes = dict.fromkeys(text for note in held["note"] if (text := str(note).strip()))
    return {"note": "; ".join(notes)} if notes else {}


def _letters(steps: float) -> str:
    """Return a cone index in whole steps as two digits of base 64, dots where it is blank."""
    if np.isnan(steps):
        return ".."
    high, low = divmod(min(max(round(float(steps)), 0), len(_DIGITS) ** 2 - 1), len(_DIGITS))
    return _DIGITS[high] + _DIGITS[low]


def _insertions(
    held: pd.DataFrame, profiles: Mapping[str, dict[str, Any]]
) -> dict[str, list[dict[str, Any]]]:
    """Return the records of the insertions of each station, by its name."""
    columns = [name for name in _INSERTION if name in held]
    found: dict[str, list[dict[str, Any]]] = {}
    for row in held.sort_values(["insertion", "insertion_id"], kind="stable").to_dict("records"):
        record = plain({name: row[name] for name in columns})
        record |= profiles.get(str(row["insertion_id"]), {"depths": None, "cone": ""})
        found.setdefault(str(row["station"]), []).append(record)
    return found


def _pictures(plan: Plan) -> Mapping[str, str]:
    """Return the photographs small enough for the page as data addresses, by name."""
    photos: tuple[Photo, ...] = getattr(plan, "photos", ())
    room = int(constant(RULES, "photos_most_bytes"))
    told: dict[str, str] = {}
    for photo in sorted(photos, key=lambda held: held.name):
        size = len(photo.content)
        if size <= min(room, int(constant(RULES, "photo_most_bytes"))):
            told[photo.name] = data_address(photo.media_type, photo.content)
            room -= size
    return told

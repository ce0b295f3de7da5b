"""Stations that were noted on another part than the map has at their place."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from zoning.contracts import constant, joined
from zoning.model import Notice
from zoning.model.names import in_numbers
from zoning.parts import part_of
from zoning.units import compass, least_to_most
from zoning.workflow.disagree import named

Floats = NDArray[np.float64]


def noted_elsewhere(stations: pd.DataFrame, parts: gpd.GeoDataFrame) -> NDArray[np.bool_]:
    """Return which stations were noted on a part that the map does not have at their place.

    Parameters
    ----------
    stations
        ``station, x_m, y_m, part`` (recorded, or empty), ``part_used`` and ``used``.
    parts
        ``part, kind`` and geometry: the map.
    """
    return _unmapped(stations, parts) | _off_the_map(stations, parts)


def noted_notices(
    stations: pd.DataFrame,
    parts: gpd.GeoDataFrame,
    depth_cm: Floats,
    *,
    days: bool = False,
) -> tuple[Notice, ...]:
    """Return what to tell of stations noted on a part that the map has elsewhere or not at all.

    Where the pan read there stays it is a caution; so it is of a part that the map lacks.

    Parameters
    ----------
    stations, parts
        As `noted_elsewhere` takes them, and ``pan_base_cm``.
    depth_cm
        Working depth at each station [cm].
    days
        Whether the bases are those that the plan takes, the day allowed for.
    """
    base = "base taken" if days else "base"
    lost, off = _unmapped(stations, parts), _off_the_map(stations, parts)
    differ = _differ(stations[off], parts, depth_cm[off], base)
    beside = _beside_strips(stations, parts)
    return (*unmapped_notices(stations[lost], depth_cm[lost], base), *beside, *differ)


def pits_on_the_map(
    pits: pd.DataFrame, parts: gpd.GeoDataFrame
) -> tuple[pd.DataFrame, tuple[Notice, ...]]:
    """Return pits with the part that each counts for, and a caution where it is not the one noted.

    That is the part noted, for one dug behind the machine only where the map has it no further off
    than ``part_place_m``; else, and where none is noted, the part of the map.

    Parameters
    ----------
    pits
        ``pit, phase, x_m, y_m, part`` (recorded, or empty), both phases.
    parts
        ``part, kind`` and geometry: the map.

    Returns
    -------
    tuple
        `pits` with that ``part`` and ``part_noted`` (bool: it is the one noted); the notices.
    """
    mapped = part_of(parts, pits[["x_m", "y_m"]].to_numpy(dtype=np.float64))
    spots = shapely.points(pits[["x_m", "y_m"]].to_numpy(dtype=np.float64))
    on_field = shapely.intersects(parts.geometry.union_all(), spots)
    apart = (pits["part"] != mapped) & pits["part"].isin(parts["part"])
    off = (apart & (pits["phase"] == "after")).to_numpy() & np.asarray(on_field)
    off[off] = np.greater(_off_m(pits[off], parts), constant("check_rules", "part_place_m"))
    by_map = off | (pits["part"] == "").to_numpy()
    told = pits.assign(part=np.where(by_map, mapped, pits["part"]), part_noted=~by_map)
    if not off.any():
        return told, ()
    noted = pits[off]
    columns = noted["pit"], noted["part"], mapped[off], _off_m(noted, parts)
    each = [
        f"{pit} ({part}, map: {there}; {away:.0f} m off)"
        for pit, part, there, away in zip(*columns, strict=True)
    ]
    text = (
        f"Noted part differs from the map at the place of {named(sorted(each, key=in_numbers))}. "
        "Such a pit counts for the part that the map has there, whose depth it is held against. "
        "Look whether the place or the part is right, correct it and check again."
    )
    return told, (Notice("caution", "pit-part-differs", text, tuple(noted["pit"])),)


def _unmapped(stations: pd.DataFrame, parts: gpd.GeoDataFrame) -> NDArray[np.bool_]:
    return (~stations["part_used"].isin(parts["part"])).to_numpy()


def _off_the_map(stations: pd.DataFrame, parts: gpd.GeoDataFrame) -> NDArray[np.bool_]:
    """Return which used stations stand off the ground of the part noted, which the map has."""
    known = (stations["used"].astype(bool) & stations["part"].isin(parts["part"])).to_numpy()
    noted = stations[known]
    mapped = part_of(parts, noted[["x_m", "y_m"]].to_numpy(dtype=np.float64))
    slack_m = [_slack_m(parts, part) for part in noted["part"]]
    off = np.zeros(len(stations), dtype=np.bool_)
    off[known] = (noted["part"] != mapped) & np.greater(_off_m(noted, parts), slack_m)
    return off


def _differ(
    stations: pd.DataFrame, parts: gpd.GeoDataFrame, depth_cm: Floats, called: str
) -> tuple[Notice, ...]:
    """Return a note on stations off the ground of their part; a caution where their pan stays."""
    if stations.empty:
        return ()
    mapped = part_of(parts, stations[["x_m", "y_m"]].to_numpy(dtype=np.float64))
    base_cm = stations["pan_base_cm"].round()
    stays = (base_cm > depth_cm).to_numpy()
    columns = (stations["station"], stations["part"], mapped, base_cm, depth_cm, stays)
    told = [
        f"{name} ({part}, map: {there}{f'; {called} {base:g} cm, {_work(work)}' if left else ''})"
        for name, part, there, base, work, left in zip(*columns, strict=True)
    ]
    missing = set(stations.loc[stays, "part"])
    # The body is what no other part takes: it is not drawn.
    drawn = joined(sorted(missing - set(parts.loc[parts["kind"] == "body", "part"])))
    named_there = set(parts.loc[parts["kind"] == "named", "part"]) & {*np.asarray(mapped)[stays]}
    clear = f", clear of {joined(sorted(named_there))}" if named_there else ""
    text = (
        f"Recorded part differs from the map at its place: {named(sorted(told, key=in_numbers))}. "
        "What was recorded counts for the readings, the map for the work"
        f"{', so the pan stays where the base is the deeper' if missing else ''}. Look whether the "
        "place is right, and the width or line of the part in [areas]"
        f"{f', or draw the {drawn} that the map lacks there{clear}' if drawn else ''}."
    )
    return (Notice("caution" if missing else "note", "part-differs", text),)


def _beside_strips(stations: pd.DataFrame, parts: gpd.GeoDataFrame) -> tuple[Notice, ...]:
    """Return a caution where most stations noted on a wheeling lie off its strips on one side.

    Each by less than a receiver errs; receivers err to all sides. How much they go one way is the
    length of the mean of the ways off to the mean of their lengths.
    """
    strips = parts[parts["kind"] == "wheeling"]
    noted = stations[stations["used"].astype(bool) & stations["part"].isin(strips["part"])]
    if noted.empty:
        return ()
    places = np.asarray(gpd.points_from_xy(noted["x_m"], noted["y_m"]))
    ways = shapely.shortest_line(strips.geometry.union_all(), places)
    off = np.diff(shapely.get_coordinates(ways).reshape(-1, 2, 2), axis=1)[:, 0]
    off_m = np.hypot(off[:, 0], off[:, 1])
    near = off_m <= constant("plan_rules", "wheeling_off_m")
    beside = near & (off_m > 0)
    count, of = int(beside.sum()), int(near.sum())
    if count < constant("plan_rules", "wheeling_beside_least") or 2 * count <= of:
        return ()
    way = off[beside].mean(axis=0)
    if np.hypot(*way) < constant("plan_rules", "wheeling_one_side") * off_m[beside].mean():
        return ()
    text = (
        f"Of {of} stations noted on a wheeling, on its strips of the map or near them, {count} lie "
        f"beside, by {least_to_most(off_m[beside].round(1))} m, to the {compass(way)}: receivers "
        "err to all sides. See to heading_deg (from grid north), offset_m or the lines of "
        "[areas.wheelings], or correct the notes: as it is the work for wheelings runs beside them."
    )
    return (Notice("caution", "wheelings-beside", text),)


def _work(depth_cm: float) -> str:
    return f"worked {depth_cm:g} cm" if depth_cm > 0 else "legs lifted out"


def _off_m(known: pd.DataFrame, parts: gpd.GeoDataFrame) -> list[float]:
    """Return how far each station stands from the ground of the part recorded there [m]."""
    shapes = dict(zip(parts["part"], parts.geometry, strict=True))
    places = gpd.points_from_xy(known["x_m"], known["y_m"])
    return [
        float(shapes[part].distance(place))
        for part, place in zip(known["part"], places, strict=True)
    ]


def _slack_m(parts: gpd.GeoDataFrame, part: str) -> float:
    """Return how far off a part may be recorded before it is told [m]."""
    strip = (parts.loc[parts["part"] == part, "kind"] == "wheeling").any()
    return constant("plan_rules", "wheeling_off_m" if strip else "part_off_m")


def unmapped_notices(
    stations: pd.DataFrame, depth_cm: Floats, called: str = "base"
) -> tuple[Notice, ...]:
    """Return a caution for each part on which stations were noted though no ground counts as it.

    Parameters
    ----------
    stations
        ``station, part, pan_base_cm, used`` of the stations noted so; no base counts of one that
        was left out.
    depth_cm
        Working depth at each [cm].
    called
        What the base is called.
    """
    worked = pd.Series(depth_cm, index=stations.index)
    told = []
    for part, noted in stations.groupby("part", sort=True):
        read = noted[noted["pan_base_cm"].notna() & noted["used"].astype(bool)]
        base_cm, work_cm = read["pan_base_cm"].round(), worked[read.index]
        work = f"worked {least_to_most(work_cm)} cm" if work_cm.any() else "legs lifted out"
        found = f" ({called} {least_to_most(base_cm)} cm, {work})" if len(read) else ""
        deeper = base_cm > work_cm
        where = "there" if deeper.all() else "where the base is the deeper"
        stays = f", so the pan stays {where}" if deeper.any() else ""
        text = (
            f"{named(sorted(noted['station'], key=in_numbers))}{found}: noted on {part}, but no "
            f"ground of the field counts as {part}{stays}. Draw the {part} and plan again, or "
            "correct the note."
        )
        told.append(Notice("caution", "part-not-mapped", text))
    return tuple(told)

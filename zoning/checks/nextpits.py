"""Where to dig next: where a pit says most about ground whose verdict is open."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.special import ndtr
from shapely.geometry.base import BaseGeometry

from zoning.checks.rules import rule
from zoning.model.check import PlannedGround

Floats = NDArray[np.float64]
_OPEN = "Its depth is not settled, and here it is most open whether the pan is gone."
COLUMNS = ("order", "zone", "depth_cm", "x_m", "y_m", "reason")


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    """Where one could dig: one place a cell, what a pit there would tell, whether it has room."""

    xy_m: Floats
    zone: NDArray[np.int64]
    depth_cm: Floats
    worth: Floats
    narrow: NDArray[np.bool_]


def dig_next(
    planned: PlannedGround,
    groups: pd.DataFrame,
    pits: pd.DataFrame,
    probes: pd.DataFrame,
    *,
    ridge_cm: float,
    keep_off: BaseGeometry,
) -> gpd.GeoDataFrame:
    """Return places to dig next, the most telling first, no more than ``dig_most``.

    Parameters
    ----------
    planned
        The plan that was worked to.
    groups
        Rows of `zoning.checks.judge_groups`: ``more_pits`` of each depth is shared out.
    pits
        Rows of `zoning.checks.judge_pits`: no place is named within ``dig_apart_m`` of one.
    probes
        Cone stations of after the work: those that still meet a pan come first.
    ridge_cm
        Ridge to expect between legs, NaN where not known [cm].
    keep_off
        Ground about drains and services, where nobody is sent to dig.

    Notes
    -----
    A place is worth ``p * 4 q (1 - q)``: the probability of a pan times how open it is whether
    the ground between legs passes its base there, ``q = Phi((depth - ridge - base) / sd)``.
    """
    places = _places(planned, ridge_cm, keep_off)
    taken = pits[["x_m", "y_m"]].to_numpy(dtype=float)
    rows = _contradicting(probes, taken, keep_off)
    wanted = _wanted(groups)
    while len(rows) < rule("dig_most") and any(wanted.values()):
        for depth in [depth for depth, more in wanted.items() if more > 0]:
            found = _best(places, depth, np.vstack([taken, *[[r[2], r[3]] for r in rows]]))
            wanted[depth] = wanted[depth] - 1 if found else 0
            if found and len(rows) < rule("dig_most"):
                rows.append(found)
    frame = pd.DataFrame(rows, columns=list(COLUMNS[1:]))
    frame.insert(0, "order", np.arange(1, len(frame) + 1))
    shape = gpd.points_from_xy(frame["x_m"], frame["y_m"])
    return gpd.GeoDataFrame(frame, geometry=shape, crs=planned.working_crs)


Row = tuple[int, float, float, float, str]


def _wanted(groups: pd.DataFrame) -> dict[float, int]:
    """Return how many more pits each depth asks for, the largest ground first."""
    own = groups[groups["group"] == "depth"].sort_values(
        ["area_ha", "name"], ascending=False, kind="stable"
    )
    return {
        float(str(row["name"]).removesuffix(" cm")): max(0, int(row["more_pits"]))
        for row in own.to_dict("records")
    }


def _contradicting(probes: pd.DataFrame, taken: Floats, keep_off: BaseGeometry) -> list[Row]:
    """Return the cone stations that still meet a pan and have no pit beside them."""
    still = probes[
        (probes["n_known"] > 0) & (probes["verdict"] != "no_pan") & (probes["depth_cm"] > 0)
    ]
    rows: list[Row] = []
    for probe in still.sort_values("station", kind="stable").to_dict("records"):
        place = np.array([probe["x_m"], probe["y_m"]])
        near = _nearest_m(place, taken)
        apart = _nearest_m(place, np.array([[row[2], row[3]] for row in rows]).reshape(-1, 2))
        off = shapely.intersects_xy(keep_off, *place)
        free = near > rule("pair_place_m") and apart >= rule("dig_apart_m") and not off
        if free and len(rows) < rule("dig_probes_most"):
            why = f"The cone still meets a pan at station {probe['station']}."
            rows.append((int(probe["zone"]), float(probe["depth_cm"]), *place.tolist(), why))
    return rows


def _nearest_m(place: Floats, others: Floats) -> float:
    return float(np.hypot(*(others - place).T).min(initial=np.inf))


def _places(planned: PlannedGround, ridge_cm: float, keep_off: BaseGeometry) -> _Places:
    zones = planned.zones[planned.zones["depth_cm"] > 0]
    centres = planned.grid.centres_m()
    mean, sd, pan = (
        planned.bands[name].ravel() for name in ("pan_base_cm", "pan_base_sd_cm", "pan_probability")
    )
    zone = np.full(len(centres), -1, dtype=np.int64)
    depth = np.full(len(centres), np.nan)
    narrow = np.zeros(len(centres), dtype=bool)
    facts = (zones["zone"].tolist(), zones["depth_cm"].tolist(), zones.geometry.tolist())
    for name, planned_cm, shape in zip(*facts, strict=True):
        inner = _inner(shape)
        held = shapely.contains_xy(inner, centres[:, 0], centres[:, 1])
        zone[held], depth[held], narrow[held] = name, planned_cm, inner is shape
    off = shapely.intersects_xy(keep_off, centres[:, 0], centres[:, 1])
    fit = (zone >= 0) & np.isfinite(mean) & ~off
    lost = ridge_cm if np.isfinite(ridge_cm) else rule("ridge_even_cm")
    open_to = ndtr((depth - lost - mean) / np.hypot(sd, rule("depth_read_sd_cm")))[fit]
    worth = np.round(pan[fit] * 4.0 * open_to * (1.0 - open_to), 3)
    return _Places(centres[fit], zone[fit], depth[fit], worth, narrow[fit])


def _inner(shape: BaseGeometry) -> BaseGeometry:
    """Return the ground well inside a zone, or all of it where it is too narrow for that."""
    well_inside: BaseGeometry = shapely.buffer(shape, -rule("dig_inside_m"))
    inner = shape if well_inside.is_empty else well_inside
    shapely.prepare(inner)
    return inner


def _best(places: _Places, depth_cm: float, taken: Floats) -> Row | None:
    """Return the most telling free place at a depth: of equals the north-western one.

    Zones too narrow to stand well inside come last: a place could lie beside them.
    """
    held = np.flatnonzero(places.depth_cm == depth_cm)
    if len(taken):
        gap = np.min([np.hypot(*(places.xy_m[held] - place).T) for place in taken], axis=0)
        held = held[gap >= rule("dig_apart_m")]
    if not len(held):
        return None
    x, y = places.xy_m[held].T
    first = held[np.lexsort([x, -y, -places.worth[held], places.narrow[held]])[0]]
    return int(places.zone[first]), depth_cm, *places.xy_m[first].tolist(), _OPEN

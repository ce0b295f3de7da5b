"""Drains, buried services and obstacles: where the working depth is bounded."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from zoning.contracts import constant, deepest_cm, keep_off_m
from zoning.contracts.hazards import KINDS
from zoning.model import Notice


def hazard_zones(
    hazards: gpd.GeoDataFrame, *, machine_width_m: float
) -> tuple[gpd.GeoDataFrame, tuple[Notice, ...]]:
    """Return the ground about each hazard with the greatest depth allowed on it.

    - **drain**: ``cap_cm`` = cover - ``drain_margin_cm``, not below 0, within ``clear_m`` each
      side;
    - **service**: legs lifted out (``cap_cm`` 0) within ``clear_m``, whatever its depth: a recorded
      depth says where a service was laid, not where it lies;
    - **obstacle**: legs lifted out within ``clear_m``.

    Where ``clear_m`` or a drain's ``depth_cm`` was not given, the cautious value of
    ``shared/tables/part_rules.csv`` stands in and a caution says so; a stand-in for ``clear_m`` is
    never less than half the machine's width.

    The caller applies the cap to every piece of a pass whose full machine width touches the
    polygon: legs beside the middle line reach it too. These bounds do not make work safe: lines on
    maps are often wrong, and only a located and marked service is known.

    Parameters
    ----------
    hazards
        ``kind`` (drain, service or obstacle), ``depth_cm`` (cover, NaN where unknown), ``clear_m``
        (keep-off each side, NaN where not given), ``name`` where there is one, ``geometry``
        (points, lines or areas) [m, working CRS].
    machine_width_m
        Working width [m].

    Returns
    -------
    zones : geopandas.GeoDataFrame
        ``kind, name, cap_cm, clear_m, depth_cm, geometry`` (keep-off polygon), a row a hazard,
        sorted by kind and place. ``depth_cm`` stays NaN where it was not given.
    notices : tuple of Notice
        Every stand-in that was used.
    """
    unknown = set(hazards["kind"]) - set(KINDS)
    if unknown:
        raise ValueError(
            f"unknown kinds of hazard: {sorted(unknown)}; known are {', '.join(KINDS)}"
        )
    kind = hazards["kind"].to_numpy(dtype=np.str_)
    cover = hazards["depth_cm"].to_numpy(dtype=np.float64)
    given = hazards["clear_m"].to_numpy(dtype=np.float64)
    clear = keep_off_m(kind, given, machine_width_m)
    segments = int(constant("part_rules", "keep_off_segments"))
    shapes = shapely.buffer(hazards.geometry.to_numpy(), clear, quad_segs=segments)
    name = hazards.get("name", pd.Series("", index=hazards.index)).to_numpy(dtype=np.str_)
    cap = deepest_cm(kind, cover)
    table = {"kind": kind, "name": name, "cap_cm": cap, "clear_m": clear, "depth_cm": cover}
    zones = gpd.GeoDataFrame(table, geometry=shapely.normalize(shapes), crs=hazards.crs)
    place = shapely.to_wkb(zones.geometry.to_numpy(), hex=True).astype(np.str_)
    order = np.lexsort([name, cover, place, kind])
    notices = (*_unknown_clear(kind, given, clear), *_narrow(given), *_unknown_cover(kind, cover))
    return zones.iloc[order].reset_index(drop=True), notices


def _unknown_clear(
    kind: NDArray[np.str_], given_m: NDArray[np.float64], clear_m: NDArray[np.float64]
) -> list[Notice]:
    found = []
    for name in KINDS:
        missing = (kind == name) & ~np.isfinite(given_m)
        if missing.any():
            text = (
                f"No keep-off distance (clear_m) was given for {_count(int(missing.sum()), name)}: "
                f"{clear_m[missing][0]:g} m each side is taken. "
                "Give the distance that was agreed on site."
            )
            found.append(Notice("caution", f"{name}-clear-assumed", text))
    return found


def _narrow(given_m: NDArray[np.float64]) -> list[Notice]:
    least = constant("part_rules", "least_clear_m")
    narrow = int((given_m < least).sum())
    if narrow == 0:
        return []
    text = (
        f"{_count(narrow, 'hazard')} had a keep-off below {least:g} m: "
        f"{least:g} m each side is taken."
    )
    return [Notice("caution", "clear-widened", text)]


def _unknown_cover(kind: NDArray[np.str_], cover_cm: NDArray[np.float64]) -> list[Notice]:
    missing = int(((kind == "drain") & ~np.isfinite(cover_cm)).sum())
    if missing == 0:
        return []
    cover = constant("part_rules", "drain_cover_unknown_cm")
    cap = float(deepest_cm("drain", np.nan))
    text = (
        f"No depth was given for {_count(missing, 'drain')}: {cover:g} cm of cover is taken, "
        f"so work stays at {cap:g} cm or shallower over it. "
        "Find the drain's depth before working deeper."
    )
    return [Notice("caution", "drain-cover-assumed", text)]


def _count(n: int, name: str) -> str:
    return f"{n} {name}{'' if n == 1 else 's'}"

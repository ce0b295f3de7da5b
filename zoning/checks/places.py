"""How far pits speak for ground: pits at one place count once, ground none shows stays open."""

from __future__ import annotations

from collections.abc import Iterator

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.cluster.hierarchy import fcluster, linkage

from zoning.checks.rules import rule
from zoning.model.check import JUDGED
from zoning.units import M2_PER_HA, as_number


def place_of(xy_m: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the number of the place that each pit belongs to, whatever their order.

    Pits of one place lie no further apart than ``one_place_m``, each from each: clusters by
    complete linkage, so that a line of pits is not drawn together into one place.

    Parameters
    ----------
    xy_m
        Shape ``(n, 2)`` [m].
    """
    if len(xy_m) < 2:
        return np.ones(len(xy_m), dtype=np.int64)
    spots, own = np.unique(xy_m, axis=0, return_inverse=True)
    if len(spots) == 1:
        return np.ones(len(xy_m), dtype=np.int64)
    joined = fcluster(linkage(spots, "complete"), rule("one_place_m"), criterion="distance")
    return np.asarray(joined[own.ravel()], dtype=np.int64)


def by_place(pits: pd.DataFrame, *, lean: float = 0.0) -> pd.DataFrame:
    """Return one row a place of the judged pits: the share of its pits that count.

    Its pits disagree where that is neither 0 nor 1.

    Parameters
    ----------
    pits
        Rows of `zoning.checks.judge_pits`.
    lean
        0 takes each pit for what is likelier; above 0, a pit counts as passed only if its
        probability is this or more; below 0, unless it is one less its size or less.

    Returns
    -------
    DataFrame
        ``leg, between``: share of the pits passed there, NaN where none was measured; ``deep``:
        share of those measured between that went too deep.
    """
    likelier = rule("passed_probability")
    least = likelier if lean == 0 else lean if lean > 0 else np.nextafter(1.0 + lean, 1.0)
    judged = pits[pits["verdict"].isin(JUDGED)]
    leg, between = judged["chance_leg"], judged["chance_between"]
    facts = pd.DataFrame({
        "leg": (leg >= least).where(leg.notna()),
        "between": (between >= least).where(between.notna()),
        "deep": (judged["verdict"] == "too_deep").where(between.notna()),
    }).astype(float)  # fmt: skip
    own = place_of(judged[["x_m", "y_m"]].to_numpy(dtype=float))
    return facts.groupby(own).mean()


def telling(pits: pd.DataFrame) -> pd.DataFrame:
    """Return the judged pits that show whether the work went deep enough on the ground about them.

    Those that count between the legs: a pit that shows no more than that a leg passed, or whose
    *no pan* is in doubt, leaves its ground unseen. So does *no pan* of a pit that was measured at
    the leg alone: it need not have been looked for between the legs.
    """
    judged = pits[pits["verdict"].isin(JUDGED)]
    depths = judged[["loosened_at_leg_cm", "loosened_between_cm"]].notna().to_numpy()
    leg_alone = (judged["pan"] == "no").to_numpy() & depths[:, 0] & ~depths[:, 1]
    shown: pd.DataFrame = judged[judged["chance_between"].notna() & ~leg_alone]
    return shown


def unseen(
    zones: gpd.GeoDataFrame, pits: pd.DataFrame, parts: gpd.GeoDataFrame
) -> list[tuple[str, str, float]]:
    """Return the ground too large to be judged by pits elsewhere with no `telling` pit.

    Parameters
    ----------
    zones
        The ground that was worked: ``zone, depth_cm, area_ha``, geometry.
    pits
        Rows of `zoning.checks.judge_pits`.
    parts
        ``part``, geometry: parts of the field.

    Returns
    -------
    list of (str, str, float)
        ``part`` or ``depth``, its name and its worked area [ha], the largest first: each with
        ``unseen_share`` or more of all `zones` and no telling pit there.
    """
    judged = telling(pits[pits["zone"].isin(zones["zone"])])
    least = rule("unseen_share") * float(zones["area_ha"].sum())
    found = (*_parts(zones, judged, parts), *_depths(zones, judged))
    return sorted((one for one in found if one[2] >= least > 0), key=lambda o: (-o[2], o[0], o[1]))


def unseen_parts(
    zones: pd.DataFrame, pits: pd.DataFrame, parts: gpd.GeoDataFrame
) -> list[tuple[str, str, float]]:
    """Return the parts as `unseen` does: much of the ground of `zones` and no telling pit there.

    Less than ``dig_least_ha`` asks for no pit.
    """
    judged = telling(pits[pits["zone"].isin(zones["zone"])])
    least = max(rule("dig_least_ha"), rule("unseen_share") * float(zones["area_ha"].sum()))
    found = [one for one in _parts(zones, judged, parts) if one[2] >= least]
    return sorted(found, key=lambda one: (-one[2], one[1]))


def waited_for(
    zones: gpd.GeoDataFrame, pits: pd.DataFrame, parts: gpd.GeoDataFrame
) -> dict[float, set[str]]:
    """Return the parts that the verdict on each depth [cm] waits for, as `unseen_parts` does."""
    return {
        as_number(depth): {part for _, part, _ in unseen_parts(own, pits, parts)}
        for depth, own in zones.groupby("depth_cm")
    }


def _parts(
    zones: pd.DataFrame, judged: pd.DataFrame, parts: gpd.GeoDataFrame
) -> Iterator[tuple[str, str, float]]:
    worked = shapely.union_all(zones["geometry"].to_numpy())
    seen = set(judged["part"])
    for name, own in parts.groupby("part", sort=True):
        if name not in seen:
            ground = shapely.intersection(shapely.union_all(own.geometry.to_numpy()), worked)
            yield "part", str(name), float(ground.area) / M2_PER_HA


def _depths(zones: gpd.GeoDataFrame, judged: pd.DataFrame) -> Iterator[tuple[str, str, float]]:
    for depth, own in zones.groupby("depth_cm", sort=True):
        if not judged["zone"].isin(own["zone"]).any():
            yield "depth", f"{as_number(depth):g} cm", float(own["area_ha"].sum())

"""Parts of a field in which no station or pit answers whether there is a pan: guessed ground."""

from __future__ import annotations

import pandas as pd
import shapely

GUESSED = "guessed, no station read there"
FAR = "no station near"
"""Reason of ``Plan.uncertain`` for ground too far from every station to be told by one."""


def unread_parts(parts: pd.DataFrame, stations: pd.DataFrame) -> list[str]:
    """Return the parts in which nothing that is used answers the question, by name.

    Parameters
    ----------
    parts
        ``part``.
    stations
        ``part_used, used, n_known``, pits among them; a bound on the base alone is an answer too.
    """
    answers = stations["used"].astype(bool) & (stations["n_known"] > 0)
    return sorted(set(parts["part"]) - set(stations.loc[answers, "part_used"]))


def noted_otherwise(part: str, parts: pd.DataFrame, stations: pd.DataFrame) -> str:
    """Return which stations stand in a part but were noted as of another; nothing where none do.

    They are read as what they were noted as, so that what is peculiar to this part stays guessed.

    Parameters
    ----------
    part
        Name of the part.
    parts
        ``part`` and, where the map is known, ``geometry``.
    stations
        ``station, part_used, used, n_known, x_m, y_m``.
    """
    if "geometry" not in parts:
        return ""
    ground = shapely.union_all(parts.loc[parts["part"] == part, "geometry"].to_numpy())
    there = shapely.intersects_xy(ground, stations["x_m"], stations["y_m"])
    held = stations[there & stations["used"].astype(bool) & (stations["n_known"] > 0)]
    told = [
        f"{', '.join(sorted(alike['station']))} in it noted and read as {other}"
        for other, alike in held[held["part_used"] != part].groupby("part_used", sort=True)
    ]
    return "; ".join(told)

"""One name at two places: a station typed twice, or a place mistyped."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from zoning.contracts import constant
from zoning.errors import Fault
from zoning.model import Notice
from zoning.readings.rules import listed, rule
from zoning.readings.text_table import row_words


@dataclass(frozen=True, slots=True, eq=False)
class Apart:
    """Stations whose readings lie apart.

    Parameters
    ----------
    stations
        Names of those that are refused.
    faults
        One for each of them, or one for all of many.
    notices
        A caution on those that lie apart within the limit.
    """

    stations: frozenset[str]
    faults: tuple[Fault, ...]
    notices: tuple[Notice, ...]


def stations_apart(frame: pd.DataFrame) -> Apart:
    """Find stations whose readings lie further apart than one station can.

    Two places each as wrong as a hand-held receiver may be give the limit, ``station_spread_m``;
    from ``station_place_tolerance_m`` on a station is pointed out.

    Parameters
    ----------
    frame
        Rows of all files of one role, with ``file, row, station`` and ``x_m, y_m`` [m, working
        CRS] and the place as given, ``given_x, given_y``; rows without a place count for nothing.
    """
    known = frame[np.isfinite(frame["x_m"]) & np.isfinite(frame["y_m"])]
    groups = known.groupby("station")[["x_m", "y_m"]]
    size = groups.max() - groups.min()
    span = pd.Series(np.hypot(size["x_m"], size["y_m"]), index=size.index)
    most, told = rule("station_spread_m"), constant("profile_rules", "station_place_tolerance_m")
    far, near = span[span > most], span[(span > told) & (span <= most)]
    if len(far) > rule("fault_names_listed_max"):
        faults = _many(known, far, most)
    else:
        faults = [
            _two_places(known[known["station"] == name], str(name), most) for name in far.index
        ]
    return Apart(frozenset(map(str, far.index)), tuple(faults), tuple(_pointed_out(near)))


def _two_places(rows: pd.DataFrame, name: str, most: float) -> Fault:
    """Return a fault that names the rows about each of the two places farthest from each other."""
    rows = rows.reset_index(drop=True)
    xy = rows[["x_m", "y_m"]].to_numpy(dtype=float)
    one = xy[np.hypot(*(xy - xy[0]).T).argmax()]
    from_one = np.hypot(*(xy - one).T)
    other = xy[from_one.argmax()]
    at_one = from_one < np.hypot(*(xy - other).T)
    first = at_one == at_one[0]
    file, row = str(rows["file"][0]), int(rows["row"][0])
    here, there = (_places(rows[chosen], file) for chosen in (first, ~first))
    what = (
        f"{here[:1].upper()}{here[1:]} and {there} are both {name}, {from_one.max():.0f} m apart."
    )
    remedy = (
        "Is one of them another station, or a place mistyped? The readings of a station lie within "
        f"{most:g} m."
    )
    if _turned(rows[first], rows[~first]):
        remedy = "The two coordinates of one of them look swapped: put them into their own columns."
    return Fault(file, what, remedy, row=row, column="station")


def _turned(one: pd.DataFrame, other: pd.DataFrame) -> bool:
    """Whether two places as the file gives them are nearer once one changes its coordinates."""
    a, b = (rows[["given_x", "given_y"]].to_numpy(dtype=float)[0] for rows in (one, other))
    return bool(np.hypot(*(a - b[::-1])) < np.hypot(*(a - b)))


def _places(rows: pd.DataFrame, file: str) -> str:
    """Return ``rows 2-10``, with the file where it is not `file`."""
    told = []
    for name, own in rows.groupby("file", sort=False):
        lines = sorted({int(row) for row in own["row"]})
        words = row_words(lines)
        told.append(words if name == file else f"{words} of {name}")
    return ", ".join(told)


def _many(known: pd.DataFrame, far: pd.Series, most: float) -> list[Fault]:
    """Return one fault for many stations: the column seems to hold something else."""
    heads = known[known["station"].isin(far.index)].drop_duplicates("station")
    what = (
        f"The readings of stations {listed(sorted(far.index))} lie up to {far.max():.0f} m apart."
    )
    remedy = f"Give each station its own name; {most:g} m is the limit."
    columns = (heads["file"], heads["row"])
    return [
        Fault(str(file), what, remedy, row=int(row), column="station")
        for file, row in zip(*columns, strict=True)
    ]


def _pointed_out(near: pd.Series) -> list[Notice]:
    if near.empty:
        return []
    which = listed([f"{name} ({span:.0f} m)" for name, span in near.items()])
    text = (
        f"Insertions of one station lie apart: {which}. The middle counts as its place. Give those "
        "that are stations of their own a name of their own."
    )
    return [Notice("note", "station-apart", text)]

"""Places of readings brought into the working CRS and judged against the boundary."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import ProjError

from zoning.errors import Fault
from zoning.model import Notice
from zoning.model.names import in_numbers
from zoning.readings.checked_table import CheckedTable
from zoning.readings.rules import listed, rule
from zoning.readings.site import Site
from zoning.readings.systems import LONLAT, Floats, Shift, accuracy_notice
from zoning.readings.text_table import row_words

_SWAP_WORDS = {"degrees": "lon and lat", "grid": "easting and northing"}


@dataclass(frozen=True, slots=True, eq=False)
class PlacedTable:
    """Rows of one file with ``x_m, y_m, lon, lat``; rows left out stand apart."""

    frame: pd.DataFrame
    left_out: pd.DataFrame
    faults: tuple[Fault, ...]
    notices: tuple[Notice, ...]


def place(
    table: CheckedTable, site: Site, crs: CRS | None, group: str, what: pd.Series
) -> PlacedTable:
    """Place the rows of one file.

    Parameters
    ----------
    table
        Rows with ``given_x, given_y`` as the file gives them.
    site
        The field.
    crs
        ``readings.crs``, for places given as easting and northing.
    group
        Column whose rows stand or fall together (an insertion, a pit): their mean distance counts.
    what
        Words for each row, for the list of what was left out.

    Returns
    -------
    PlacedTable
        With a fault, and no rows, where most places lie outside the boundary.
    """
    source = _source(table, crs)
    given_x, given_y = (table.frame[c].to_numpy(dtype=float) for c in ("given_x", "given_y"))
    try:
        used = site.shift_from(source)
    except ProjError:
        return _refused(
            table, "The places cannot be shifted into the working CRS.", "Check readings.crs."
        )
    x, y = used.apply(given_x, given_y)
    lost = ~(np.isfinite(x) & np.isfinite(y))
    if lost.any():
        return _refused(
            table,
            "Some places lie where the working CRS does not reach.",
            _check_words(table),
            sorted({int(row) for row in table.frame.loc[lost, "row"]}),
        )
    distance = _distance(site, x, y)
    trouble = _misplaced(table, site, used, np.column_stack([x, y]), distance)
    if trouble is not None:
        return trouble
    lon, lat = (given_x, given_y) if table.places == "degrees" else site.lonlat(x, y)
    frame = table.frame.drop(columns=["given_x", "given_y"]).assign(
        x_m=x, y_m=y, lon=lon, lat=lat, file=table.file
    )
    # The nearest reading speaks for an insertion: one whose readings lie far apart is kept here and
    # refused as such, rather than left out for a distance that most of its readings do not have.
    nearest = pd.Series(distance, index=frame.index).groupby(frame[group]).transform("min")
    accuracy = accuracy_notice(table.file, source, used)
    away = nearest.to_numpy() > rule("outside_tolerance_m")
    swapped = away & _swapped(table, site, used) if away.any() else away
    outside = frame.assign(what=what, distance_m=nearest, swapped=swapped)
    notices = (*([] if accuracy is None else [accuracy]), *_told(table, outside))
    left = _left_out(table, pd.DataFrame(outside[away])).reset_index(drop=True)
    return PlacedTable(frame[~away].reset_index(drop=True), left, (), notices)


def _source(table: CheckedTable, crs: CRS | None) -> CRS:
    return CRS(LONLAT) if table.places == "degrees" or crs is None else crs


def positions(table: CheckedTable, site: Site, crs: CRS | None) -> tuple[Floats, Floats]:
    """Return x and y of each row [m, working CRS], NaN where they cannot be shifted there."""
    given_x, given_y = (table.frame[c].to_numpy(dtype=float) for c in ("given_x", "given_y"))
    try:
        return site.shift_from(_source(table, crs)).apply(given_x, given_y)
    except ProjError:
        return np.full(len(given_x), np.nan), np.full(len(given_x), np.nan)


def _refused(table: CheckedTable, what: str, remedy: str, rows: Sequence[int] = ()) -> PlacedTable:
    """Return a refusal of the file as a whole, or of some of its `rows`, which are named."""
    words = row_words(rows) if len(rows) > 1 else ""
    fault = Fault(table.file, what, remedy, row=rows[0] if rows else None, rows=words)
    return PlacedTable(table.frame.iloc[:0], no_rows_left_out(), (fault,), ())


def no_rows_left_out() -> pd.DataFrame:
    """Return the empty list of rows left out."""
    return pd.DataFrame(
        {
            "file": pd.Series(dtype="str"),
            "row": pd.Series(dtype="int64"),
            "what": pd.Series(dtype="str"),
            "pit_phase": pd.Series(dtype="str"),
            "reason": pd.Series(dtype="str"),
        }
    )


def _check_words(table: CheckedTable) -> str:
    key = "readings.crs" if table.places == "grid" else "the columns lon and lat"
    return f"Check {key} and the boundary; did you swap {_SWAP_WORDS[table.places]}?"


def _distance(site: Site, x: Floats, y: Floats) -> Floats:
    """Return the distance to the field [m], 0 inside; shape ``(rows,)``."""
    places, back = np.unique(np.column_stack([x, y]), axis=0, return_inverse=True)
    shapely.prepare(site.boundary)
    distance = np.zeros(len(places))
    outside = ~shapely.contains_xy(site.boundary, places[:, 0], places[:, 1])
    distance[outside] = shapely.distance(shapely.points(places[outside]), site.boundary)
    return np.asarray(distance[back.reshape(-1)], dtype=float)


def _misplaced(
    table: CheckedTable, site: Site, used: Shift, xy: Floats, distance: Floats
) -> PlacedTable | None:
    """Return a refusal where most places of the file lie outside the boundary."""
    first = np.unique(xy, axis=0, return_index=True)[1]
    outside = distance[first] > rule("outside_tolerance_m")
    if outside.mean() <= rule("outside_share_max"):
        return None
    swapped = _swapped(table, site, used)[first] & outside
    if swapped.sum() > rule("outside_share_max") * outside.sum():
        words, count = _SWAP_WORDS[table.places], int(swapped.sum())
        which = "The places" if count == len(first) else f"{count} of {len(first)} places"
        return _refused(
            table,
            f"{which} lie in the field once {words} change places.",
            f"Did you swap {words}, here or in the boundary?",
        )
    spread = float(np.hypot(*np.ptp(xy, axis=0)))
    size = float(np.hypot(*_size(site)))
    if spread > max(rule("national_spread") * size, rule("far_m")):
        return _refused(
            table,
            f"The readings spread over {spread / 1000:.1f} km and the field over "
            f"{size / 1000:.1f} km: "
            "this is a set of many fields.",
            "Keep the readings of this field only.",
        )
    if distance.min() > rule("far_m"):
        return _refused(
            table,
            f"The nearest reading lies {distance.min() / 1000:.1f} km from the boundary.",
            _check_words(table),
        )
    return _refused(
        table,
        f"{int(outside.sum())} of {len(first)} places lie outside the boundary, up to "
        f"{distance.max():.0f} m.",
        "Check that readings and boundary are of one field.",
    )


def _size(site: Site) -> tuple[float, float]:
    west, south, east, north = site.boundary.bounds
    return east - west, north - south


def _swapped(table: CheckedTable, site: Site, used: Shift) -> NDArray[np.bool_]:
    """Mark the rows that would lie in the field with their two coordinates exchanged."""
    x, y = used.apply(*(table.frame[c].to_numpy(dtype=float) for c in ("given_y", "given_x")))
    inside = np.isfinite(x) & np.isfinite(y)
    inside[inside] = _distance(site, x[inside], y[inside]) <= rule("outside_tolerance_m")
    return np.asarray(inside, dtype=bool)


def _told(table: CheckedTable, frame: pd.DataFrame) -> Iterator[Notice]:
    """Tell of the rows outside the boundary, those kept and those left out.

    A place that is far off, or that would lie in the field the other way round, was mistyped: that
    is a caution, since the plan lacks a station that someone walked to.
    """
    tolerance, distance = rule("outside_tolerance_m"), frame["distance_m"]
    away, near = distance > tolerance, (distance > 0) & (distance <= tolerance)
    if near.any():
        text = (
            f"{table.file}: {_rows(frame[near])} up to {distance[near].max():.1f} m outside the "
            f"boundary kept ({tolerance:g} m is allowed for the error of the receiver)."
        )
        yield Notice("note", "readings-just-outside", text)
    if away.any():
        text = (
            f"{table.file}: {_rows(frame[away])} more than {tolerance:g} m outside the boundary "
            "left out."
        )
        yield Notice("note", "readings-outside", text)
    if frame["swapped"].any():
        text = (
            f"{table.file}: {_SWAP_WORDS[table.places]} of {_which(frame[frame['swapped']])} look "
            "swapped: the other way round they would lie in the field. Left out as they stand: "
            "mend the file and plan again."
        )
        yield Notice("caution", "readings-swapped", text)
    far = (distance > rule("far_m")) & ~frame["swapped"]
    if far.any():
        text = (
            f"{table.file}: {_which(frame[far])} left out, {distance[far].max() / 1000:.0f} km "
            f"from the field: is {_SWAP_WORDS[table.places]} mistyped, a digit or a sign?"
        )
        yield Notice("caution", "readings-far", text)


def _left_out(table: CheckedTable, away: pd.DataFrame) -> pd.DataFrame:
    """Return the list of rows left out, each with its reason."""
    swapped = (
        f"{_SWAP_WORDS[table.places]} of this {_kind(away)} look swapped: swapped it would lie in "
        "the field"
    )
    reasons = [
        swapped if odd else outside_words(distance)
        for odd, distance in zip(away["swapped"], away["distance_m"], strict=True)
    ]
    phase = away["phase"] if "pit" in away else ""
    return pd.DataFrame(away[["file", "row", "what"]]).assign(pit_phase=phase, reason=reasons)


def _kind(frame: pd.DataFrame) -> str:
    return "pit" if "pit" in frame else "station"


def _which(frame: pd.DataFrame) -> str:
    """Return the stations or pits of `frame` with their rows: ``station S3 (rows 5-7)``."""
    kind = _kind(frame)
    told = []
    for name, own in sorted(frame.groupby(kind)["row"], key=lambda one: in_numbers(str(one[0]))):
        lines = sorted({int(row) for row in own})
        told.append(f"{name} ({row_words(lines)})")
    return f"{kind}{'s' if len(told) > 1 else ''} {listed(told)}"


def outside_words(distance_m: float) -> str:
    """Return why a place this far outside the boundary is not taken."""
    return f"{distance_m:.0f} m outside the boundary"


def _rows(frame: pd.DataFrame) -> str:
    """Return how many rows of the file `frame` comes from: a wide one holds many readings."""
    count = frame["row"].nunique()
    return "1 row" if count == 1 else f"{count} rows"

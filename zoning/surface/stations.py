"""Stations as arrays: what is known of the base, and what of the presence of a pan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from zoning.errors import PlanRefused
from zoning.grid import HeadingFrame
from zoning.surface.covariance import Array, Index
from zoning.surface.priors import PartCodes, reporting, rule
from zoning.surface.system import Readings


@dataclass(frozen=True, slots=True, eq=False)
class Stations:
    """Stations by name, so that the order of the rows given does not matter.

    Places are metres across and along the heading from the middle of the stations: whatever is laid
    or ordered by them turns with the field.

    Parameters
    ----------
    axes
        From the working CRS to those places.
    rows
        Label of each station in the frame given.
    names
        Name of each station.
    parts
        Codes of the parts.
    places
        One row a station (values and errors without meaning), for the presence of a pan.
    with_pan, known
        Independent answers that show a pan, and all of them: see `Reporting`; shape ``(n,)``.
    base
        One row a station whose base was read.
    base_row
        Its row in `names`.
    censored
        Rows of `base` that are lower limits.
    days
        Days on which bases of `base` were read with a cone, in order. A pit has none: what the
        spade finds does not hang on dryness, so pits hold the level where days differ.
    """

    axes: HeadingFrame
    rows: pd.Index
    names: tuple[str, ...]
    parts: PartCodes
    places: Readings
    with_pan: Array
    known: Array
    base: Readings
    base_row: Index
    censored: Index
    days: tuple[str, ...]


def read_stations(frame: pd.DataFrame, heading_deg: float = 0.0) -> Stations:
    """Return the stations of `frame` (the columns of the stations table with ``part_used``).

    `heading_deg` is the direction of travel, clockwise from grid north [degrees].

    Raises
    ------
    PlanRefused
        If no station says anything about a pan.
    """
    table = _in_order(frame)
    base_row = np.flatnonzero(np.isfinite(table["pan_base_cm"].to_numpy(np.float64)))
    with_pan, known = _answers(table)
    if not len(base_row) and not np.any(known > 0):
        raise PlanRefused(
            "No station tells whether there is a pan, so no depth can be planned. "
            "Take readings that reach below the pan, or dig a pit."
        )
    parts = PartCodes(table["part_used"].astype(str).tolist())
    given = table[["x_m", "y_m"]].to_numpy(np.float64)
    middle_x, middle_y = given.mean(axis=0).tolist()
    axes = HeadingFrame(middle_x, middle_y, heading_deg)
    xy = axes.inward(given)
    part = parts.of(table["part_used"].astype(str).tolist())
    rows = table.iloc[base_row]
    days, day = _days(rows["date"].astype(str).where(rows["kind"] == "cone", "").to_numpy())
    base = Readings(
        xy[base_row],
        rows["pan_base_cm"].to_numpy(np.float64),
        _error_var(rows["error_sd_cm"].to_numpy(np.float64)),
        part[base_row],
        day,
        place_codes(xy[base_row], part[base_row]),
    )
    empty = np.zeros(len(table))
    places = Readings(xy, empty, empty + 1.0, part, np.full(len(table), -1), place_codes(xy, part))
    return Stations(
        axes,
        table.index,
        tuple(table["station"].astype(str)),
        parts,
        places,
        with_pan,
        known,
        base,
        base_row,
        np.flatnonzero(rows["censored"].to_numpy(np.bool_)),
        days,
    )


def place_codes(xy_m: Array, part: Index) -> Index:
    """Return a number for each distinct place and part, shape ``(n,)``."""
    key = np.column_stack([xy_m, part.astype(np.float64)])
    return np.unique(key, axis=0, return_inverse=True)[1].reshape(-1).astype(np.int64)


def _in_order(frame: pd.DataFrame) -> pd.DataFrame:
    used = frame[frame["used"].astype(bool)] if "used" in frame else frame
    return used.sort_values(["station", "kind", "date", "pan_base_cm", "x_m", "y_m"], kind="stable")


def _answers(table: pd.DataFrame) -> tuple[Array, Array]:
    """Return the independent answers of each station that show a pan, and all of them."""
    known = table["n_known"].to_numpy(np.float64)
    with_pan = np.minimum(table["n_pan"].to_numpy(np.float64), known)
    all_of = reporting().independent(known)
    share = np.divide(with_pan, known, out=np.zeros_like(known), where=known > 0)
    return share * all_of, all_of


def _days(date: np.ndarray[tuple[int], np.dtype[np.object_]]) -> tuple[tuple[str, ...], Index]:
    days = tuple(sorted({str(d) for d in date if str(d) not in {"", "nan", "None", "NaT"}}))
    order = {day: code for code, day in enumerate(days)}
    return days, np.array([order.get(str(d), -1) for d in date], dtype=np.int64)


def _error_var(sd_cm: Array) -> Array:
    filled = np.where(np.isfinite(sd_cm), sd_cm, rule("unknown_error_sd_cm"))
    return np.maximum(filled, rule("least_error_sd_cm")) ** 2

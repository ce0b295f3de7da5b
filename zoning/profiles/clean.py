"""From logged rows to clean profiles: order, repeats, blanks, zeros and where the push ended."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.profiles.rules import rule

Numbers = NDArray[np.float64]
Index = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Good readings of many insertions, one after the other, each from the top down.

    Parameters
    ----------
    of
        Number of the insertion each reading belongs to, shape ``(n,)``, rising.
    depth_cm, cone_index_mpa
        Depth [cm] and cone index [MPa], shape ``(n,)``, finite.
    """

    of: Index
    depth_cm: Numbers
    cone_index_mpa: Numbers

    def keep(self, wanted: Flags) -> Readings:
        """Return the readings marked `wanted`."""
        return Readings(self.of[wanted], self.depth_cm[wanted], self.cone_index_mpa[wanted])

    def first(self) -> Flags:
        """Mark the uppermost reading of each insertion."""
        return np.diff(self.of, prepend=-1) > 0

    def last(self) -> Flags:
        """Mark the lowest reading of each insertion."""
        return np.diff(self.of, append=np.iinfo(np.int64).max) > 0


def in_order(cone: pd.DataFrame) -> pd.DataFrame:
    """Return the readings by insertion from the top down, whatever the input's order."""
    keys = ["insertion_id", "depth_cm", "file", "row", "cone_index_mpa"]
    return cone.sort_values(keys, kind="stable").reset_index(drop=True)


def heads(ordered: pd.DataFrame) -> pd.DataFrame:
    """Return one row an insertion: what was noted once, its first row in the log."""
    kept = ["station", "insertion", "x_m", "y_m", "lon", "lat", "date", "moisture", "part", "file"]
    by = ordered.groupby("insertion_id", sort=True)
    head = by[kept].first()
    head["row"] = by["row"].min()
    said = ordered["refused"].astype(str).str.lower().eq("yes")
    head["refused"] = said.groupby(ordered["insertion_id"]).any()
    return head.reset_index()


def mean_of_repeats(ordered: pd.DataFrame) -> tuple[pd.DataFrame, pd.Series]:
    """Average readings logged twice at one depth; count the repeats of each insertion."""
    keys = ["insertion_id", "depth_cm"]
    twice = ordered.duplicated(keys)
    counts = twice.groupby(ordered["insertion_id"]).sum()
    if not twice.any():
        return ordered[[*keys, "cone_index_mpa"]], counts
    means = ordered.groupby(keys, sort=True)["cone_index_mpa"].mean()
    return means.reset_index(), counts


def good_readings(ordered: pd.DataFrame, limit_mpa: float) -> tuple[Readings, pd.DataFrame]:
    """Drop blanks and false zeros and cut each profile where it can no longer be followed.

    A zero above the first true reading is loose soil. A zero or blank after the last true reading
    is where the push ended. A zero between true readings is a fault of the log and counts as blank.
    A stretch longer than ``blank_gap_max_cm`` without a good reading ends the profile.

    Returns
    -------
    readings
        The good readings.
    ends
        One row an insertion: ``repeats, n_readings, first_cm, deepest_cm, step_cm``, and the flags
        ``trailing`` (zeros or blanks after the last true reading) and ``hole``.
    """
    rows, repeats = mean_of_repeats(ordered)
    of = np.unique(rows["insertion_id"].to_numpy(dtype=object), return_inverse=True)[1]
    depth, index = rows["depth_cm"].to_numpy(float), rows["cone_index_mpa"].to_numpy(float)
    true = np.isfinite(index) & (index > rule("zero_share_of_limit") * limit_mpa)
    count = len(repeats)
    first, last = _outermost(of, true, count)
    place = np.arange(len(of))
    good = true | (np.isfinite(index) & (place < first[of]) & (last[of] >= 0))
    logged = Readings(of.astype(np.int64), depth, np.maximum(index, 0.0)).keep(good)
    hole = _below_a_hole(logged)
    kept = logged.keep(~hole)
    ends = _ends(kept, count).assign(
        repeats=repeats.to_numpy(),
        trailing=np.bincount(of, weights=place > last[of], minlength=count) > 0,
        hole=np.bincount(logged.of, weights=hole, minlength=count) > 0,
    )
    return kept, ends


def _outermost(of: Index, true: Flags, count: int) -> tuple[Index, Index]:
    """Return the place of the first and the last true reading of each insertion; -1 for none."""
    places = np.flatnonzero(true)
    first = np.full(count, -1)
    last = np.full(count, -1)
    first[of[places][::-1]] = places[::-1]
    last[of[places]] = places
    return first, last


def _below_a_hole(readings: Readings) -> Flags:
    """Mark the readings that lie below a stretch too long to bridge."""
    gap = np.diff(readings.depth_cm, prepend=0.0)
    jump = (gap > rule("blank_gap_max_cm") + 1e-9) & ~readings.first()
    total = np.cumsum(jump)
    starts = np.flatnonzero(readings.first())
    before = np.repeat(total[starts], np.diff(starts, append=len(gap)))
    return np.asarray(total > before)


def _ends(readings: Readings, count: int) -> pd.DataFrame:
    table = pd.DataFrame({"of": readings.of, "depth": readings.depth_cm})
    table["step"] = np.where(readings.first(), np.nan, table["depth"].diff())
    by = table.groupby("of")
    ends = pd.DataFrame(
        {
            "n_readings": by["depth"].size(),
            "first_cm": by["depth"].min(),
            "deepest_cm": by["depth"].max(),
            "step_cm": by["step"].median(),
        }
    ).reindex(range(count))
    ends["n_readings"] = ends["n_readings"].fillna(0).astype(int)
    return ends

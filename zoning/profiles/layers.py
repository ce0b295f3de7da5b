"""Hard layers of a profile: where the cone index crosses the limit."""

from __future__ import annotations

import numpy as np
import pandas as pd

from zoning.profiles.clean import Flags, Index, Numbers, Readings
from zoning.profiles.rules import rule


def crossing_cm(readings: Readings, upper: Index, limit_mpa: float) -> Numbers:
    """Return where the straight line from reading `upper` to the next one meets the limit [cm].

    ``z = z1 + (L - q1) / (q2 - q1) * (z2 - z1)``, for q1 and q2 on either side of L.
    Source: pan top and base are where the cone index rises past and falls below the limit
    (source ``nrcca_po35``); the straight line between readings is this project's choice.
    """
    z, q = readings.depth_cm, readings.cone_index_mpa
    share = (limit_mpa - q[upper]) / (q[upper + 1] - q[upper])
    return np.asarray(z[upper] + share * (z[upper + 1] - z[upper]))


def hard_layers(readings: Readings, limit_mpa: float) -> pd.DataFrame:
    """Return every stretch at or above the limit, one row a stretch, from the top down.

    Returns
    -------
    DataFrame
        ``of`` (number of the insertion), ``top_cm``, ``base_cm``, ``from_first`` (hard at the first
        reading; `top_cm` is then its depth), ``open`` (hard at the last reading; `base_cm` is then
        its depth), ``last_hard_cm`` (depth of the lowest reading at or above the limit) and
        ``bridged`` (0, see `bridge`).
    """
    hard = readings.cone_index_mpa >= limit_mpa
    first, last = readings.first(), readings.last()
    starts = np.flatnonzero(hard & (first | ~_shift(hard, 1)))
    ends = np.flatnonzero(hard & (last | ~_shift(hard, -1)))
    from_first, open_end = first[starts], last[ends]
    top, base = readings.depth_cm[starts].copy(), readings.depth_cm[ends].copy()
    top[~from_first] = crossing_cm(readings, starts[~from_first] - 1, limit_mpa)
    base[~open_end] = crossing_cm(readings, ends[~open_end], limit_mpa)
    return pd.DataFrame(
        {
            "of": readings.of[starts],
            "top_cm": top,
            "base_cm": base,
            "from_first": from_first,
            "open": open_end,
            "last_hard_cm": readings.depth_cm[ends],
            "bridged": 0,
        }
    )


def _shift(flags: Flags, by: int) -> Flags:
    """Return `flags` moved one place on (`by` 1) or back (-1), False coming in at the end."""
    shifted = np.zeros_like(flags)
    if by > 0:
        shifted[1:] = flags[:-1]
    else:
        shifted[:-1] = flags[1:]
    return shifted


def bridge(layers: pd.DataFrame) -> pd.DataFrame:
    """Join hard layers with no more than ``gap_bridge_cm`` of softer soil between them.

    Slivers at the edge of a joined layer, thinner than ``pan_thickness_min_cm``, move the edge by
    their own thickness only: where the cone index falls slowly, noise makes it pass the limit more
    than once, and the last crossing alone would lie too deep. The length of hard soil beyond a
    point has the right mean whatever the noise, as long as noise is symmetric.
    """
    gap = layers["top_cm"] - layers["base_cm"].shift()
    same = layers["of"].eq(layers["of"].shift())
    joined = same & (gap <= rule("gap_bridge_cm") + 1e-9)
    pieces = layers.assign(bridged=joined.astype(int), pan=(~joined).cumsum())
    by = pieces.groupby("pan")
    above, below = _fringe_cm(pieces)
    out = by.agg(
        of=("of", "first"),
        from_first=("from_first", "first"),
        open=("open", "last"),
        last_hard_cm=("last_hard_cm", "last"),
        bridged=("bridged", "sum"),
    )
    first, last = by["top_cm"].first(), by["base_cm"].last()
    out["top_cm"] = first.where(out["from_first"], first + above)
    out["base_cm"] = last.where(out["open"], last - below)
    return out.reset_index(drop=True)


def _fringe_cm(pieces: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    """Return the softer soil among the slivers above and below the core of each joined layer [cm].

    The core reaches from the first to the last piece that is thick enough for a pan, or is the
    thickest piece where none is.
    """
    thickness = pieces["base_cm"] - pieces["top_cm"]
    thickest = thickness.groupby(pieces["pan"]).transform("max")
    core = pieces[thickness >= np.minimum(thickest, rule("pan_thickness_min_cm"))].groupby("pan")
    start, end = (
        pieces["pan"].map(core["top_cm"].first()),
        pieces["pan"].map(core["base_cm"].last()),
    )
    by = pieces.groupby("pan")
    hard_above = thickness.where(pieces["top_cm"] < start, 0.0).groupby(pieces["pan"]).sum()
    hard_below = thickness.where(pieces["base_cm"] > end, 0.0).groupby(pieces["pan"]).sum()
    above = core["top_cm"].first() - by["top_cm"].first() - hard_above
    below = by["base_cm"].last() - core["base_cm"].last() - hard_below
    return above, below

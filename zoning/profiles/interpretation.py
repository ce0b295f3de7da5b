"""Cone readings to insertions: is there a pan, where are its top and base, and why."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.profiles.clean import Index, Readings, good_readings, heads, in_order
from zoning.profiles.layers import bridge, hard_layers
from zoning.profiles.reasons import reasons
from zoning.profiles.rules import rule
from zoning.profiles.slips import without_slips
from zoning.profiles.stones import begins_on_stone, ends_on_stone, without_stones
from zoning.profiles.verdicts import CENSORED, PAN, choose, verdict

COLUMNS = (
    "insertion_id", "station", "insertion", "x_m", "y_m", "lon", "lat", "date", "moisture", "part",
    "n_readings", "deepest_cm", "step_cm", "verdict", "pan_top_cm", "pan_base_cm", "censored",
    "deeper_cm", "max_mpa", "over_limit_38", "spikes", "reason", "file", "row",
)  # fmt: skip


def interpret(cone: pd.DataFrame, *, limit_mpa: float) -> pd.DataFrame:
    """Interpret every insertion of a cone log.

    Parameters
    ----------
    cone
        One row a reading: ``shared/schemas/cone_readings.schema.json``. Row order does not matter.
    limit_mpa
        Cone index that restricts roots [MPa], above zero.

    Returns
    -------
    DataFrame
        One row an insertion, sorted by `insertion_id`: ``shared/schemas/insertions.schema.json``.
        Verdicts: ``pan``; ``no_pan``; ``base_not_reached`` and ``refused`` (a pan whose base lies
        deeper than `pan_base_cm`; `censored` is True); ``hard_throughout`` (hard from the top with
        no base, or for far more than a pan is thick: not a pan, dig a pit); ``unusable`` (no
        answer). `deeper_cm` is the top of a further hard layer that is no part of the pan.

    Notes
    -----
    Pan top and base are where the cone index passes the limit (source ``nrcca_po35``), on straight
    lines between readings; which of several hard layers are the pan is told at
    `zoning.profiles.verdicts.choose`. What counts as a stone, a slip of the log, a crust, a bridged
    gap, a refusal or a clear push stands in ``shared/tables/profile_rules.csv``; heights are shares
    of the limit, so the unit of the cone index does not change a verdict.
    """
    ordered = in_order(cone)
    if ordered.empty:
        return pd.DataFrame({name: [] for name in COLUMNS})
    readings, ends = good_readings(ordered, limit_mpa)
    whole, slips = without_slips(readings, limit_mpa)
    smooth, stones = without_stones(whole, limit_mpa)
    surface = begins_on_stone(smooth, limit_mpa)
    clean = smooth.keep(~surface)
    facts = heads(ordered).join(ends)
    facts["slips"] = _told(readings, slips, limit_mpa, len(facts))
    kept = clean.keep(~ends_on_stone(clean, limit_mpa))
    facts = _end_of_push(facts, clean, kept, limit_mpa)
    foot = smooth.last() & facts["stone_end"].to_numpy()[smooth.of]
    met = np.concatenate([stones, np.flatnonzero((surface & smooth.first()) | foot)])
    facts["stones"] = _told(readings, np.unique(met), limit_mpa, len(facts))
    facts["spikes"] = facts["stones"].map(len)
    facts["stop_cm"] = _stop_cm(ordered, clean, len(facts))
    layers = bridge(hard_layers(kept, limit_mpa))
    seen = choose(layers, facts)
    seen["verdict"] = verdict(seen)
    seen["over_limit_38"] = _over_limit(layers, len(seen))
    seen["max_mpa"] = pd.Series(kept.cone_index_mpa).groupby(kept.of).max()
    return _frame(seen)


def _told(readings: Readings, at: Index, limit_mpa: float, count: int) -> pd.Series:
    """Return depth [cm] and share of the limit of the readings `at`, in order, by insertion."""
    ends = np.searchsorted(readings.of[at], np.arange(count + 1))
    share = readings.cone_index_mpa[at] / limit_mpa
    told = list(zip(readings.depth_cm[at].tolist(), share.tolist(), strict=True))
    return pd.Series([told[a:b] for a, b in pairwise(ends)], dtype=object)


def _end_of_push(
    facts: pd.DataFrame, clean: Readings, kept: Readings, limit_mpa: float
) -> pd.DataFrame:
    """Add how the push ended.

    ``deepest_cm`` and ``last_but_one_cm`` (depths of the last two readings used), ``hard_end`` (the
    last is hard), ``leapt`` (it ended in a leap), ``stone_end`` (in a leap out of soft soil),
    ``stopped`` (refused or short).
    """
    count, last = len(facts), np.flatnonzero(kept.last())
    of, above = kept.of[last], np.maximum(last - 1, 0)
    out = facts.copy()
    out["deepest_cm"] = pd.Series(kept.depth_cm[last], index=of)
    out["last_but_one_cm"] = pd.Series(
        np.where(kept.of[above] == of, kept.depth_cm[above], np.nan), index=of
    )
    out["leapt"] = np.bincount(clean.of, minlength=count) > np.bincount(kept.of, minlength=count)
    hard = np.bincount(of, weights=kept.cone_index_mpa[last] >= limit_mpa, minlength=count) > 0
    out["hard_end"] = hard
    out["stone_end"] = out["leapt"] & ~hard
    short = out["deepest_cm"] < rule("full_depth_cm")
    out["stopped"] = out["refused"] | out["trailing"] | out["hole"] | short
    return out


def _stop_cm(ordered: pd.DataFrame, clean: Readings, count: int) -> pd.Series:
    """Return the depth at which each push ended [cm], a last leap onto a stone included.

    That is the last reading, or the row beneath it where the log notes the refusal.
    """
    last = clean.last()
    read = pd.Series(clean.depth_cm[last], index=clean.of[last]).reindex(range(count))
    of = np.unique(ordered["insertion_id"].to_numpy(dtype=object), return_inverse=True)[1]
    depth = ordered["depth_cm"].to_numpy(dtype=float)
    noted = ordered["refused"].astype(str).str.lower().eq("yes").to_numpy()
    noted = noted & (depth >= read.to_numpy()[of])
    return pd.Series(depth[noted]).groupby(of[noted]).min().reindex(range(count)).fillna(read)


def _over_limit(layers: pd.DataFrame, count: int) -> NDArray[np.bool_]:
    """Mark the insertions that are hard anywhere above ``survey_depth_cm``, stones aside."""
    near = layers["of"][layers["top_cm"] <= rule("survey_depth_cm")]
    return np.bincount(near, minlength=count) > 0


def _frame(seen: pd.DataFrame) -> pd.DataFrame:
    """Fill in the columns of the result."""
    out = seen.copy()
    pan = out["verdict"].isin(PAN)
    from_surface = out["from_first"] & (out["first_cm"] <= rule("first_reading_max_cm"))
    out["pan_top_cm"] = out["top_cm"].mask(from_surface, 0.0).where(pan)
    out["censored"] = out["verdict"].isin(CENSORED)
    bound = np.minimum(out["last_hard_cm"], out["top_cm"] + rule("pan_thickness_max_cm"))
    out["pan_base_cm"] = out["base_cm"].mask(out["censored"], bound).where(pan)
    out["reason"] = reasons(out)
    return out[list(COLUMNS)].sort_values("insertion_id").reset_index(drop=True)

"""Which hard layer of an insertion is the pan, and what the insertion shows."""

from __future__ import annotations

import numpy as np
import pandas as pd

from zoning.profiles.rules import rule

CENSORED = ("base_not_reached", "refused")


def choose(layers: pd.DataFrame, facts: pd.DataFrame) -> pd.DataFrame:
    """Return `facts` with the layer that may be the pan of each insertion and what else was seen.

    The pan is the shallowest hard layer that is thick enough, does not end in the surface crust and
    begins no deeper than ``pan_top_max_cm`` (``open_top_max_cm`` if it has no base: subsoil that
    turns firm). A layer that the push was stopped in may be thin: its thickness is not known.

    Parameters
    ----------
    layers
        Rows of `zoning.profiles.layers.bridge`.
    facts
        One row an insertion, indexed by its number, with ``stopped`` and ``deepest_cm``.

    Returns
    -------
    DataFrame
        `facts` with ``top_cm, base_cm, from_first, open, last_hard_cm, bridged`` (NaN or False
        where no layer can be the pan), ``crust_cm`` (base of a crust), ``thin`` (layers too thin),
        ``deeper_cm`` (top of the next hard layer below the pan, or of one too deep to be one).
    """
    marked = _mark(layers, facts)
    first = marked[marked["may_be"]].drop_duplicates("of").set_index("of")
    columns = ["top_cm", "base_cm", "from_first", "open", "last_hard_cm", "bridged"]
    out = facts.join(first[columns])
    for flag in ("from_first", "open"):
        out[flag] = out[flag].eq(True)  # noqa: FBT003 - pandas names the value, not a switch
    out["bridged"] = out["bridged"].fillna(0).astype(int)
    below = marked["of"].map(out["base_cm"]).fillna(-1.0)
    other = ~marked["thin"] & (marked["top_cm"] > below) & ~marked["crust"]
    out["deeper_cm"] = marked[other].groupby("of")["top_cm"].min()
    out["crust_cm"] = marked[marked["crust"]].groupby("of")["base_cm"].max()
    out["thin"] = marked["of"][marked["thin"]].value_counts()
    out["thin"] = out["thin"].fillna(0).astype(int)
    return out


def _mark(layers: pd.DataFrame, facts: pd.DataFrame) -> pd.DataFrame:
    """Say of each layer whether it is a crust, too thin, too deep, or may be the pan."""
    marked = layers.copy()
    thickness = marked["base_cm"] - marked["top_cm"]
    stopped = marked["of"].map(facts["stopped"]).astype(bool)
    marked["crust"] = marked["base_cm"] <= rule("surface_hard_cm")
    unfinished = marked["open"] & stopped
    slim = thickness < rule("pan_thickness_min_cm") - 1e-9
    marked["thin"] = slim & ~unfinished & ~marked["crust"]
    reach = np.where(marked["open"], rule("open_top_max_cm"), rule("pan_top_max_cm"))
    deep = marked["top_cm"] > reach
    marked["may_be"] = ~(marked["crust"] | marked["thin"] | deep)
    return marked


def verdict(seen: pd.DataFrame) -> pd.Series:
    """Return the verdict of each insertion, a row of `choose`.

    One softer reading between a hard layer and the place where the push is noted to have ended is
    the push being eased off, not the base of the pan. Hard soil without a base that begins at the
    top, or goes on for more than ``hard_ground_cm``, is hard ground.
    """
    has_layer = seen["top_cm"].notna()
    thick = seen["base_cm"] - seen["top_cm"] > rule("hard_ground_cm") + 1e-9
    ground = seen["from_first"] | (seen["top_cm"] <= rule("hard_from_top_cm")) | thick
    refused = seen["stopped"] & ~seen["hole"]
    noted = (seen["refused"] | seen["trailing"]) & ~seen["leapt"]
    eased = noted & (seen["last_hard_cm"] >= seen["last_but_one_cm"])
    conditions = [
        seen["n_readings"] < rule("readings_min"),
        has_layer & seen["open"] & ground,
        has_layer & seen["open"] & refused,
        has_layer & seen["open"],
        has_layer & eased,
        has_layer,
        seen["deepest_cm"] >= rule("clear_depth_cm"),
    ]
    verdicts = [
        "unusable",
        "hard_throughout",
        "refused",
        "base_not_reached",
        "refused",
        "pan",
        "no_pan",
    ]
    return pd.Series(np.select(conditions, verdicts, "unusable"), index=seen.index)

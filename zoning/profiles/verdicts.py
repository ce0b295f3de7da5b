"""Which hard layer of an insertion is the pan, and what the insertion shows."""

from __future__ import annotations

import numpy as np
import pandas as pd

from zoning.profiles.rules import rule

CENSORED = ("base_not_reached", "refused")
PAN = ("pan", *CENSORED)
DEEP_PARTS = ("gateway", "headland", "wheeling")


def choose(layers: pd.DataFrame, facts: pd.DataFrame) -> pd.DataFrame:
    """Return `facts` with the layers that are the pan of each insertion and what else was seen.

    The pan begins with the shallowest hard layer that is thick enough, does not end in the surface
    crust and begins no deeper than ``pan_top_max_cm`` (``open_top_max_cm`` if it has no base:
    subsoil that turns firm). A layer that the push was stopped in may be thin: its thickness is not
    known.

    A hard layer below it, parted from it by more than ``gap_bridge_cm``, belongs to the pan as
    well, and the base is its base, if it is what a deeper pan looks like: 5 to 20 cm thick
    (``second_thickness_min_cm``, ``pan_thickness_max_cm``), beginning no deeper than 40 cm
    (``second_top_max_cm``; published pans lie at 25 to 40 cm), with a base met within the push and
    no deeper than loosening reaches (``pan_top_max_cm``). So a plough pan and a traffic pan below
    it are both broken. A layer that begins deeper, or has no base, is as likely stiff natural
    subsoil: it is told and not worked.

    Without a pan, hard soil with no base that begins between ``open_top_max_cm`` and
    ``pan_top_max_cm`` is firm subsoil, except where that cannot be told: where the push was stopped
    in it, or on a gateway, headland or wheeling, where pans lie deep. The part is the one noted at
    the probe; where none was noted the rule for subsoil holds.

    Parameters
    ----------
    layers
        Rows of `zoning.profiles.layers.bridge`.
    facts
        One row an insertion, indexed by its number, with ``part, refused, trailing, leapt, stopped,
        deepest_cm, last_but_one_cm``.

    Returns
    -------
    DataFrame
        `facts` with ``top_cm, base_cm, from_first, open, last_hard_cm, bridged`` (NaN or False
        where no layer can be the pan), ``layer_base_cm`` (base of the shallowest layer alone),
        ``upper_base_cm, again_cm`` (the same and top of the deepest where the pan is more than
        one), ``crust_cm`` (base of a crust),
        ``thin`` (layers too thin), ``deeper_cm`` (top of the next hard layer below the pan, or of
        one too deep to be one), ``unsure_cm`` (top of deep hard soil that may be a pan or not).
    """
    marked = _mark(layers, facts)
    first = marked[marked["may_be"]].drop_duplicates("of").set_index("of")
    columns = ["top_cm", "base_cm", "from_first", "open", "last_hard_cm", "bridged"]
    out = _with_further(facts.join(first[columns]), marked)
    for flag in ("from_first", "open"):
        out[flag] = out[flag].eq(True)  # noqa: FBT003 - pandas names the value, not a switch
    out["bridged"] = out["bridged"].fillna(0).astype(int)
    below = marked["of"].map(out["base_cm"]).fillna(-1.0)
    other = ~marked["thin"] & (marked["top_cm"] > below) & ~marked["crust"]
    out["deeper_cm"] = marked[other].groupby("of")["top_cm"].min()
    out["unsure_cm"] = _unsure_cm(out, marked)
    out["crust_cm"] = marked[marked["crust"]].groupby("of")["base_cm"].max()
    out["thin"] = marked["of"][marked["thin"]].value_counts()
    out["thin"] = out["thin"].fillna(0).astype(int)
    return out


def _mark(layers: pd.DataFrame, facts: pd.DataFrame) -> pd.DataFrame:
    """Say of each layer whether it is a crust, too thin, without a base, or may be the pan."""
    marked = layers.copy()
    thickness = marked["base_cm"] - marked["top_cm"]
    stopped = marked["of"].map(facts["stopped"]).astype(bool)
    marked["crust"] = marked["base_cm"] <= rule("surface_hard_cm")
    unfinished = marked["open"] & stopped
    slim = thickness < rule("pan_thickness_min_cm") - 1e-9
    marked["thin"] = slim & ~unfinished & ~marked["crust"]
    noted = marked["of"].map(_noted(facts) & ~facts["leapt"]).astype(bool)
    eased = noted & (marked["last_hard_cm"] >= marked["of"].map(facts["last_but_one_cm"]))
    marked["no_base"] = marked["open"] | eased
    reach = np.where(marked["no_base"], rule("open_top_max_cm"), rule("pan_top_max_cm"))
    deep = marked["top_cm"] > reach
    marked["may_be"] = ~(marked["crust"] | marked["thin"] | deep)
    return marked


def _noted(facts: pd.DataFrame) -> pd.Series:
    """Return whether the log itself says that the push was stopped."""
    return facts["refused"] | facts["trailing"]


def _with_further(out: pd.DataFrame, marked: pd.DataFrame) -> pd.DataFrame:
    """Let the pan reach to the base of the deepest further layer that belongs to it."""
    thickness = marked["base_cm"] - marked["top_cm"]
    thick = thickness >= rule("second_thickness_min_cm") - 1e-9
    thick &= thickness <= rule("pan_thickness_max_cm") + 1e-9
    near = (marked["top_cm"] <= rule("second_top_max_cm")) & (
        marked["base_cm"] <= rule("pan_top_max_cm")
    )
    below = marked["top_cm"] > marked["of"].map(out["base_cm"])
    belongs = marked["may_be"] & ~marked["no_base"] & thick & near & below
    last = marked[belongs].drop_duplicates("of", keep="last").set_index("of")
    joined = out.assign(
        layer_base_cm=out["base_cm"],
        upper_base_cm=out["base_cm"].where(out.index.isin(last.index)),
    )
    joined["again_cm"] = last["top_cm"]
    for name in ("base_cm", "last_hard_cm"):
        joined[name] = last[name].reindex(out.index).fillna(out[name])
    joined["bridged"] = out["bridged"].add(last["bridged"], fill_value=0)
    return joined


def _unsure_cm(out: pd.DataFrame, marked: pd.DataFrame) -> pd.Series:
    """Return the top of deep hard soil of which nobody can say whether it is a pan [cm]."""
    deep = marked["no_base"] & (marked["top_cm"] > rule("open_top_max_cm"))
    deep &= marked["top_cm"] <= rule("pan_top_max_cm")
    top = marked[deep & ~marked["thin"]].groupby("of")["top_cm"].min().reindex(out.index)
    untold = _noted(out) | out["part"].isin(DEEP_PARTS)
    return top.where(out["top_cm"].isna() & untold)


def verdict(seen: pd.DataFrame) -> pd.Series:
    """Return the verdict of each insertion, a row of `choose`.

    One softer reading between a hard layer and the place where the push is noted to have ended is
    the push being eased off, not the base of the pan. Hard soil without a base that begins at the
    top is hard ground, and so is a layer of more than ``hard_ground_cm``, with a base or without:
    whether one was met just above the end of so long a push is chance. Deep hard soil that may be a
    pan or not is no answer.
    """
    has_layer = seen["top_cm"].notna()
    thick = seen["layer_base_cm"] - seen["top_cm"] > rule("hard_ground_cm") + 1e-9
    from_top = seen["from_first"] | (seen["top_cm"] <= rule("hard_from_top_cm"))
    refused = seen["stopped"] & ~seen["hole"]
    noted = _noted(seen) & ~seen["leapt"]
    eased = noted & (seen["last_hard_cm"] >= seen["last_but_one_cm"])
    conditions = [
        seen["n_readings"] < rule("readings_min"),
        has_layer & (thick | (seen["open"] & from_top)),
        has_layer & seen["open"] & refused,
        has_layer & seen["open"],
        has_layer & eased,
        has_layer,
        seen["unsure_cm"].notna(),
        seen["deepest_cm"] >= rule("clear_depth_cm"),
    ]
    verdicts = [
        "unusable",
        "hard_throughout",
        "refused",
        "base_not_reached",
        "refused",
        "pan",
        "unusable",
        "no_pan",
    ]
    return pd.Series(np.select(conditions, verdicts, "unusable"), index=seen.index)

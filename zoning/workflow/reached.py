"""What the plan reaches of what was asked, and what it asks of whoever drives it."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from zoning.contracts import constant
from zoning.model import Notice, Settings
from zoning.workflow.cautions import HAZARD_CAUTION
from zoning.workflow.disagree import named


def assurance_notices(zones: pd.DataFrame, settings: Settings) -> tuple[Notice, ...]:
    """Return a note where much of the worked ground lies in zones of less assurance than asked.

    Parameters
    ----------
    zones
        ``zone, depth_cm, area_ha, assurance, cautions``.
    settings
        What was asked, and the settings and depths allowed.
    """
    worked = zones[zones["depth_cm"] > 0]
    asked = settings.depth.assurance
    short = worked[worked["assurance"].round(2) < round(asked, 2)]
    share = constant("plan_rules", "assurance_short_share")
    if short.empty or short["area_ha"].sum() <= share * worked["area_ha"].sum():
        return ()
    held = short["cautions"].str.contains(HAZARD_CAUTION)
    least = (short if held.all() else short[~held]).sort_values(["assurance", "zone"]).iloc[0]
    text = (
        f"In zones of {short['area_ha'].sum():.2f} ha together less than the assurance asked, "
        f"{asked:g}, is reached in the mean (least {least['assurance']:.2f}, zone "
        f"{least['zone']:.0f}{_apart(held)}). {_why(settings)}{_held_ha(short[held])}."
    )
    return (Notice("note", "assurance-short", text),)


def above_pan_notices(zones: pd.DataFrame, pan_probability: pd.Series) -> tuple[Notice, ...]:
    """Return a note on the zones worked above the mean base of the pan, hazards apart.

    Parameters
    ----------
    zones
        ``zone, depth_cm, area_ha, pan_base_cm, cautions``.
    pan_probability
        Mean probability of a pan in each zone, by its number.
    """
    above = (zones["pan_base_cm"] - zones["depth_cm"]).round() >= 1
    own = ~zones["cautions"].str.contains(HAZARD_CAUTION)
    short = zones[(zones["depth_cm"] > 0) & above & own]
    short = short.sort_values(["area_ha", "zone"], ascending=[False, True])
    if short.empty:
        return ()
    columns = (short[name] for name in ("zone", "pan_base_cm", "depth_cm"))
    told = [
        f"zone {zone} by {base - depth:.0f} cm (a pan with probability {pan_probability[zone]:.2f})"
        for zone, base, depth in zip(*columns, strict=True)
    ]
    text = (
        f"Worked above the mean base of the pan: {named(told)}. Where a pan is unlikely, working "
        "too deep on ground without one weighs in the choice; elsewhere few depths and the "
        "shortest run do. Such work may leave a pan whole: dig there, then lift out, or set the "
        "next depth where hazards and services allow it."
    )
    return (Notice("note", "above-pan-base", text),)


def _apart(held: pd.Series) -> str:
    return ", apart from those at hazards" if held.any() and not held.all() else ""


def _held_ha(held: pd.DataFrame) -> str:
    return f"; in those of {held['area_ha'].sum():.2f} ha hazards hold it up" if len(held) else ""


def _why(settings: Settings) -> str:
    machine, depth = settings.machine, settings.depth
    few = f"{depth.max_depths} depths are" if depth.max_depths > 1 else "one depth is"
    return (
        f"Settings are {machine.depth_step_cm:g} cm apart down to {machine.depth_max_cm:g} cm, at "
        f"most {few} allowed and each holds for {depth.min_run_m:g} m or more"
    )


def change_counts(passes: pd.DataFrame) -> Mapping[str, float]:
    """Return how often the depth changes along the passes, and how often legs are lifted between.

    A change is one from a working depth to the next other one on the same pass, though legs be
    lifted between them; a lift lies between two worked stretches of a pass. What is set at the end
    of a pass is not counted. A pass lifted all the way need not be driven.

    Parameters
    ----------
    passes
        ``pass, step, depth_cm``, one row a run.
    """
    table = passes[["pass", "step", "depth_cm"]].sort_values(["pass", "step"])
    worked = table[table["depth_cm"] > 0]
    same_pass = worked["pass"].eq(worked["pass"].shift())
    other = worked["depth_cm"].ne(worked["depth_cm"].shift())
    lifted = worked["step"].sub(worked["step"].shift()).gt(1)
    return {
        "passes": float(table["pass"].nunique()),
        "passes_lifted_throughout": float(table["pass"].nunique() - worked["pass"].nunique()),
        "depth_changes": float((same_pass & other).sum()),
        "lifts_within_passes": float((same_pass & lifted).sum()),
    }


def pin_notices(
    settings: Settings, depths: int, changes: Mapping[str, float]
) -> tuple[Notice, ...]:
    """Return a note that the time of the plan leaves out the pins, where pins have to be moved.

    Parameters
    ----------
    settings
        Whether depth is set with pins.
    depths
        Different working depths.
    changes
        What `change_counts` returns.
    """
    if settings.machine.depth_control != "pins" or depths < 2:
        return ()
    text = (
        "Time and fuel are those of driving the field once, without a stop. Moving the pins by "
        f"hand takes minutes on top each time: {changes['depth_changes']:.0f} times where every "
        f"pass is driven as it comes, or {depths} settings one after another, each with the way "
        "over the rest of the field, which is not counted either."
    )
    return (Notice("note", "pins-not-in-time", text),)

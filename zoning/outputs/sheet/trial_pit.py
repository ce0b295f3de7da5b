"""At which depth the trial is run, and what ridge to expect there."""

from __future__ import annotations

import numpy as np
import pandas as pd

from zoning.contracts import NOT_CLEARED, by_geometry, constant
from zoning.model import Plan
from zoning.outputs.bars import too_weak
from zoning.outputs.drawing.zone_labels import held_zones
from zoning.outputs.sheet.words import number

_BODY = "body"
_MACHINE = "machine_rules"
_BY_GEOMETRY = "Practice finds less: what you measure counts."


def ridge(plan: Plan) -> str:
    """Return what ridge to expect, by trial runs or geometry; nothing where it is low.

    It is told for the depth of most work in the body of the field, where the trial is: of the
    depths there that the tractor pulls, on more ground than small zones and such that a hazard
    holds above its pan, and that may be set before services are located, if there are such.
    """
    if "ridge_cm" not in plan.zones:
        return ""
    held = set(plan.zones.loc[plan.zones["cleared"] == NOT_CLEARED, "depth_cm"])
    work_m = _trial_depths(plan)
    fit = set(work_m) & _free_depths(plan) or set(work_m)
    depths = fit - set(too_weak(plan)["depth_cm"]) or fit
    tried = max(depths - held or depths, key=lambda depth: (work_m[depth], depth), default=0.0)
    zone = plan.zones[plan.zones["depth_cm"] == tried].head(1)
    high = zone[zone["ridge_cm"] > constant(_MACHINE, "ridge_note_cm")]
    if high.empty:
        return ""
    told = _ridge(plan, tried, float(high["ridge_cm"].iloc[0]))
    once = "Once services are located, try" if tried in held else "Try"
    if high["ridge_measured"].iloc[0]:
        return f" {once} {told} as measured behind this machine."
    source = by_geometry(wings_unknown=plan.settings.machine.wings_unknown)
    return f" {once} {told} {source}. {_BY_GEOMETRY}"


def _pan_cm(plan: Plan, depth_cm: float) -> tuple[str, float]:
    """Return where the pan lies on the ground of a depth, in words, and its base there [cm].

    Its top only as read there, above the base that is expected.
    """
    known = plan.stations[plan.stations["used"].astype(bool) & plan.stations["pan_top_cm"].notna()]
    ground = plan.zones[plan.zones["depth_cm"] == depth_cm].union_all()
    base_cm = mean_base_cm(plan.zones, depth_cm)
    top_cm = known.loc[known.intersects(ground), "pan_top_cm"].mean()
    top = f"{top_cm:.0f}-" if top_cm < base_cm else "down to "
    return f"{top}{base_cm:.0f} cm", base_cm


def mean_base_cm(zones: pd.DataFrame, depth_cm: float) -> float:
    """Return the base expected on the ground of a depth, by area [cm].

    Parameters
    ----------
    zones
        ``depth_cm, area_ha, pan_base_cm``.
    depth_cm
        Working depth of one of them [cm].
    """
    own = zones[zones["depth_cm"] == depth_cm]
    return float(np.average(own["pan_base_cm"], weights=own["area_ha"]))


def _ridge(plan: Plan, depth_cm: float, ridge_cm: float) -> str:
    loosened_cm = max(depth_cm - ridge_cm, 0.0)
    pan, base_cm = _pan_cm(plan, depth_cm)
    only, past = ("", ", past the pan (") if loosened_cm >= base_cm else ("only ", " (pan ")
    return (
        f"{number(depth_cm)} cm: expect soil loosened to {only}{number(loosened_cm)} cm midway "
        f"between legs{past}{pan}), a ridge of {number(ridge_cm)} cm"
    )


def _trial_depths(plan: Plan) -> dict[float, float]:
    """Return metres of work by depth in the body of the field; in all of it where none is there."""
    runs = plan.passes[plan.passes["depth_cm"] > 0]
    body = runs[runs["part"] == _BODY]
    work = runs if body.empty else body
    work_m = (work["to_m"] - work["from_m"]).groupby(work["depth_cm"]).sum()
    return dict(zip(work_m.index.astype(float), work_m, strict=True))


def _free_depths(plan: Plan) -> set[float]:
    """Return the working depths of zones that are not small and that no hazard holds up."""
    large = plan.zones["area_ha"] >= constant("plan_rules", "small_zone_ha")
    return {float(depth) for depth in plan.zones.loc[large & ~held_zones(plan.zones), "depth_cm"]}

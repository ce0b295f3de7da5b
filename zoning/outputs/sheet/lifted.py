"""What to do on ground where the legs are lifted out, by what lifts them there."""

from __future__ import annotations

from collections.abc import Sequence

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from zoning.contracts import deepest_cm, joined
from zoning.model import Plan
from zoning.outputs.drawing.grounds import gaps
from zoning.outputs.drawing.plan import Hazard, hazards_in_order
from zoning.outputs.drawing.zone_labels import held_zones
from zoning.outputs.sheet.steps import headland_rounds, ranges
from zoning.outputs.sheet.words import MOST_LISTED, listed
from zoning.units import CM_PER_M

_KEEP_OFF = {
    "obstacle": "keep off, go round, never drive or work across.",
    "service": "do not work there; cross with the legs up only where its owner allows.",
    "drain": "do not work there; cross with the legs up only where its owner allows.",
}  # the strictest first
_A = {"obstacle": "an obstacle", "service": "a service", "drain": "a drain"}
_BARRED = (
    "legs lifted out over {over}, where no depth of this plan is shallow enough: a pan there may "
    "stay, {} do not lower them."
)
_NO_PAN = "no pan found, legs lifted out: {} do not lower them."
_AT_ENDS = (
    " Where that ground reaches the end of a pass, turn at its edge: the minutes of the plan count "
    "driving across it."
)


def lifted_steps(plan: Plan, zones: gpd.GeoDataFrame) -> list[str]:
    """Return what to do on each kind of ground that is lifted out, the strictest first.

    A zone along a service or a drain that an obstacle lifts too is told of both: the obstacle is
    gone round, the rest of the zone crossed where its owner allows. It is driven across between
    worked ground only where no hazard lifts it.
    """
    left = zones[zones["depth_cm"] <= 0].sort_values("zone")
    hazards = [each for each in hazards_in_order(plan) if deepest_cm(each.kind, each.depth_cm) <= 0]
    alike = {kind: [each for each in hazards if each.kind == kind] for kind in _KEEP_OFF}
    near = {
        kind: np.array([_lifts(plan, own, ground) for ground in left.geometry], dtype=bool)
        for kind, own in alike.items()
    }
    near["drain"] &= ~near["service"]  # the same is asked of both
    crossed = near["service"] | near["drain"]
    told = []
    for kind, words in _KEEP_OFF.items():
        held = left[near[kind]]
        if len(held):
            ground = held.geometry.union_all()
            tags = ", ".join(each.tag for each in alike[kind] if _lifts(plan, [each], ground))
            at = f"at {tags} " if kind == "obstacle" and (near[kind] & crossed).any() else ""
            told.append(f"{_named(held)}, legs lifted out for {_A[kind]} ({tags}): {at}{words}")
    left = left[~(near["obstacle"] | crossed)]
    worked = bool((zones["depth_cm"] > 0).any())
    across = "drive across it between worked ground only," if worked else "stay off,"
    barred = held_zones(left)
    for own, words in ((left[barred], _BARRED), (left[~barred], _NO_PAN)):
        if len(own):
            ends = _AT_ENDS if _reaches_ends(plan, own) else ""
            how = words.format(across, over=_tags(plan, zones, own))
            told.append(f"{_named(own)}, {how}{ends}")
    return told


def _tags(plan: Plan, zones: gpd.GeoDataFrame, ground: gpd.GeoDataFrame) -> str:
    """Return the tags of the hazards at some ground that allow less than the depths worked."""
    least_cm = float(zones.loc[zones["depth_cm"] > 0, "depth_cm"].min())
    shape = ground.geometry.union_all()
    hazards = [h for h in hazards_in_order(plan) if deepest_cm(h.kind, h.depth_cm) < least_cm]
    return joined(hazard.tag for hazard in hazards if _lifts(plan, [hazard], shape))


def passes_left_out(plan: Plan) -> list[str]:
    """Return which passes are lifted all the way and so are not driven; nothing where none is."""
    deepest = plan.passes.groupby("pass")["depth_cm"].max()
    idle = sorted(int(number) for number in deepest.index[deepest <= 0])
    if not idle:
        return []
    if len(idle) == len(deepest):
        return ["Every pass is lifted all the way: none is driven."]
    told = list(ranges(idle))
    if len(told) > MOST_LISTED:
        return [f"Leave out the {len(idle)} passes that depth_passes.csv has at 0 all the way."]
    return [
        f"Leave out {'pass' if len(idle) == 1 else 'passes'} {', '.join(told)}: lifted all the way."
    ]


def gap_step(plan: Plan) -> list[str]:
    """Return what to do at gaps in the field, which are on the map and in no zone."""
    told = "At a gap in the field (white on the map, none of the plan): lift and turn before it."
    return [told] if gaps(plan) else []


def _named(zones: gpd.GeoDataFrame) -> str:
    told = listed(list(zones["zone"]))
    return told[:1].upper() + told[1:]


def _lifts(plan: Plan, hazards: Sequence[Hazard], ground: BaseGeometry) -> bool:
    """Return whether the machine, first row of legs to last, meets the keep-off of a hazard."""
    reach_m = plan.settings.machine.row_gap_cm / CM_PER_M
    return any(reaches(plan, hazard, ground, reach_m) for hazard in hazards)


def reaches(plan: Plan, hazard: Hazard, ground: BaseGeometry, more_m: float = 0.0) -> bool:
    """Return whether the keep-off of a hazard, and so much more, meets some ground."""
    keep_m = hazard.keep_off_m(plan.settings.machine.width_m)
    return bool(hazard.geometry.distance(ground) <= keep_m + more_m)


def _reaches_ends(plan: Plan, lifted: gpd.GeoDataFrame) -> bool:
    """Return whether a straight pass that is worked begins or ends on this ground."""
    runs = plan.passes.sort_values(["pass", "step"], kind="stable")
    runs = runs[~runs["pass"].isin(headland_rounds(runs))]
    runs = runs[runs.groupby("pass")["depth_cm"].transform("max") > 0]
    first, last = (~runs["pass"].duplicated(keep=end) for end in ("first", "last"))
    ends = runs[(first | last) & (runs["depth_cm"] <= 0)]
    middles = shapely.line_interpolate_point(ends.geometry.to_numpy(), 0.5, normalized=True)
    return bool(shapely.intersects(lifted.geometry.union_all(), middles).any())

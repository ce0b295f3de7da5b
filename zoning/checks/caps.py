"""How deep each zone of a plan may be worked, and where a hazard holds the work above the pan.

Four things bound a depth: the cap of a hazard that the machine reaches from the zone, the deepest
setting of the machine, the notice depth where buried services were not located, and the depth at
which the foot stops lifting the soil, where that is known. No advice goes below the least of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from zoning.checks.rules import SLACK, rule
from zoning.model.check import PlannedGround
from zoning.model.names import by_name
from zoning.model.settings import MachineSection
from zoning.units import CM_PER_M

TOUCHED = "Find out whether it was touched, and tell its owner before anyone works on."
"""What is asked after work too near a hazard: nobody is sent to dig for it."""


def bounded(
    planned: PlannedGround,
    hazard_zones: gpd.GeoDataFrame,
    machine: MachineSection,
    *,
    notice_cm: float = float("inf"),
) -> PlannedGround:
    """Return the plan with what bounds the depth of each zone.

    Parameters
    ----------
    planned
        The plan that was worked to.
    hazard_zones
        ``kind, cap_cm`` (greatest depth, 0 for legs lifted out) and geometry (keep-off polygon).
    machine
        The loosener.
    notice_cm
        Deepest work that asks for no located services [cm]; infinite where they were located.

    Returns
    -------
    PlannedGround
        Its zones with ``cap_cm`` (least cap of the hazards about it, NaN without) and ``cap_by``
        (kind of that hazard, blank without); ``deepest_cm`` and ``deepest_by`` (``machine``,
        ``notice``, ``foot`` or the kind of hazard): the greatest depth that may be advised;
        ``held`` (bool): the cap leaves no deeper setting, and the plan itself expected to miss the
        pan, so a pan that is left is as planned; ``notice_cm``, as given.

    Notes
    -----
    A hazard bounds a zone that its keep-off meets, and one within a machine's width and length of
    it that is no deeper than the cap: the machine may reach the keep-off from there.
    """
    zones = planned.zones
    depth = zones["depth_cm"].to_numpy(dtype=float)
    cap, by = _caps(zones, hazard_zones, machine.width_m + machine.row_gap_cm / CM_PER_M)
    foot = zones["foot_lifts_cm"].to_numpy(dtype=float) if "foot_lifts_cm" in zones else np.inf
    limits = pd.DataFrame(
        {"cap": cap, "notice": notice_cm, "machine": machine.depth_max_cm, "foot": foot}
    )
    least = limits.idxmin(axis=1).to_numpy()
    # The pan of a zone without one, or without a number, is not left standing by a hazard.
    missed = zones["assurance"].to_numpy(dtype=float) < rule("held_assurance_least")
    told = zones.assign(
        cap_cm=np.where(np.isfinite(cap), cap, np.nan),
        cap_by=by,
        deepest_cm=limits.min(axis=1).to_numpy(),
        deepest_by=np.where(least == "cap", by, least),
        notice_cm=notice_cm,
        held=missed & (depth > 0) & (depth + machine.depth_step_cm > cap + SLACK),
    )
    return replace(planned, zones=told)


def _caps(
    zones: gpd.GeoDataFrame, hazard_zones: gpd.GeoDataFrame, near_m: float
) -> tuple[NDArray[np.float64], NDArray[np.object_]]:
    """Return the least cap on each zone, infinite without one, and the kind of its hazard."""
    depth, shapes = zones["depth_cm"].to_numpy(dtype=float), zones.geometry.to_numpy()
    cap = np.full(len(zones), np.inf)
    by = np.full(len(zones), "", dtype=object)
    facts = (hazard_zones["kind"], hazard_zones["cap_cm"], hazard_zones.geometry)
    for kind, cap_cm, shape in zip(*facts, strict=True):
        apart = shapely.distance(shapes, shape)
        bound = (apart <= 0) | ((apart <= near_m) & (depth <= cap_cm + SLACK))
        bound &= cap_cm < cap
        cap[bound], by[bound] = cap_cm, kind
    return cap, by


def not_held(planned: PlannedGround) -> PlannedGround:
    """Return the plan less the zones whose pan was to stay because a hazard holds the work."""
    return replace(planned, zones=planned.zones[~planned.zones["held"].to_numpy(dtype=bool)])


def held_name(depth_cm: float, by: str) -> str:
    """Return what ground is called that a hazard holds at a depth."""
    return f"{depth_cm:g} cm, held by a {by}"


def past_caps(pits: pd.DataFrame, zones: pd.DataFrame) -> pd.DataFrame:
    """Return the pits whose leg ran deeper than a hazard of their zone allows, by name.

    Parameters
    ----------
    pits
        ``pit, zone, loosened_at_leg_cm``.
    zones
        Those of `bounded`.

    Returns
    -------
    DataFrame
        Columns of `pits`, ``cap_cm, cap_by`` and ``far`` (bool): by more than a depth is held to.
    """
    own = zones.set_index("zone")
    cap = own["cap_cm"].reindex(pits["zone"]).to_numpy(dtype=float)
    by = own["cap_by"].reindex(pits["zone"]).to_numpy()
    beyond = pits["loosened_at_leg_cm"].to_numpy(dtype=float) - cap
    told = pits.assign(cap_cm=cap, cap_by=by, far=beyond >= rule("set_depth_tolerance_cm"))
    # Work of another season asks nobody to stop now.
    here = pits["verdict"].ne("not_judged").to_numpy() if "verdict" in pits else True
    return by_name(told[(beyond > 0) & here], "pit")


def past_words(leg_cm: float, cap_cm: float, by: str) -> str:
    """Return by how much a leg ran past the cap of a hazard, with the tolerance if within it."""
    over, tape = leg_cm - cap_cm, rule("set_depth_tolerance_cm")
    told = f"{over:.3g} cm deeper than the cap of {cap_cm:g} cm ({by})"
    if not cap_cm > 0:
        told = f"{leg_cm:g} cm deep where the {by} lifts the legs out"
    if over >= tape:
        return f"{told}."
    look = "look at the outfalls" if by == "drain" else f"find out whether the {by} was touched"
    return f"{told}: within what a tape can tell ({tape:g} cm), {look}."


def stop_words(pit: Mapping[Any, Any]) -> str:
    """Return what to do about a row of `past_caps` whose leg ran far too deep."""
    kind = pit["cap_by"]
    held = f"holds the work at {pit['cap_cm']:g} cm" if pit["cap_cm"] > 0 else "lifts the legs out"
    look = " Look at its outfall." if kind == "drain" else ""
    return (
        f"Stop: pit {pit['pit']} was loosened {pit['loosened_at_leg_cm']:g} cm deep in zone "
        f"{pit['zone']}, where the {kind} {held}. {TOUCHED}{look}"
    )

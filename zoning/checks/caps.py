"""How deep each zone of a plan may be worked, and where a hazard holds the work above the pan.

Four things bound a depth: the cap of a hazard that the machine reaches from the zone, the deepest
setting of the machine, the notice depth where buried services were not located, and the depth at
which the foot stops lifting the soil, where that is known. No advice goes below the least of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from zoning.checks.rules import SLACK, rule
from zoning.contracts import NOT_CLEARED
from zoning.model.check import PlannedGround
from zoning.model.names import by_name
from zoning.model.settings import MachineSection
from zoning.units import CM_PER_M

TOUCHED = "Find out whether it was touched, and tell its owner before anyone works on."
"""What is asked after work too near a hazard: nobody is sent to dig for it."""


@dataclass(frozen=True, slots=True, eq=False)
class Bound:
    """The hazard that bounds a zone: its cap, what it is, and the ground from which it is reached.

    Parameters
    ----------
    cap_cm
        Greatest depth, 0 for legs lifted out [cm].
    by
        Kind of the hazard.
    called
        Its kind, and its name where it has one.
    keep_off
        Its keep-off polygon [m, working CRS].
    reach_m
        How far beside the polygon work still counts as within it: the machine's width and length,
        and no less than the error of a receiver.
    """

    cap_cm: float
    by: str
    called: str
    keep_off: BaseGeometry
    reach_m: float

    def reaches(self, place: BaseGeometry) -> bool:
        """Return whether a place lies about the hazard: in its keep-off, or within `reach_m`."""
        return bool(self.keep_off.distance(place) <= self.reach_m)


def bounded(
    planned: PlannedGround,
    hazard_zones: gpd.GeoDataFrame,
    machine: MachineSection,
    *,
    run_m: float,
    notice_cm: float = float("inf"),
) -> PlannedGround:
    """Return the plan with what bounds the depth of each zone.

    Parameters
    ----------
    planned
        The plan that was worked to.
    hazard_zones
        ``kind, name, cap_cm`` (greatest depth, 0 for legs lifted out) and geometry (keep-off
        polygon).
    machine
        The loosener.
    run_m
        Least length of a run at one depth [m]: so far the depth over a hazard goes on beside it.
    notice_cm
        Deepest work that asks for no located services [cm]; infinite where they were located.

    Returns
    -------
    PlannedGround
        Its zones with ``cap_cm`` (least cap of the hazards about it, NaN without) and ``cap_by``
        (kind of that hazard, blank without); ``deepest_cm`` and ``deepest_by`` (``machine``,
        ``notice``, ``foot`` or the kind of hazard): the greatest depth that may be advised;
        ``held`` (bool): a cap and not the machine leaves no deeper setting, on
        ``held_share_least`` of the zone or more, and the plan itself expected to miss the pan, so a
        pan that is left is as planned; ``notice_cm``, ``clearance_cm`` and ``plan_ridge_cm`` (what
        the plan holds for the ridge), as given;
        ``machine_most_cm``, the deepest setting of the machine; ``bounds``: each `Bound` of the
        zone.

    Notes
    -----
    A hazard bounds a zone that its keep-off meets, and one within a machine's width and length of
    it that is no deeper than the cap: the machine may reach the keep-off from there.
    """
    zones = planned.zones
    depth = zones["depth_cm"].to_numpy(dtype=float)
    bounds = _bounds(zones, hazard_zones, machine.width_m + machine.row_gap_cm / CM_PER_M)
    least_of = [min(own, key=lambda one: one.cap_cm, default=None) for own in bounds]
    cap = np.array([np.inf if one is None else one.cap_cm for one in least_of], dtype=np.float64)
    by = np.array(["" if one is None else one.by for one in least_of], dtype=object)
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
        clearance_cm=planned.clearance_cm,
        plan_ridge_cm=planned.ridge_allowance_cm,
        machine_most_cm=machine.depth_max_cm,
        bounds=pd.Series(bounds, index=zones.index, dtype=object),
        held=missed & (depth > 0) & _no_deeper(zones, bounds, machine, run_m),
    )
    return replace(planned, zones=told)


def told_cm(pits: pd.DataFrame, zones: pd.DataFrame) -> pd.Series:
    """Return the depth that each leg was told to run at [cm], pit by pit; `zones` those of each.

    Where services are not located that is no more than the notice depth, if all legs there kept to
    it: among legs that went deeper a shallow one was not told to.
    """
    depth = zones["depth_cm"].to_numpy(dtype=float)
    notice = np.asarray(zones.get("notice_cm", np.full(len(zones), np.inf)), dtype=float)
    least = pits[["loosened_at_leg_cm", "loosened_between_cm"]].max(axis=1).to_numpy(dtype=float)
    held = (zones["cleared"] == NOT_CLEARED).to_numpy()
    deeper = held & (least >= notice + rule("set_depth_tolerance_cm"))
    kept = held & ~deeper.any()
    return pd.Series(np.where(kept, np.minimum(depth, notice), depth), index=pits.index)


def _no_deeper(
    zones: gpd.GeoDataFrame, bounds: list[tuple[Bound, ...]], machine: MachineSection, run_m: float
) -> NDArray[np.bool_]:
    """Return the zones in which hazards forbid the next depth, which the machine has."""
    deeper = zones["depth_cm"].to_numpy(dtype=float) + machine.depth_step_cm
    told = np.zeros(len(zones), dtype=bool)
    for i in np.flatnonzero(deeper <= machine.depth_max_cm + SLACK):
        shape = zones.geometry.iloc[i]
        about = [
            one.keep_off.buffer(one.reach_m + run_m)
            for one in bounds[i]
            if one.cap_cm + SLACK < deeper[i]
        ]
        near = shapely.intersection(shape, shapely.union_all(about)).area
        told[i] = near > 0 and near >= rule("held_share_least") * shape.area
    return told


def _bounds(
    zones: gpd.GeoDataFrame, hazard_zones: gpd.GeoDataFrame, near_m: float
) -> list[tuple[Bound, ...]]:
    """Return the hazards that bound each zone."""
    depth, shapes = zones["depth_cm"].to_numpy(dtype=float), zones.geometry.to_numpy()
    reach_m = max(near_m, rule("edge_m"))
    found: list[tuple[Bound, ...]] = [()] * len(zones)
    facts = (hazard_zones[name] for name in ("kind", "name", "cap_cm", "geometry"))
    for kind, name, cap_cm, shape in zip(*facts, strict=True):
        called = called_by(kind, name)
        apart = shapely.distance(shapes, shape)
        bound = (apart <= 0) | ((apart <= near_m) & (depth <= cap_cm + SLACK))
        for i in np.flatnonzero(bound):
            found[i] = (*found[i], Bound(float(cap_cm), str(kind), called, shape, reach_m))
    return found


def caps_at(pits: pd.DataFrame, zones: pd.DataFrame) -> pd.DataFrame:
    """Return the least cap that holds at each pit, and its hazard.

    A zone may be large, and be lifted out in part for no hazard at all: so a hazard bounds the
    pits of its zones that lie within its keep-off or within ``reach_m`` beside it.

    Parameters
    ----------
    pits
        ``zone, x_m, y_m``.
    zones
        Those of `bounded`.

    Returns
    -------
    DataFrame
        ``cap_cm`` (NaN without a hazard), ``cap_by`` (its kind), ``cap_of`` (its kind and name;
        blank without) and ``in_keep_off`` (bool: the pit lies in the keep-off itself), rows as of
        `pits`.
    """
    bounds = dict(zip(zones["zone"], zones["bounds"], strict=True))
    told = []
    for zone, spot in zip(pits["zone"], pits[["x_m", "y_m"]].to_numpy(dtype=float), strict=True):
        place = shapely.Point(spot)
        near = [one for one in bounds[zone] if one.reaches(place)]
        least = min(near, key=lambda one: one.cap_cm, default=None)
        inside = least is not None and least.keep_off.distance(place) <= 0
        facts = (np.nan, "", "") if least is None else (least.cap_cm, least.by, least.called)
        told.append((*facts, inside))
    kinds = {"cap_cm": float, "cap_by": object, "cap_of": object, "in_keep_off": bool}
    return pd.DataFrame(told, columns=list(kinds), index=pits.index).astype(kinds)


def about_hazard(pits: pd.DataFrame, zones: pd.DataFrame) -> NDArray[np.bool_]:
    """Return which pits lie about a hazard that bounds any of the zones.

    Parameters
    ----------
    pits
        ``x_m, y_m``.
    zones
        Those of `bounded`.
    """
    bounds = [one for own in zones["bounds"] for one in own]
    places = [shapely.Point(spot) for spot in pits[["x_m", "y_m"]].to_numpy(dtype=float)]
    told = [any(one.reaches(place) for one in bounds) for place in places]
    return np.array(told, dtype=np.bool_)


def not_held(planned: PlannedGround) -> PlannedGround:
    """Return the plan less the zones whose pan was to stay because a hazard holds the work."""
    return replace(planned, zones=planned.zones[~planned.zones["held"].to_numpy(dtype=bool)])


def held_name(depth_cm: float, by: str) -> str:
    """Return what ground is called that a hazard holds at a depth."""
    return f"{depth_cm:g} cm, held by a {by}"


def past_caps(pits: pd.DataFrame) -> pd.DataFrame:
    """Return the pits whose leg ran deeper than a hazard about them allows, by name.

    Parameters
    ----------
    pits
        Columns of `judge_pits`; ``of_work``: work of another season asks nobody to stop.

    Returns
    -------
    DataFrame
        Columns of `pits` and ``far`` (bool), as of `far_past`.
    """
    beyond = pits["leg_least_cm"] - pits["cap_cm"]
    told = pits.assign(far=far_past(pits))
    return by_name(told[(beyond > 0) & pits["of_work"].astype(bool)], "pit")


def far_past(pits: pd.DataFrame) -> NDArray[np.bool_]:
    """Return where a leg ran deeper than a hazard about the pit allows, by more than a tape errs.

    What was loosened between the legs is the least that the leg ran at, and inside a keep-off that
    lifts the legs out nothing is loosened: there any depth past the cap is too much.
    """
    over = (pits["leg_least_cm"] - pits["cap_cm"]).to_numpy(dtype=float)
    strict = pits["loosened_at_leg_cm"].isna() | (pits["in_keep_off"] & (pits["cap_cm"] <= 0))
    return np.asarray((over > 0) & (strict | (over >= rule("set_depth_tolerance_cm"))))


def past_words(pit: Mapping[Any, Any], *, far: bool) -> str:
    """Return by how much a leg ran past the cap of a hazard, with the tolerance if within it."""
    cap_cm, by, tape = float(pit["cap_cm"]), pit["cap_by"], rule("set_depth_tolerance_cm")
    told = f"{pit['leg_least_cm'] - cap_cm:.3g} cm deeper than the cap of {cap_cm:g} cm ({by})"
    if not cap_cm > 0:
        told = f"{pit['leg_least_cm']:g} cm deep where the {by} lifts the legs out"
    if np.isnan(pit["loosened_at_leg_cm"]):
        told = f"At least {told}: so much between the legs, and the leg is not noted"
    if far:
        return f"{told}."
    look = "look at the outfalls" if by == "drain" else f"find out whether the {by} was touched"
    return f"{told}: within what a tape can tell ({tape:g} cm), {look}."


def stop_words(pit: Mapping[Any, Any]) -> str:
    """Return what to do about a row of `past_caps` whose leg ran far too deep."""
    held = f"holds the work at {pit['cap_cm']:g} cm" if pit["cap_cm"] > 0 else "lifts the legs out"
    look = " Look at its outfall." if pit["cap_by"] == "drain" else ""
    depth = f"{pit['leg_least_cm']:g} cm deep"
    if np.isnan(pit["loosened_at_leg_cm"]):
        depth = f"at least {depth} (between the legs; the leg is not noted)"
    return (
        f"Stop: {pit_at(pit)} was loosened {depth}, where the {pit['cap_of']} {held}. "
        f"{TOUCHED}{look}"
    )


def called_by(kind: str, name: str) -> str:
    """Return what a hazard is called: its kind, and its name where it has one."""
    return f"{kind} ({name})" if name else kind


def pit_at(pit: Mapping[Any, Any]) -> str:
    """Return a pit and where it lies, in words that hold for every plan: zones are of one plan."""
    return f"pit {pit['pit']} at lon {pit['lon']:.6f}, lat {pit['lat']:.6f}"

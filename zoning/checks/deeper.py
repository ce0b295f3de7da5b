"""How much deeper ground may be set: never beyond what bounds any zone of it."""

from __future__ import annotations

import math

import pandas as pd

from zoning.checks.rules import SLACK
from zoning.model.settings import MachineSection
from zoning.units import tenths


def how_deep(
    zones: pd.DataFrame,
    gap_cm: float,
    machine: MachineSection,
    *,
    clearance_cm: float = 0.0,
    where: str = "here",
) -> str:
    """Return the depth to set, or why none deeper may be.

    Parameters
    ----------
    zones
        Zones of `zoning.checks.bounded` that the advice is for, those held by a hazard too.
    gap_cm
        How far the work stayed above the pan base; NaN where not known: one step is taken [cm].
    machine
        The loosener, whose steps a depth keeps to.
    clearance_cm
        How far below the base a depth is to go [cm].
    where
        The ground that is set so, in words.
    """
    worked = zones[zones["depth_cm"] > 0]
    if len(worked["depth_cm"].unique()) != 1:
        return "How far each depth may go stands with that depth, where its own pits ask for it."
    now, to = float(worked["depth_cm"].iloc[0]), deeper_cm(worked, gap_cm + clearance_cm, machine)
    least = worked.sort_values(["deepest_cm", "zone"], kind="stable").iloc[0]
    why = _why(least, worked)
    if to > now:
        told = f"Set {to:g} cm {where}, and no deeper than {least['deepest_cm']:g} cm: {why}."
        return told + _stays(gap_cm, to - now, str(least["deepest_by"]))
    if least["deepest_by"] in ("notice", "foot"):
        return f"No deeper setting is named {where}: {why}."
    return f"Do not set it deeper than {min(now, float(least['deepest_cm'])):g} cm: {why}."


def _stays(gap_cm: float, deeper_cm: float, by: str) -> str:
    """Return that the depth to set leaves the pan; blank where it passes it or the gap is blank."""
    if not gap_cm - deeper_cm > SLACK:
        return ""
    cure = ": wings, wider feet or leading tines come first" if by == "foot" else ""
    return (
        f" The pits lack {tenths(gap_cm)} cm, and that is {tenths(deeper_cm)} cm more: it leaves "
        f"the pan{cure}."
    )


def clearance_of(zones: pd.DataFrame) -> float:
    """Return how far below the base the legs are to go there, 0 where no plan tells it [cm]."""
    return float(zones["clearance_cm"].max()) if "clearance_cm" in zones else 0.0


def deeper_cm(zones: pd.DataFrame, gap_cm: float, machine: MachineSection) -> float:
    """Return the depth to set [cm], in whole steps of the machine; as planned where none is free.

    It passes none of ``deepest_cm``, unless the planned depth does so already.
    """
    now, step = float(zones["depth_cm"].iloc[0]), machine.depth_step_cm
    wanted = max(1, math.ceil(gap_cm / step - SLACK)) if math.isfinite(gap_cm) else 1
    free = math.floor((float(zones["deepest_cm"].min()) - now) / step + SLACK)
    return now + step * max(0, min(wanted, free))


def _why(least: pd.Series, zones: pd.DataFrame) -> str:
    by, deepest = str(least["deepest_by"]), f"{least['deepest_cm']:g} cm"
    if by == "machine":
        return "that is the deepest setting of the machine"
    if by == "foot":
        return f"deeper than about {deepest} this foot presses the soil aside, without lifting it"
    if by == "notice":
        return (
            f"buried services were not located, and deeper than {deepest} the ground is NOT CLEARED"
        )
    same = zones[(zones["deepest_cm"] == least["deepest_cm"]) & (zones["deepest_by"] == by)]
    names = ", ".join(str(zone) for zone in same["zone"])
    return f"a {by} allows no more than {deepest} beside it, in zone {names}"

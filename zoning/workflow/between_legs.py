"""What is loosened midway between the legs at each depth, and whether that passes the pan."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning import machine
from zoning.contracts import by_geometry
from zoning.model import Notice
from zoning.outputs.sheet.trial_pit import mean_base_cm
from zoning.outputs.sheet.words import RIDGE
from zoning.units import tenths

Floats = NDArray[np.float64]
_PASSES = "that passes it"
RIDGE_FOUND, TOO_CLOSE = "ridge-between-legs", "legs-closer-than-needed"


def leg_notices(
    zones: pd.DataFrame, stations: pd.DataFrame, depth_cm: Floats, outfit: machine.Outfit
) -> tuple[Notice, ...]:
    """Return a note on what the legs leave between them, at each depth, and what to do about it.

    Parameters
    ----------
    zones
        ``depth_cm, area_ha, pan_base_cm``.
    stations
        ``pan_top_cm, used``.
    depth_cm
        Working depth at each station [cm].
    outfit
        The machine, and the ridge that was measured behind it.
    """
    worked = zones[zones["depth_cm"] > 0]
    found = {
        float(depth): _found(float(depth), outfit) for depth in sorted(set(worked["depth_cm"]))
    }
    ridged = [depth for depth, held in found.items() if RIDGE_FOUND in held]
    if not ridged:
        return ()
    told: dict[str, list[str]] = {}
    for depth in ridged:
        top_cm = _top_cm(stations, depth_cm, depth)
        words, outcome = _at(depth, worked, top_cm, outfit)
        told.setdefault(outcome, []).append(words)
    close = [depth for depth, held in found.items() if TOO_CLOSE in held]
    lower = "" if {*told} == {_PASSES} else f" {found[ridged[-1]][RIDGE_FOUND].remedy}"
    loosened = "; ".join(f"{', '.join(each)}: {outcome}" for outcome, each in told.items())
    text = (
        f"Midway between legs soil is loosened only {loosened}. That is "
        f"{_source(ridged[-1], outfit)}.{lower}{_leave(close, outfit)}"
    )
    return (Notice("note", RIDGE, text),)


def _found(depth_cm: float, outfit: machine.Outfit) -> Mapping[str, machine.Finding]:
    held = machine.spacing_findings(outfit.machine, depth_cm, outfit.measured_ridge_cm)
    return {each.code: each for each in held}


def _source(depth_cm: float, outfit: machine.Outfit) -> str:
    measured = outfit.measured_ridge_cm
    if measured is not None:
        return f"a ridge of {tenths(measured)} cm as measured behind this machine"
    high = tenths(machine.ridge_cm(outfit.machine, depth_cm))
    return f"a ridge of {high} cm {by_geometry(wings_unknown=outfit.machine.wings_unknown)}"


def _top_cm(stations: pd.DataFrame, depth_cm: Floats, depth: float) -> float:
    """Return the mean top of the pan where this depth is worked, else in all the field [cm]."""
    known = stations["used"].astype(bool) & stations["pan_top_cm"].notna()
    here = known & np.isclose(depth_cm, depth)
    return float(stations.loc[here if here.any() else known, "pan_top_cm"].mean())


def _at(
    depth: float, worked: pd.DataFrame, top_cm: float, outfit: machine.Outfit
) -> tuple[str, str]:
    """Return what is loosened at a depth beside where the pan lies, and what to expect."""
    base_cm = mean_base_cm(worked, depth)
    ridge_cm = machine.ridge_told_cm(outfit.machine, depth, outfit.measured_ridge_cm)
    loose_cm = max(depth - ridge_cm, 0.0)
    top = "" if np.isnan(top_cm) else f"{min(top_cm, base_cm):.0f} "
    words = f"to {tenths(loose_cm)} cm at {depth:g} cm (pan {top}to {base_cm:.0f})"
    if loose_cm >= base_cm:
        return words, _PASSES
    stays = "it" if loose_cm <= top_cm else "its lower part"
    return words, f"expect {stays} to stay between legs"


def _leave(close: list[float], outfit: machine.Outfit) -> str:
    """Return that legs closer than the deep work asks for are left, nothing where none are."""
    if not close:
        return ""
    depths = f"{', '.join(f'{depth:g}' for depth in close)} cm"
    spacing = f"{outfit.machine.leg_spacing_cm:g} cm"
    return (
        f" Leave the legs at {spacing}: wider they leave more of the pan. At {depths} they cost "
        "more draft than they need."
    )

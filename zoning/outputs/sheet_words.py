"""The standing words of the operator's sheet, and those that follow from machine and zones."""

from __future__ import annotations

import math

import pandas as pd

from zoning.model import Plan
from zoning.units import inches

MISSING_LETTERS = (
    "Some letters have no font on the computer that made this sheet and show as boxes: go by the "
    "plan number, and install a font for them."
)
MOST_LISTED = 10
THREAD = (
    "Take soil from the surface and from working depth, and roll a thread 3 mm thick. It rolls "
    "easily: too wet, do not loosen. It cracks into short lengths: right. It crumbles: workable, "
    "but expect clods and more draft. Too wet at either depth means wait."
)
PIT = (
    "After a run at the set depth stop, lower the machine, stop the engine, and dig across the run "
    "behind it. Measure from the undisturbed surface down to firm soil at a leg and midway between "
    "two legs; their difference is the ridge. Fill in a line for each speed, then choose the "
    "slowest one that leaves no hard ridge and a level surface. Dig again where the depth changes."
)
SMALL_PRINT = (
    "Depths come from few readings and carry the assurance of the plan; dig before you trust them. "
    "Draft by the equation of ASAE D497 (coefficients and range of ±50 % from memory), tractive "
    "efficiency and field efficiency of D497 (from memory), fuel by ASABE D497.7: litres and "
    "minutes are a guide for filling the tank, not a promise. Leg spacing by Spoor and Godwin 1978 "
    "(from memory) and common practice. Trial speeds and order of work: common practice. Thread "
    "test: Tasmania NRE. Local codes and licensed practice come first; this sheet does not say "
    "that work anywhere is without danger."
)


def checks(plan: Plan) -> list[str]:
    """Return what to check before the work, with this machine's own figures."""
    machine = plan.settings.machine
    told = [notice.text for notice in plan.notices if notice.code == "machine-frame-level"]
    level = " ".join(told) or "Frame level in work, front to back and side to side."
    pins = "Pins in the same hole on both sides, roller on firm ground"
    if machine.depth_control == "pins":
        shallowest = machine.depth_min_cm
        pins += (
            f"; hole 1 is taken as {shallowest:g} cm ({inches(shallowest):.1f} in), each hole "
            f"{machine.depth_step_cm:g} cm deeper: measure yours"
        )
    else:
        pins = "Depth control reads the same on both sides and on level ground"
    listed = [
        level,
        f"{pins}.",
        "Points: all of one kind, none worn back to the wing or shorter than the others.",
        "Shear bolts: the right grade in every leg, spares in the cab.",
        "Hoses and couplings sound; nobody near the machine while it is raised or lowered.",
        "Every hazard on the map found on the ground and marked.",
    ]
    if machine.leading_tines:
        listed.insert(3, "Leading tines set shallower than the legs.")
    return listed


def work_order(plan: Plan, zones: pd.DataFrame) -> list[str]:
    """Return the steps of the work in order (common practice)."""
    pins = plan.settings.machine.depth_control == "pins"
    steps = ["Trial run and pit in the body of the field; settle speed and level."]
    worked = zones[zones["depth_cm"] > 0]
    for depth, held in worked.groupby("depth_cm", sort=True):
        steps.append(_step(float(str(depth)), held, pins=pins))
    lifted = zones.loc[zones["depth_cm"] <= 0, "zone"]
    if len(lifted):
        steps.append(
            f"Legs lifted out over {listed(list(lifted))}: drive across, do not lower them."
        )
    if (plan.parts["kind"] == "headland").any():
        steps.append("Headland last, so that turning does not press ground already loosened.")
    changes = "stop to move the pins" if pins else "change depth"
    steps.append(f"Where to {changes} along each pass: depth_passes.csv and the map page.")
    return steps


def _step(depth_cm: float, held: pd.DataFrame, *, pins: bool) -> str:
    hole = held["pin_hole"].iloc[0] if pins and "pin_hole" in held else math.nan
    setting = f", pin {hole:.0f}" if not math.isnan(hole) else ""
    return (
        f"{depth_cm:g} cm{setting}: {listed(list(held['zone']))}, {held['area_ha'].sum():.2f} ha."
    )


def listed(zones: list[object], of: int | None = None) -> str:
    """Return zones by number, or how many (of how many) where the list would be long."""
    if len(zones) > MOST_LISTED:
        return f"{len(zones)} zones" if of is None else f"{len(zones)} of {of} zones"
    return f"zone{'s' if len(zones) > 1 else ''} {', '.join(map(str, zones))}"

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
FIRST_STEP = (
    "Trial run and pit in the body of the field; settle speed and level. Then begin on the side "
    "away from the gate."
)
LEVEL = "Frame level in work, front to back and side to side."
THREAD = (
    "Take soil from the surface and from working depth, and roll a thread 3 mm thick. It rolls "
    "easily: too wet, do not loosen. It cracks into short lengths: right. It crumbles: workable, "
    "but expect clods and more draft. Too wet at either depth means wait."
)
PIT = (
    "After a run at the set depth stop, lower the machine, stop the engine, and dig across the run "
    "behind it. Measure from the undisturbed surface down to firm soil at a leg and midway between "
    "two legs: their difference is the ridge. Take the slowest speed that leaves no pan, no hard "
    "ridge and a level surface. Dig again where the depth changes; the last lines are for that."
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
    level = " ".join([LEVEL, *[text.partition(". ")[0].rstrip(".") + "." for text in told]])
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
        "The same plan number here, on the map page and on the machine; older sheets thrown away.",
        level,
        f"{pins}.",
        "Points: all of one kind, none worn back to the wing or shorter than the others.",
        "Shear bolts: the right grade in every leg, spares in the cab.",
        "Hoses and couplings sound; nobody near the machine while it is raised or lowered.",
        "Every hazard on the map found on the ground and marked.",
    ]
    if machine.leading_tines:
        listed.insert(4, "Leading tines set shallower than the legs.")
    return listed


def work_order(plan: Plan, zones: pd.DataFrame) -> list[str]:
    """Return the steps of the work in order (common practice)."""
    pins = plan.settings.machine.depth_control == "pins"
    steps = [FIRST_STEP]
    worked = zones[zones["depth_cm"] > 0]
    for depth, held in worked.groupby("depth_cm", sort=True):
        steps.append(step_of_work(float(str(depth)), held, pins=pins))
    lifted = zones.loc[zones["depth_cm"] <= 0, "zone"]
    if len(lifted):
        steps.append(
            f"Legs lifted out over {listed(list(lifted))}: drive across, do not lower them."
        )
    if (plan.parts["kind"] == "headland").any():
        steps.append(_headland(plan, worked, pins=pins))
    changes = "stop to move the pins" if pins else "change depth"
    steps.append(
        f"Where to {changes}: at the edges of the zones; run by run in depth_passes.csv and on the "
        "map page under Passes."
    )
    return steps


def _headland(plan: Plan, worked: pd.DataFrame, *, pins: bool) -> str:
    """Return the step for the headland with the settings that its passes ask for."""
    told = "Headland passes last, so that turning does not press ground already loosened"
    driven = plan.passes.loc[plan.passes["part"] == "headland", "depth_cm"]
    settings = [
        f"{depth:g} cm{_hole(worked[worked['depth_cm'] == depth], pins=pins)}"
        for depth in sorted(set(driven))
        if depth > 0
    ]
    return f"{told}: {'; '.join(settings)}." if settings else f"{told}."


def step_of_work(depth_cm: float, held: pd.DataFrame, *, pins: bool) -> str:
    """Return the step that works the zones `held` at one depth."""
    setting = f"{depth_cm:g} cm{_hole(held, pins=pins)}"
    return f"{setting}: {listed(list(held['zone']))}, {held['area_ha'].sum():.2f} ha."


def _hole(held: pd.DataFrame, *, pins: bool) -> str:
    """Return the pin hole of zones of one depth in words, nothing where there is none."""
    known = pins and "pin_hole" in held and len(held) > 0
    hole = float(held["pin_hole"].iloc[0]) if known else math.nan
    return "" if math.isnan(hole) else f", pin {hole:.0f}"


def listed(zones: list[object], of: int | None = None) -> str:
    """Return zones by number, or how many (of how many) where the list would be long."""
    if len(zones) > MOST_LISTED:
        return f"{len(zones)} zones" if of is None else f"{len(zones)} of {of} zones"
    return f"zone{'s' if len(zones) > 1 else ''} {', '.join(map(str, zones))}"

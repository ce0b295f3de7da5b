"""The rows of the tables of the sheet: zones, and settings in the order of work."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import geopandas as gpd
import pandas as pd

from zoning.contracts import NOT_CLEARED, constant, deepest_cm, joined
from zoning.model import Plan
from zoning.outputs.drawing.plan import depth_tones, hazards_in_order
from zoning.outputs.drawing.zone_labels import (
    GUESSED_MARK,
    GUESSED_ZONE,
    HELD_ZONE,
    guessed_zones,
    held_zones,
    small_numbers,
)
from zoning.outputs.guessed import FAR, noted_otherwise, unread_parts
from zoning.outputs.sheet.lifted import lifted_steps, passes_left_out, reaches
from zoning.outputs.sheet.steps import Setting, Stages, begin_with, work_stages
from zoning.outputs.sheet.trials import fastest_km_h
from zoning.outputs.sheet.words import (
    FIRST_STEP,
    NO_HEADLAND,
    NOTHING_WORKED,
    last_step,
    listed,
    no_speed,
    not_cleared,
    number,
    stage_titles,
    why_zero,
)
from zoning.units import inches

HELD = "*"


def zone_row(zone: Mapping[Any, Any], tones: Mapping[float, str]) -> dict[str, Any]:
    """Return what the table of the sheet says of a zone; `tones` has the colour of each depth."""
    depth = float(zone["depth_cm"])
    worked = depth > 0
    mark = HELD if worked and HELD_ZONE in str(zone.get("cautions")) else ""
    return {
        "zone": str(zone["zone"]),
        "tone": tones.get(depth, ""),
        "depth_cm": (number(depth) if worked else "lifted") + _mark(zone),
        "depth_in": f"{inches(depth):.1f}" if worked else "out",
        "pin": known(zone.get("pin_hole"), 0),
        "pan_cm": known(zone.get("pan_base_cm") if worked else None, 0) + mark,
        "pan_in": known(inches(zone.get("pan_base_cm", math.nan)) if worked else None, 1),
        "area_ha": known(zone["area_ha"], 2),
        "fuel_l": known(zone.get("fuel_l"), 0),
        "time_min": known(zone.get("time_min"), 0),
        "cleared": str(zone["cleared"]) if worked else "–",
        "not_cleared": zone["cleared"] == NOT_CLEARED,
    }


def _mark(zone: Mapping[Any, Any]) -> str:
    return GUESSED_MARK if GUESSED_ZONE in str(zone.get("cautions")) else ""


def why_guessed(plan: Plan, zones: gpd.GeoDataFrame) -> str:
    """Return which ground of the zones with the mark is guessed, and what to do about it."""
    if not guessed_zones(zones).any():
        return ""
    parts = []
    for part in unread_parts(plan.parts, plan.stations):
        beside = noted_otherwise(part, plan.parts, plan.stations)
        parts.append(f"{part} ({beside})" if beside else part)
    located = plan.settings.hazards.located
    first = "Ask what is buried, then" if located else "Once services are located,"
    named = f": {joined(parts)}" if parts else ""
    return (
        f"{GUESSED_MARK} Guessed ground in it, no station read there{named}. {first} probe or dig "
        "there and plan again before it is worked. depth_grid.csv, depth_passes.csv and "
        "pan_surface.tif do not mark it."
    )


def why_far(plan: Plan) -> str:
    """Return how much ground has no station near, and what its depth rests on."""
    far_ha = float(plan.uncertain.loc[plan.uncertain["reason"] == FAR, "area_ha"].sum())
    if not far_ha > 0:
        return ""
    return (
        f"Dots: {FAR} ({known(far_ha, 2)} ha), the depth rests on stations farther off and on "
        "common experience; the files for a terminal do not mark it."
    )


def why_held_back(plan: Plan, zones: gpd.GeoDataFrame) -> str:
    """Return which hazards keep the work off the pan, in words for the mark in the table."""
    held = zones[
        held_zones(zones) & (zones["depth_cm"] > 0) & ~zones["zone"].isin(small_numbers(zones))
    ]
    if held.empty:
        return ""
    ground, step_cm = held.geometry.union_all(), plan.settings.machine.depth_step_cm
    next_cm = float(held["depth_cm"].max()) + step_cm
    by = [
        hazard.tag
        for hazard in hazards_in_order(plan)
        if 0 < deepest_cm(hazard.kind, hazard.depth_cm) < next_cm and reaches(plan, hazard, ground)
    ]
    return f"{HELD} Held up by {joined(by)}: a pan there is likely to stay, set no deeper."


def why_less_sure(plan: Plan, zones: gpd.GeoDataFrame) -> str:
    """Return which zones and parts are well below the assurance asked; nothing where none is.

    A zone that a hazard holds up has a mark of its own.
    """
    if "assurance" not in zones:
        return ""
    small, well_below = small_numbers(zones), constant("plan_rules", "assurance_well_below")
    lacking = (plan.settings.depth.assurance - zones["assurance"]).round(2) >= well_below
    worked = lacking & (zones["depth_cm"] > 0)
    told = worked & ~zones["zone"].isin(small) & ~held_zones(zones)
    numbers: list[object] = list(zones.loc[told, "zone"])
    parts = [part for each in plan.notices if each.code == "part-short" for part in each.parts]
    whole = [f"the {joined(parts)} as a whole"] if parts else []
    if not numbers and not whole:
        return ""
    named = joined([*([listed(numbers, of=len(zones))] if numbers else []), *whole])
    return f"{named[:1].upper()}{named[1:]}: less sure than asked, dig there first."


def setting_row(setting: Setting, zones: pd.DataFrame) -> dict[str, Any]:
    """Return what the order of work says of the zones worked at one depth."""
    alike = zones[zones["zone"].isin(setting.zones)]
    guessed = {int(zone) for zone in alike.loc[guessed_zones(alike), "zone"]}
    return {
        "depth_cm": number(setting.depth_cm),
        "depth_in": f"{inches(setting.depth_cm):.1f}",
        "pin": known(alike["pin_hole"].max() if "pin_hole" in alike else None, 0),
        "zones": setting.listed(guessed, GUESSED_MARK),
        "not_cleared": bool((alike["cleared"] == NOT_CLEARED).any()),
    }


def order_of_work(plan: Plan, zones: gpd.GeoDataFrame) -> dict[str, Any]:
    """Return the steps of the work in order, each stage with its settings."""
    stages = work_stages(zones, plan.passes)
    tones = depth_tones([float(depth) for depth in zones["depth_cm"]])
    fastest = fastest_km_h(plan)

    def told(setting: Setting) -> dict[str, Any]:
        own = plan.settings.machine.speed_km_h
        speed = fastest.get(setting.depth_cm, own)
        row = {"tone": tones.get(setting.depth_cm, ""), "speed": number(speed)}
        return {**setting_row(setting, zones), **row}

    straight, headland = stage_titles(plan, headland=bool(stages.headland))
    gateways = plan.parts.loc[plan.parts["kind"] == "gateway"].geometry
    straight += begin_with(plan.passes, gateways.union_all(), _in_turn_cm(plan, stages))
    straight += "" if (plan.parts["kind"] == "headland").any() else NO_HEADLAND
    titles = (straight, stages.straight), (headland, stages.headland)
    titled = [(title, settings) for title, settings in titles if settings]
    lifted = lifted_steps(plan, zones)
    at = 2 + len(titled)
    zeros = why_zero(range(at, at + len(lifted)))
    counted = [f"{last_step(plan)}{zeros}"] if titled else []
    return {
        "first": FIRST_STEP if titled else NOTHING_WORKED,
        "stages": [
            {"title": title, "rows": [told(setting) for setting in settings]}
            for title, settings in titled
        ],
        "last": [*lifted, *passes_left_out(plan), *counted],
        "no_speed": no_speed(plan),
        "not_cleared": not_cleared(plan, zones)[1],
    }


def _in_turn_cm(plan: Plan, stages: Stages) -> Sequence[float]:
    """Return the depths of the straight passes where one is worked after another [cm]."""
    pins = plan.settings.machine.depth_control == "pins"
    return [setting.depth_cm for setting in stages.straight] if pins else []


def why_small(plan: Plan, zones: gpd.GeoDataFrame) -> str:
    """Return which zones are small, and what cuts them off; nothing where the table lists all."""
    numbers = small_numbers(zones)
    if not numbers:
        return ""
    cuts = _cuts(plan, zones[zones["zone"].isin(numbers)])
    by = f"cut off by {joined(cuts)}, or " if cuts else ""
    least_ha = constant("plan_rules", "small_zone_ha")
    return (
        f"Zones under {least_ha:g} ha ({len(numbers)} of {len(zones)}) stand under 4 only: {by}"
        "where the pan changes within a few passes. Do not skip them."
    )


def _cuts(plan: Plan, small: gpd.GeoDataFrame) -> list[str]:
    """Return what lies within a machine's width of small zones: wheelings, named areas, hazards."""
    width_m = plan.settings.machine.width_m
    near = small.geometry.union_all().buffer(width_m)
    parts = plan.parts[plan.parts["kind"].isin(["wheeling", "named"])].sort_values("part")
    told = [
        "wheelings" if kind == "wheeling" else str(part)
        for part, kind, shape in zip(parts["part"], parts["kind"], parts.geometry, strict=True)
        if shape.intersects(near)
    ]
    return told + [hazard.tag for hazard in hazards_in_order(plan) if reaches(plan, hazard, near)]


def known(value: float | None, decimals: int) -> str:
    """Return a number, a dash where it is not known, and never a nought for a little."""
    if value is None or math.isnan(value):
        return "–"
    least = 10.0**-decimals
    return f"<{least:g}" if 0 < value <= least / 2 else f"{value:.{decimals}f}"

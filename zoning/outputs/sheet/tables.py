"""The rows of the tables of the sheet: zones, and settings in the order of work."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

import geopandas as gpd
import pandas as pd
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant, deepest_cm, keep_off_m
from zoning.model import Plan
from zoning.outputs.drawing.legend import NOT_CLEARED
from zoning.outputs.drawing.plan import Hazard, depth_tones, hazards_in_order
from zoning.outputs.drawing.zone_labels import small_numbers
from zoning.outputs.sheet.steps import Setting, work_stages
from zoning.outputs.sheet.trials import fastest_km_h
from zoning.outputs.sheet.words import (
    FIRST_STEP,
    FROM_GATE,
    last_steps,
    no_speed,
    not_cleared,
    stage_titles,
)
from zoning.units import inches

HELD = "*"
_CAP = re.compile(r"no deeper than ([\d.]+) cm")


def zone_row(zone: Mapping[Any, Any], tones: Mapping[float, str]) -> dict[str, Any]:
    """Return what the table of the sheet says of a zone; `tones` has the colour of each depth."""
    depth = float(zone["depth_cm"])
    worked = depth > 0
    return {
        "zone": str(zone["zone"]),
        "tone": tones.get(depth, ""),
        "depth_cm": number(depth) if worked else "lifted",
        "depth_in": f"{inches(depth):.1f}" if worked else "out",
        "pin": known(zone.get("pin_hole"), 0),
        "pan_cm": known(zone.get("pan_base_cm") if worked else None, 0) + HELD * held_back(zone),
        "area_ha": known(zone["area_ha"], 2),
        "fuel_l": known(zone.get("fuel_l"), 0),
        "time_min": known(zone.get("time_min"), 0),
        "cleared": str(zone["cleared"]),
        "not_cleared": zone["cleared"] == NOT_CLEARED,
    }


def held_back(zone: Mapping[Any, Any]) -> bool:
    """Return whether a zone is worked less deep than its pan because of a hazard it touches."""
    caps_cm = [float(cap) for cap in _CAP.findall(str(zone.get("cautions")))]
    pan_cm = float(zone.get("pan_base_cm", math.nan))
    return bool(zone["depth_cm"] > 0 and caps_cm and min(caps_cm) < round(pan_cm, 0))


def why_held_back(plan: Plan, zones: gpd.GeoDataFrame) -> str:
    """Return which hazards keep the work off the pan, in words for the mark in the table."""
    listed = zones[~zones["zone"].isin(small_numbers(zones))]
    held = listed[[held_back(zone) for zone in listed.to_dict("records")]]
    if held.empty:
        return ""
    ground, deepest_pan_cm = held.geometry.union_all(), float(held["pan_base_cm"].max())
    by = [
        hazard.tag
        for hazard in hazards_in_order(plan)
        if 0 < deepest_cm(hazard.kind, hazard.depth_cm) < deepest_pan_cm
        and _reaches(plan, hazard, ground)
    ]
    return f"{HELD} Held above the pan by {_listed(by)}: the pan stays there, set no deeper."


def setting_row(setting: Setting, zones: pd.DataFrame) -> dict[str, Any]:
    """Return what the order of work says of the zones worked at one depth."""
    alike = zones[zones["zone"].isin(setting.zones)]
    return {
        "depth_cm": number(setting.depth_cm),
        "depth_in": f"{inches(setting.depth_cm):.1f}",
        "pin": known(alike["pin_hole"].max() if "pin_hole" in alike else None, 0),
        "zones": setting.listed,
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

    titles = zip(stage_titles(plan), (stages.straight, stages.headland), strict=True)
    return {
        "first": FIRST_STEP + (FROM_GATE if (plan.parts["kind"] == "gateway").any() else ""),
        "stages": [
            {"title": title, "rows": [told(setting) for setting in settings]}
            for title, settings in titles
            if settings
        ],
        "last": last_steps(plan, zones),
        "no_speed": no_speed(plan),
        "not_cleared": not_cleared(plan, zones)[1],
    }


def why_small(plan: Plan, zones: gpd.GeoDataFrame) -> str:
    """Return which zones are small, and what cuts them off; nothing where the table lists all."""
    numbers = small_numbers(zones)
    if not numbers:
        return ""
    cuts = _cuts(plan, zones[zones["zone"].isin(numbers)])
    by = f"cut off by {_listed(cuts)}, or " if cuts else ""
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
    return told + [hazard.tag for hazard in hazards_in_order(plan) if _reaches(plan, hazard, near)]


def _reaches(plan: Plan, hazard: Hazard, ground: BaseGeometry) -> bool:
    """Return whether the keep-off of a hazard meets some ground."""
    keep_m = keep_off_m(hazard.kind, hazard.clear_m, plan.settings.machine.width_m)
    return bool(hazard.geometry.distance(ground) <= keep_m)


def _listed(words: Sequence[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last


def known(value: float | None, decimals: int) -> str:
    """Return a number, a dash where it is not known, and never a nought for a little."""
    if value is None or math.isnan(value):
        return "–"
    least = 10.0**-decimals
    return f"<{least:g}" if 0 < value < least / 2 else f"{value:.{decimals}f}"


def number(value: float) -> str:
    """Return a number with at most one decimal, a dash where it is not known."""
    return "–" if math.isnan(value) else f"{value:.1f}".removesuffix(".0")

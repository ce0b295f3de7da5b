"""What stands on the operator's sheet, as plain data for its template."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

import geopandas as gpd
import pandas as pd

from zoning.contracts import NOT_CLEARED, constant, deepest_cm, rows
from zoning.model import Plan
from zoning.outputs.bars import assumed_keys, check_bar, pins_assumed, stop_bars
from zoning.outputs.drawing.plan import (
    COVER_NOT_KNOWN,
    Hazard,
    depth_tones,
    drawn_plan,
    hazards_in_order,
)
from zoning.outputs.drawing.zone_labels import small_numbers
from zoning.outputs.fingerprint import short_id
from zoning.outputs.reading_rows import reading_dates
from zoning.outputs.rows import zones_in_order
from zoning.outputs.sheet.cautions import bold, cautions, for_adviser
from zoning.outputs.sheet.inches import also_in_inches, read_in_inches
from zoning.outputs.sheet.lifted import gap_step
from zoning.outputs.sheet.room import map_height_mm, zone_columns
from zoning.outputs.sheet.tables import (
    order_of_work,
    why_far,
    why_guessed,
    why_held_back,
    why_less_sure,
    why_small,
    zone_row,
)
from zoning.outputs.sheet.trial_pit import ridge
from zoning.outputs.sheet.trials import fastest_km_h, trial_rows
from zoning.outputs.sheet.words import (
    LATER,
    LATER_ALIKE,
    NO_POWER,
    NO_TRIAL,
    PIT,
    THREAD,
    assumed,
    before_digging,
    checks,
    not_cleared,
    number,
    pin_at_most,
    slowest,
    small_print,
    unsaid,
)
from zoning.units import inches

RULES = "sheet_rules"
FONTS = (
    "DejaVu Sans",
    "Noto Sans",
    "Liberation Sans",
    "Arial",
    "Helvetica",
    "Libertinus Serif",
)
Facts = Mapping[str, Any]
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_FIGURE = re.compile(r"\d+(?:\.\d+)?(?: ?[^\s.,;:()]+)?")  # with its unit
_OF_LEGS = re.compile(r"\bfoot width\b|\bLegs .* apart\b")
MEASURE_FIRST = "Measure feet, points and legs first: they are assumed, and may not suit the depth."
_RECKONED = re.compile(
    r" Its time and fuel are reckoned at [\d.]+ km/h\."
)  # stands with the settings


def sheet_facts(plan: Plan) -> Facts:
    """Return everything the template of the sheet prints."""
    zones = zones_in_order(plan)
    small = {str(zone) for zone in small_numbers(zones)}
    listed = len(zones) - len(small)
    facts = _in_units({**_common(plan), **_below_map(plan, zones)}, plan)
    height, first = map_height_mm(plan, facts)
    words = _in_units(_second_page(plan, zones), plan)
    return {
        **facts,
        **words,
        **_drawn(plan, height),
        "mode": "sheet",
        "in_inches": read_in_inches(plan),
        "pins": plan.settings.machine.depth_control == "pins",
        "fuel_known": bool("fuel_l" in zones and zones["fuel_l"].notna().any()),
        "zones_first": first,
        "zones_long": listed > constant(RULES, "zones_a_page"),
        "small": sorted(small),
        **{name: constant(RULES, name) for name in ("two_pages_share", "two_pages_most_pt")},
        "later_pits": _later_pits(len(_depths(zones))),
    }


def _in_units(facts: dict[str, Any], plan: Plan) -> dict[str, Any]:
    return also_in_inches(facts) if read_in_inches(plan) else facts


def _second_page(plan: Plan, zones: gpd.GeoDataFrame) -> dict[str, Any]:
    """Return the words and tables of the second page."""
    held = set(zones.loc[zones["cleared"] == NOT_CLEARED, "depth_cm"])
    return {
        "checks": checks(plan),
        "order": order_of_work(plan, zones),
        "thread": THREAD,
        "before_digging": before_digging(plan),
        "depths": [f"{number(d)} cm" for d in _depths(zones)],
        "depths_held": [depth in held for depth in _depths(zones)],
        "changes": [] if assumed(plan) else _first_measured(_changes(zones), plan),
        "pit": _pit(plan),
        "trials": trial_rows(plan) if _depths(zones) else [],
        "events": [{"event": row["event"], "do": row["do"]} for row in rows("cab_events")],
        "small_print": small_print(),
    }


def _below_map(plan: Plan, zones: gpd.GeoDataFrame) -> dict[str, Any]:
    """Return the words under the map and under the table of zones."""
    return {
        "why_guessed": why_guessed(plan, zones),
        "why_small": why_small(plan, zones),
        "why_held_back": why_held_back(plan, zones),
        "why_less_sure": why_less_sure(plan, zones),
        "totals": _totals(plan) + _rounded(zones),
        "hazards": [_hazard(hazard, plan) for hazard in hazards_in_order(plan)],
        "hazards_ask": _ask(plan.hazards),
        "ground_notes": " ".join([*gap_step(plan), why_far(plan)]).rstrip(),
    }


def _pit(plan: Plan) -> str:
    """Return how to dig the trial pit, and what is not known of this plan's own trial runs."""
    if not _depths(plan.zones):
        return NO_TRIAL
    later = LATER if len(_depths(plan.zones)) > 1 else LATER_ALIKE
    told = PIT + ridge(plan) + slowest(plan) + later
    told += NO_POWER if plan.settings.tractor.pto_power_kw is None else ""
    return f"{told} {not_cleared(plan, plan.zones)[2]}".rstrip()


def _later_pits(depths: int) -> int:
    """Return how many lines there are for pits after the trial: one for each other depth."""
    least, most = (int(constant(RULES, f"later_pits_{end}")) for end in ("least", "most"))
    return min(max(depths - 1, least), most)


def picture_facts(plan: Plan) -> Facts:
    """Return everything the template of the picture prints."""
    return {**_common(plan), **_drawn(plan, constant(RULES, "picture_mm")), "mode": "picture"}


def _drawn(plan: Plan, height_mm: float) -> dict[str, str]:
    depths = ", ".join(f"{number(d)} cm" for d in _depths(zones_in_order(plan))) or "none"
    drawing = drawn_plan(plan, constant(RULES, "map_width_mm"), height_mm)
    return {
        "drawing": drawing.svg,
        "drawing_words": (
            f"Map of {plan.settings.field.name}, north up. Working depths {depths}; zones as "
            "listed."
        ),
        "unsaid": unsaid(drawing.unsaid),
    }


def _common(plan: Plan) -> dict[str, Any]:
    name, held = plan.settings.field.name, not_cleared(plan, zones_in_order(plan))[0]
    return {
        "title": f"{name}: working depths, plan {short_id(plan.plan_id)}",
        "field": name,
        "zones": _zone_rows(zones_in_order(plan)),
        "zone_columns": zone_columns(plan),
        "services": _services(plan),
        "missing_letters": "",
        "field_short": name if len(name) <= 48 else f"{name[:47]}…",
        "name_pt": _name_size(name),
        "plan_id": plan.plan_id,
        "plan_short": short_id(plan.plan_id),
        "about": _about(plan),
        "dates": reading_dates(plan),
        "fonts": FONTS,
        "cautions": cautions(plan),
        "cautions_bold": bold(plan),
        "cautions_first": int(constant(RULES, "cautions_on_first_page")) + bold(plan) - 1,
        "for_adviser": for_adviser(plan),
        "not_cleared": held,
        "bars": [*filter(None, (check_bar(plan), held)), *(f"{bar}." for bar in stop_bars(plan))],
        "assumed": assumed(plan),
        "pins_assumed": pins_assumed(plan),
    }


def _name_size(name: str) -> float:
    return 19.0 if len(name) <= 28 else 14.0 if len(name) <= 60 else 10.5


def _about(plan: Plan) -> str:
    machine, field = plan.settings.machine, plan.settings.field
    season = f"Season {field.season}. " if field.season is not None else ""
    name = f"{machine.name} (ASSUMED)" if assumed(plan) else machine.name
    keys = assumed_keys(plan)
    legs, apart, speed = (
        " (assumed)" if key in keys else "" for key in ("legs", "leg_spacing_cm", "speed_km_h")
    )
    held = [km_h >= machine.speed_km_h for km_h in fastest_km_h(plan).values()]
    slower = "" if all(held) else ", slower where the order of work says so"
    return (
        f"{season}{name[:1].upper()}{name[1:]}: {machine.legs} legs{legs} "
        f"{number(machine.leg_spacing_cm)} cm apart{apart}, {machine.width_m:.2f} m wide, "
        f"{number(machine.speed_km_h)} km/h{speed}{slower}."
    )


def _services(plan: Plan) -> str:
    hazards = plan.settings.hazards
    done = {
        "not_checked": "not checked",
        "records": "from records only",
        "located": "located on the ground" if hazards.located else "said to be located, not proved",
    }[hazards.services]
    return f"Buried services: {done}. Reference: {hazards.reference or 'none given'}."


def _depths(zones: pd.DataFrame) -> Sequence[float]:
    return sorted({float(depth) for depth in zones["depth_cm"] if depth > 0})


def _zone_rows(zones: pd.DataFrame) -> list[dict[str, Any]]:
    tones = depth_tones([float(depth) for depth in zones["depth_cm"]])
    return [zone_row(zone, tones) for zone in zones.to_dict("records")]


def _totals(plan: Plan) -> str:
    zones = plan.zones
    parts = [f"{zones['area_ha'].sum():.2f} ha"]
    if "fuel_l" in zones and not zones["fuel_l"].isna().any():
        parts.append(f"{zones['fuel_l'].sum():.0f} litres")
    if "time_min" in zones and not zones["time_min"].isna().any():
        hours, minutes = divmod(round(zones["time_min"].sum()), 60)
        parts.append(f"{hours} h {minutes:02d} min")
    cost, currency = plan.totals.get("cost", math.nan), plan.settings.costs.currency
    if not math.isnan(cost):
        parts.append(f"{cost:.0f} {currency or '(no currency given)'} at the prices given")
    told = f"Whole field: {', '.join(parts)}."
    if count := plan.totals.get("passes_lifted_throughout", 0.0):
        told += (
            f" Lifted all the way on {count:.0f} of {plan.totals['passes']:.0f} passes: leave them "
            "out, they are not counted."
        )
    if plan.settings.tractor.pto_power_kw is None:
        told += " Litres are left out because the tractor's power was not given."
    return told


def _rounded(zones: pd.DataFrame) -> str:
    """Return that figures are rounded, where all zones are listed and do not add up as shown."""
    if small_numbers(zones):
        return ""
    shown = {"area_ha": 2, "time_min": 0, "fuel_l": 0}
    apart = [
        round(float(zones[name].round(decimals).sum()), decimals)
        != round(zones[name].sum(), decimals)
        for name, decimals in shown.items()
        if name in zones and not zones[name].isna().any()
    ]
    return " Zones are rounded: their sum differs." if any(apart) else ""


def _hazard(hazard: Hazard, plan: Plan) -> str:
    told = [hazard.called]
    if hazard.cover_not_known:
        told.append(COVER_NOT_KNOWN)
    if not math.isnan(hazard.depth_cm):
        told.append(f"cover {number(hazard.depth_cm)} cm ({inches(hazard.depth_cm):.1f} in)")
    clear_m = hazard.keep_off_m(plan.settings.machine.width_m)
    taken = " (distance assumed)" if math.isnan(hazard.clear_m) else ""
    told.append(f"{_allowed(hazard, plan)} within {number(clear_m)} m each side{taken}")
    if not plan.boundary.intersects(hazard.geometry):
        told.append("outside the field")
    return ", ".join(told)


def _ask(hazards: gpd.GeoDataFrame) -> str:
    """Return what to find out about hazards whose distance or cover is not known."""
    told = ["Distance assumed: agree it on site."] if hazards["clear_m"].isna().any() else []
    covered = hazards.loc[hazards["kind"] != "obstacle", "depth_cm"]
    told += ["Cover not known: find it out before work near it."] if covered.isna().any() else []
    return " ".join(told)


def _allowed(hazard: Hazard, plan: Plan) -> str:
    """Return how deep the plan lets the points go about a hazard, in words."""
    cap_cm = float(deepest_cm(hazard.kind, hazard.depth_cm))
    pin = pin_at_most(plan, cap_cm) if cap_cm < plan.settings.machine.settings_cm[-1] else ""
    deep = f"no deeper than {number(cap_cm)} cm{f'{pin},' if pin else ''}"
    return deep if cap_cm > 0 else "legs lifted out"


def _changes(zones: pd.DataFrame) -> list[str]:
    """Return what to change on the machine, with the depth that asks for it.

    Lines that differ in their figures alone are the same finding at several depths: the shallowest
    is told, of the deepest its own figures, and that the depths between are alike.
    """
    if "machine_changes" not in zones:
        return []
    asked: dict[str, dict[str, str]] = {}
    for row in zones.sort_values(["depth_cm", "zone"]).to_dict("records"):
        for line in _RECKONED.sub("", str(row["machine_changes"])).splitlines():
            held = asked.setdefault(_NUMBER.sub("#", line), {})
            held.setdefault(line, f"{number(float(row['depth_cm']))} cm")
    return [_extremes(held) for held in asked.values()]


def _first_measured(changes: list[str], plan: Plan) -> list[str]:
    """Return `changes`; those that rest on feet, points or legs nobody gave become one: measure."""
    if assumed_keys(plan).isdisjoint({"foot_width_cm", "point", "leg_spacing_cm"}):
        return changes
    kept = [told for told in changes if not _OF_LEGS.search(told)]
    return [*kept, MEASURE_FIRST] if len(kept) < len(changes) else changes


def _extremes(held: Mapping[str, str]) -> str:
    """Return the first finding, and the figures that are others in the last."""
    (first, depth), *rest = held.items()
    told = first if depth in first else f"At {depth}: {first}"
    if rest:
        last, depth = rest[-1]
        pairs = zip(_FIGURE.findall(first), _FIGURE.findall(last), strict=True)
        own = dict.fromkeys(figure for before, figure in pairs if figure not in (before, depth))
        told += f" At {depth}: {', '.join(own)}." if own else f" At {depth} too."
    return told + (" Likewise at the depths between." if len(rest) > 1 else "")

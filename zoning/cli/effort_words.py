"""What the work of a plan asks of driver and tractor, in the account of the terminal."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from zoning.model import Plan
from zoning.outputs.bars import draft_percent, too_weak
from zoning.workflow.driving import PINS


def changes_words(plan: Plan) -> str:
    """Return how often the pins move: what a plan of several depths asks of the driver."""
    t = plan.totals
    return (
        f"Depth changes: {t['depth_changes']:.0f} along "
        f"{_times(t['passes'], 'pass', 'passes')}, and {_times(t['lifts_within_passes'], 'lift')} "
        f"between worked stretches{_idle(t)}{_by_hand(plan)}"
    )


def _by_hand(plan: Plan) -> str:
    told = [notice.text for notice in plan.notices if notice.code == PINS]
    return f". {told[0].removesuffix('.')}" if told else ""


def _idle(totals: Mapping[str, float]) -> str:
    count = totals["passes_lifted_throughout"]
    if not count:
        return ""
    them = "it" if count == 1 else "them"
    return (
        f". On {_times(count, 'pass', 'passes')} the legs stay lifted all the way: leave {them} "
        f"out, no time or fuel is counted for {them}"
    )


def _times(count: float, one: str, many: str = "") -> str:
    return f"{count:.0f} {one if count == 1 else many or f'{one}s'}"


def effort_words(plan: Plan) -> str:
    """Return hours, fuel and energy, of all the work or of the depths that can be pulled."""
    t = plan.totals
    if plan.settings.tractor.pto_power_kw is None and t["pto_power_max_kw"] > 0:
        hours = "" if math.isnan(t["time_min"]) else f"{t['time_min'] / 60:.1f} h; "
        return (
            f"Work: {hours}needs about {t['pto_power_max_kw']:.0f} kW at the PTO where it is "
            f"deepest, at {plan.settings.machine.speed_km_h:g} km/h {_by_the_equations()}"
        )
    if math.isnan(t["fuel_l"]):
        return _part_of_effort(plan)
    if math.isnan(t["uniform_fuel_l"]):
        return f"Work: {t['time_min'] / 60:.1f} h, {t['fuel_l']:.0f} l of fuel{_travelled(t)}"
    lifted = ", lifted ground too" if t["lifted_ha"] > 0 else ""
    return (
        f"Work: {t['time_min'] / 60:.1f} h, {t['fuel_l']:.0f} l of fuel, "
        f"draft energy {t['draft_energy_mj']:.0f} MJ{_travelled(t)}\n"
        f"At {t['uniform_depth_cm']:g} cm everywhere{lifted}: "
        f"{t['uniform_time_min'] / 60:.1f} h, "
        f"{t['uniform_fuel_l']:.0f} l, {t['uniform_draft_energy_mj']:.0f} MJ "
        f"{_by_the_equations()}"
    )


def _timed(plan: Plan) -> pd.DataFrame:
    """Return the worked zones whose time is reckoned."""
    zones = pd.DataFrame(plan.zones)
    return zones[(zones["depth_cm"] > 0) & zones["time_min"].notna()]


def _part_of_effort(plan: Plan) -> str:
    """Return what the depths take that the tractor can pull; nothing where it can pull none."""
    timed, weak = _timed(plan), too_weak(plan)
    if timed.empty:
        return ""
    at, not_at = (
        f"{', '.join(f'{depth:g}' for depth in sorted(set(zones['depth_cm'])))} cm"
        for zones in (timed, weak)
    )
    return (
        f"Work: {timed['time_min'].sum() / 60:.1f} h, {timed['fuel_l'].sum():.0f} l of fuel for "
        f"the {timed['area_ha'].sum():.2f} ha at {at} alone; none is reckoned at {not_at}, which "
        f"the tractor cannot pull {_by_the_equations()}"
    )


def _by_the_equations() -> str:
    return f"(by the published equations, draft +-{draft_percent():g} %)"


def _travelled(totals: Mapping[str, float]) -> str:
    """Return what of time and fuel goes into travel over ground with the legs lifted out."""
    travelled_ha = totals["lifted_ha"] - totals["undriven_ha"]
    if round(travelled_ha, 2) <= 0:
        return ""
    return (
        f"; of it {totals['lifted_time_min'] / 60:.1f} h and {totals['lifted_fuel_l']:.0f} l to "
        f"travel {travelled_ha:.2f} ha with the legs lifted out"
    )

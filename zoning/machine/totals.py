"""The whole field: totals, and the plan against one depth everywhere in three separate figures."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pandas as pd

from zoning.machine.work import Outfit, work_of_zones


@dataclass(frozen=True, slots=True)
class WorkTotals:
    """Sums over the zones; NaN where a zone's own figure is not known.

    Parameters
    ----------
    area_ha, worked_ha, lifted_ha
        Whole area, worked area, area travelled with the legs lifted out.
    time_min, lifted_time_min
        Time, and the part of it spent travelling lifted-out ground.
    fuel_l, lifted_fuel_l
        Fuel, and the part of it spent on lifted-out ground: the no-load fuel of the newer equation,
        rolling resistance left out; the older equation gives 0 at no load.
    draft_energy_mj
        Work done at the drawbar.
    co2_kg, cost
        Carbon dioxide of the fuel; cost of what has a price.
    draft_max_kn, pto_power_max_kw
        Greatest draft and PTO power needed at the machine's own speed.
    """

    area_ha: float
    worked_ha: float
    lifted_ha: float
    time_min: float
    lifted_time_min: float
    fuel_l: float
    lifted_fuel_l: float
    draft_energy_mj: float
    co2_kg: float
    cost: float
    draft_max_kn: float
    pto_power_max_kw: float


@dataclass(frozen=True, slots=True)
class Compared:
    """One quantity under the plan and under one uniform depth.

    Parameters
    ----------
    plan, uniform
        The quantity, in the unit of its name in `UniformComparison`.
    saved_percent
        ``(uniform - plan) / uniform`` [%]; NaN where it is not known.
    """

    plan: float
    uniform: float
    saved_percent: float


@dataclass(frozen=True, slots=True)
class UniformComparison:
    """The plan against one depth on every zone: three figures, none of which stands for another.

    Parameters
    ----------
    uniform_depth_cm
        The one depth.
    draft_energy_mj
        Work at the drawbar. The draft equation is linear in depth; field data rise faster.
    fuel_l
        Fuel. At the same speed it falls by a smaller share than draft energy: the engine also turns
        without load.
    time_min
        Time. Equal unless the tractor must slow down or depth differs in what it can pull.
    """

    uniform_depth_cm: float
    draft_energy_mj: Compared
    fuel_l: Compared
    time_min: Compared


def work_totals(worked: pd.DataFrame) -> WorkTotals:
    """Return the totals of what `zoning.machine.work.work_of_zones` made."""
    lifted = worked[worked["depth_cm"] <= 0]
    return WorkTotals(
        area_ha=_total(worked, "area_ha"),
        worked_ha=_total(worked[worked["depth_cm"] > 0], "area_ha"),
        lifted_ha=_total(lifted, "area_ha"),
        time_min=_total(worked, "time_min"),
        lifted_time_min=_total(lifted, "time_min"),
        fuel_l=_total(worked, "fuel_l"),
        lifted_fuel_l=_total(lifted, "fuel_l"),
        draft_energy_mj=_total(worked, "draft_energy_mj"),
        co2_kg=_total(worked, "co2_kg"),
        cost=_total(worked, "cost"),
        draft_max_kn=float(worked["draft_kn"].max()),
        pto_power_max_kw=float(worked["pto_power_kw"].max()),
    )


def compare_uniform(
    zones: pd.DataFrame, uniform_depth_cm: float, outfit: Outfit
) -> UniformComparison:
    """Return the plan against working every zone, lifted ones too, at one depth.

    Parameters
    ----------
    zones
        As `zoning.machine.work.work_of_zones` takes them.
    uniform_depth_cm
        The one depth [cm].
    outfit
        The same machine, tractor, soil and prices for both.
    """
    plan = work_totals(work_of_zones(zones, outfit))
    uniform = work_totals(work_of_zones(zones.assign(depth_cm=uniform_depth_cm), outfit))
    return UniformComparison(
        uniform_depth_cm,
        _compared(plan.draft_energy_mj, uniform.draft_energy_mj),
        _compared(plan.fuel_l, uniform.fuel_l),
        _compared(plan.time_min, uniform.time_min),
    )


def _total(rows: pd.DataFrame, column: str) -> float:
    return math.fsum(rows[column]) if not rows[column].isna().any() else math.nan


def _compared(plan: float, uniform: float) -> Compared:
    saved = 100.0 * (uniform - plan) / uniform if uniform > 0 else math.nan
    return Compared(plan, uniform, saved)

"""Totals of the whole field."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pandas as pd

from zoning.machine.work import share_of


@dataclass(frozen=True, slots=True)
class WorkTotals:
    """Sums over the zones; NaN where a zone's own figure is not known.

    Parameters
    ----------
    area_ha, worked_ha, lifted_ha
        Whole area, worked area, area with the legs lifted out.
    undriven_ha
        What of the lifted area lies on passes that no work asks for: it takes no time and no fuel.
    time_min, lifted_time_min
        Time, and the part of it spent travelling the rest of the lifted-out ground.
    fuel_l, lifted_fuel_l
        Fuel, and the part of it spent on lifted-out ground: that at no load, rolling resistance
        left out.
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
    undriven_ha: float
    time_min: float
    lifted_time_min: float
    fuel_l: float
    lifted_fuel_l: float
    draft_energy_mj: float
    co2_kg: float
    cost: float
    draft_max_kn: float
    pto_power_max_kw: float


def work_totals(worked: pd.DataFrame) -> WorkTotals:
    """Return the totals of what `zoning.machine.work.work_of_zones` made."""
    lifted = worked[worked["depth_cm"] <= 0]
    return WorkTotals(
        area_ha=_total(worked, "area_ha"),
        worked_ha=_total(worked[worked["depth_cm"] > 0], "area_ha"),
        lifted_ha=_total(lifted, "area_ha"),
        undriven_ha=math.fsum(worked["area_ha"] * (1.0 - share_of(worked, "driven_share", 1.0))),
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


def _total(rows: pd.DataFrame, column: str) -> float:
    return math.fsum(rows[column]) if not rows[column].isna().any() else math.nan

"""Draft, power, fuel, time, carbon dioxide and cost of every zone."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, fields

import pandas as pd

from zoning.contracts import constant
from zoning.machine.draft import draft_findings
from zoning.machine.findings import Finding
from zoning.machine.frame import frame_findings, pin_hole
from zoning.machine.fuel import co2_kg, fuel_l_h, load_share
from zoning.machine.geometry import ridge_told_cm, spacing_findings, wheel_findings
from zoning.machine.power import Pull, fastest_speed_km_h, pull, pulling_findings, work_rate_ha_h
from zoning.model.settings import (
    CostsSection,
    MachineSection,
    Settings,
    SoilSection,
    TractorSection,
)
from zoning.units import M2_PER_HA

RULES = "machine_rules"


@dataclass(frozen=True, slots=True)
class Outfit:
    """The machine, what pulls it, the soil, the prices.

    Parameters
    ----------
    machine, tractor, soil, costs
        As ``field.toml`` gives them.
    measured_ridge_cm
        Ridge between legs measured in pits behind this machine [cm]; ``None`` where not measured.
    depths_cm
        Working depths of the plan, rising [cm]: legs and spacing that a remedy names suit them all.
    driven
        Depth that was set [cm] and speed [km/h] of each run in which this tractor kept its depth:
        at that depth and shallower ones it holds that speed, whatever the equations say.
    """

    machine: MachineSection
    tractor: TractorSection
    soil: SoilSection
    costs: CostsSection
    measured_ridge_cm: float | None = None
    depths_cm: tuple[float, ...] = ()
    driven: tuple[tuple[float, float], ...] = ()

    @classmethod
    def of(cls, settings: Settings, measured_ridge_cm: float | None = None) -> Outfit:
        """Return the outfit of a field's settings."""
        return cls(
            settings.machine, settings.tractor, settings.soil, settings.costs, measured_ridge_cm
        )

    def driven_km_h(self, depth_cm: float) -> float:
        """Return the fastest run that kept its depth at this depth or deeper; 0 without [km/h]."""
        return max((speed for cm, speed in self.driven if cm >= depth_cm), default=0.0)


def setup_findings(outfit: Outfit) -> tuple[Finding, ...]:
    """Return what to know of the machine at any depth: level, wheels, what the draft leaves out."""
    return tuple(
        sorted(
            [
                *frame_findings(outfit.machine),
                *wheel_findings(outfit.machine),
                *draft_findings(outfit.machine),
            ]
        )
    )


@dataclass(frozen=True, slots=True)
class ZoneWork:
    """What one zone takes; schema ``shared/schemas/zone_work.schema.json``.

    Draft and power are those at the machine's own speed. Where the tractor cannot pull that, time,
    fuel and draft energy are reckoned at `work_speed_km_h`, the fastest speed that it can; NaN
    where that is slower than loosening allows. A lifted zone is travelled at the machine's speed
    without draft.

    Parameters
    ----------
    draft_kn, draft_low_kn, draft_high_kn
        Draft and its range.
    power_kw
        Drawbar power.
    pto_power_kw
        PTO power needed.
    work_speed_km_h
        Speed that time and fuel are reckoned at.
    load
        X, PTO power over rated PTO power at the working speed; NaN without a tractor power.
    work_rate_ha_h
        Effective field capacity.
    time_min, fuel_l, draft_energy_mj, co2_kg, cost
        For the whole zone; fuel, carbon dioxide and cost are NaN where they cannot be known.
    pin_hole
        Pin hole, 1 for the shallowest; NaN where there is none or the legs are lifted out.
    ridge_cm, ridge_measured
        Ridge to expect midway between legs, NaN where the legs are lifted out, and whether it was
        measured behind this machine: by geometry otherwise.
    machine_changes, machine_notes
        What to change before the work, and what to know and look at, one finding a line.
    """

    draft_kn: float
    draft_low_kn: float
    draft_high_kn: float
    power_kw: float
    pto_power_kw: float
    work_speed_km_h: float
    load: float
    work_rate_ha_h: float
    time_min: float
    fuel_l: float
    draft_energy_mj: float
    co2_kg: float
    cost: float
    pin_hole: float
    ridge_cm: float
    ridge_measured: bool
    machine_changes: str
    machine_notes: str


def zone_findings(depth_cm: float, outfit: Outfit) -> tuple[Finding, ...]:
    """Return what does not fit at a working depth, the changes first."""
    machine, every_cm = outfit.machine, (depth_cm, *outfit.depths_cm)
    driven = outfit.driven_km_h(depth_cm)
    pulling = pulling_findings(
        machine, outfit.tractor, outfit.soil, depth_cm, max(every_cm), driven_km_h=driven
    )
    spacing = spacing_findings(machine, depth_cm, outfit.measured_ridge_cm, min(every_cm))
    return tuple(sorted([*pulling, *spacing]))


def zone_work(
    depth_cm: float, area_ha: float, outfit: Outfit, headland_share: float = 0.0
) -> ZoneWork:
    """Return what one zone takes.

    Parameters
    ----------
    depth_cm
        Working depth [cm]; 0 where the legs are lifted out.
    area_ha
        Area [ha].
    outfit
        Machine, tractor, soil, prices.
    headland_share
        Share of the area worked at the lower field efficiency of headlands.

    Raises
    ------
    ValueError
        If depth or area are negative or not finite, or the share is outside 0 to 1.
    """
    if not (math.isfinite(depth_cm) and math.isfinite(area_ha) and min(depth_cm, area_ha) >= 0):
        raise ValueError("depth and area must be finite and not negative")
    machine = outfit.machine
    at_set = pull(machine, outfit.tractor, outfit.soil, depth_cm, machine.speed_km_h)
    worked = _at_work(depth_cm, outfit)
    rate = work_rate_ha_h(worked.speed_km_h, machine.width_m, field_efficiency(headland_share))
    hours = area_ha / rate
    load = _load(worked, outfit)
    fuel = hours * _fuel_l_h(load, outfit)
    found = zone_findings(depth_cm, outfit)
    return ZoneWork(
        at_set.draft_kn,
        at_set.draft_low_kn,
        at_set.draft_high_kn,
        at_set.power_kw,
        at_set.pto_power_kw,
        worked.speed_km_h,
        load,
        rate,
        hours * 60.0,
        fuel,
        worked.draft_kn * area_ha * M2_PER_HA / machine.width_m / 1000.0,
        co2_kg(fuel),
        cost_of(hours, fuel, outfit.costs),
        _hole(depth_cm, machine),
        _ridge_cm(depth_cm, outfit),
        outfit.measured_ridge_cm is not None,
        "\n".join(str(each) for each in found if each.level == "change"),
        "\n".join(str(each) for each in found if each.level == "note"),
    )


def work_of_zones(zones: pd.DataFrame, outfit: Outfit) -> pd.DataFrame:
    """Return `zones` with what each takes added, row for row.

    Parameters
    ----------
    zones
        Columns ``zone``, ``depth_cm`` (0 where lifted out), ``area_ha`` and, optionally,
        ``headland_share`` and ``driven_share``, the share of the area on passes that are driven;
        other columns and a geometry pass through.
    outfit
        Machine, tractor, soil, prices; `Outfit.of` makes it from the settings.

    Returns
    -------
    DataFrame
        A copy of `zones` with the columns of `ZoneWork`.

    Raises
    ------
    ValueError
        If a depth or area is negative or not finite.
    """
    share, driven = share_of(zones, "headland_share", 0.0), share_of(zones, "driven_share", 1.0)
    triples = zip(zones["depth_cm"], zones["area_ha"] * driven, share, strict=True)
    rows = [asdict(zone_work(float(d), float(a), outfit, float(s))) for d, a, s in triples]
    names = [each.name for each in fields(ZoneWork)]
    added = pd.DataFrame(rows, index=zones.index, columns=names)
    return zones.assign(**{str(name): added[name] for name in added.columns})


def share_of(zones: pd.DataFrame, column: str, usual: float) -> pd.Series:
    """Return a column of shares, the usual one in each row where `zones` do not have it."""
    return zones[column] if column in zones else pd.Series(usual, index=zones.index)


def field_efficiency(headland_share: float) -> float:
    """Return the field efficiency of ground that is part body, part headland; times add up.

    Raises
    ------
    ValueError
        If the share is outside 0 to 1.
    """
    if not 0 <= headland_share <= 1:
        raise ValueError("the share of headland lies between 0 and 1")
    body, headland = (
        constant(RULES, "field_efficiency"),
        constant(RULES, "field_efficiency_headland"),
    )
    return 1.0 / ((1.0 - headland_share) / body + headland_share / headland)


def cost_of(hours: float, fuel_l: float, costs: CostsSection) -> float:
    """Return the cost of what has a price, in the user's currency; NaN where no price is given."""
    priced = [
        (costs.fuel_per_l, fuel_l),
        (costs.machine_per_h, hours),
        (costs.labour_per_h, hours),
    ]
    given = [price * amount for price, amount in priced if price is not None]
    return sum(given) if given else math.nan


def _ridge_cm(depth_cm: float, outfit: Outfit) -> float:
    told = outfit.measured_ridge_cm
    return ridge_told_cm(outfit.machine, depth_cm, told) if depth_cm > 0 else math.nan


def _hole(depth_cm: float, machine: MachineSection) -> float:
    hole = pin_hole(machine, depth_cm)
    return math.nan if hole is None else float(hole)


def _at_work(depth_cm: float, outfit: Outfit) -> Pull:
    machine = outfit.machine
    if depth_cm <= 0:
        return pull(machine, outfit.tractor, outfit.soil, 0.0, machine.speed_km_h)
    pulled = fastest_speed_km_h(machine, outfit.tractor, outfit.soil, depth_cm)
    speed = max(pulled, min(machine.speed_km_h, outfit.driven_km_h(depth_cm)))
    if speed < min(machine.speed_km_h, constant(RULES, "slowest_km_h")):
        speed = math.nan
    return pull(machine, outfit.tractor, outfit.soil, depth_cm, speed)


def _load(worked: Pull, outfit: Outfit) -> float:
    rated_kw = outfit.tractor.pto_power_kw
    if rated_kw is None or math.isnan(worked.speed_km_h):
        return math.nan
    return min(load_share(worked.pto_power_kw, rated_kw), constant(RULES, "full_load"))


def _fuel_l_h(load: float, outfit: Outfit) -> float:
    rated_kw = outfit.tractor.pto_power_kw
    if rated_kw is None or math.isnan(load):
        return math.nan
    return fuel_l_h(load, rated_kw)

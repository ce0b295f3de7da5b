"""The machine: does it suit the depth, how is it set, what does the work take.

``Outfit.of(settings)`` holds machine, tractor, soil and prices. ``work_of_zones`` adds to each zone
what it takes and what does not fit; ``work_totals`` gives figures of the whole field,
``setup_findings`` what holds at any depth.
"""

from zoning.contracts import DraftRow, draft_row
from zoning.machine.draft import Draft, draft_n, machine_draft
from zoning.machine.findings import Finding
from zoning.machine.fuel import co2_kg, fuel_l_h, load_share
from zoning.machine.geometry import (
    critical_depth_cm,
    legs,
    legs_behind_wheels,
    ridge_cm,
    ridge_told_cm,
    spacing_findings,
    wheel_findings,
    widest_spacing_cm,
)
from zoning.machine.power import (
    drawbar_power_kw,
    fastest_speed_km_h,
    pto_power_needed_kw,
    pull,
    pulling_findings,
    tractive_efficiency,
    work_rate_ha_h,
)
from zoning.machine.totals import WorkTotals, work_totals
from zoning.machine.work import (
    Outfit,
    ZoneWork,
    setup_findings,
    work_of_zones,
    zone_findings,
    zone_work,
)

__all__ = [
    "Draft",
    "DraftRow",
    "Finding",
    "Outfit",
    "WorkTotals",
    "ZoneWork",
    "co2_kg",
    "critical_depth_cm",
    "draft_n",
    "draft_row",
    "drawbar_power_kw",
    "fastest_speed_km_h",
    "fuel_l_h",
    "legs",
    "legs_behind_wheels",
    "load_share",
    "machine_draft",
    "pto_power_needed_kw",
    "pull",
    "pulling_findings",
    "ridge_cm",
    "ridge_told_cm",
    "setup_findings",
    "spacing_findings",
    "tractive_efficiency",
    "wheel_findings",
    "widest_spacing_cm",
    "work_of_zones",
    "work_rate_ha_h",
    "work_totals",
    "zone_findings",
    "zone_work",
]

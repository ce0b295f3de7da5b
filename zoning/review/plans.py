"""The plans that were issued, as the record holds them: which is the last, and what it says."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import shapely

from zoning.contracts import NOT_CLEARED
from zoning.outputs.drawing.plan import depth_tones
from zoning.records import PlanIssued, Record, Zone
from zoning.review.ground import Ground, ZoneFacts
from zoning.review.views import last_check


@dataclass(frozen=True, slots=True)
class Issue:
    """One issue of a plan: `last` of its season, `here` in the folder, `driven`.

    The newest check of the season went by a plan that is driven.
    """

    plan_id: str
    recorded_at: str
    by_whom: str
    zones: int
    depths: str
    last: bool
    here: bool
    driven: bool


def issues(record: Record, season: int, here: str) -> list[Issue]:
    """Return the issues of a season, the last first; `here` is the plan in the folder."""
    found = record.latest(PlanIssued, season=season)
    check = last_check(record, season)
    return [
        Issue(
            entry.body.plan_id,
            entry.recorded_at,
            entry.by_whom,
            entry.body.zones,
            depths_planned(record, entry.body.plan_id),
            entry is found[-1],
            entry.body.plan_id == here,
            check is not None and entry.body.plan_id == check.body.plan_id,
        )
        for entry in reversed(found)
    ]


def depths_planned(record: Record, plan_id: str) -> str:
    """Return each working depth of a plan with its area, in words."""
    area: Counter[float] = Counter()
    for zone in record.latest(Zone, plan_id=plan_id):
        area[zone.body.depth_cm or 0.0] += zone.body.area_ha or 0.0  # type: ignore[assignment]
    return ", ".join(
        f"{f'{depth:g} cm' if depth else 'lifted out'}: {area[depth]:.2f} ha"
        for depth in sorted(area)
    )


@dataclass(frozen=True, slots=True)
class Followed:
    """The plan that a season is shown by: that of its newest check, else the last one issued.

    `driven` says that the newest check went by it; `missing` is the plan of the newest check where
    the record does not hold it, `last` the plan issued last.
    """

    plan_id: str
    driven: bool
    missing: str
    last: str


def plan_followed(record: Record, season: int) -> Followed:
    """Return the plan that a season is shown by; blank names where there is none."""
    held = [entry.body.plan_id for entry in record.latest(PlanIssued, season=season)]
    last = held[-1] if held else ""
    check = last_check(record, season)
    if check is None:
        return Followed(last, driven=False, missing="", last=last)
    if check.body.plan_id not in held:
        return Followed(last, driven=False, missing=check.body.plan_id, last=last)
    return Followed(check.body.plan_id, driven=True, missing="", last=last)


def recorded_ground(record: Record, season: int, now: Ground) -> Ground:
    """Return the plan that a season is shown by as the record holds it, in the tones of its map.

    Outline and hazards are those of `now`. What is NOT CLEARED and the cautions, which the record
    does not keep, are told where the same plan stands in the folder now.
    """
    plan_id = plan_followed(record, season).plan_id
    zones = [entry.body for entry in record.latest(Zone, plan_id=plan_id)] if plan_id else []
    tones = depth_tones([zone.depth_cm or 0.0 for zone in zones])
    here = plan_id == now.plan_id
    held = {zone.zone for zone in now.zones if here and zone.cleared == NOT_CLEARED}
    facts = [
        _facts(zone, tones.get(zone.depth_cm or 0.0, ""), NOT_CLEARED if zone.zone in held else "")
        for zone in zones
    ]
    return replace(
        now, plan_id=plan_id, zones=tuple(facts), part_shapes=(),
        cautions=now.cautions if here else (),
    )  # fmt: skip


def _facts(zone: Zone, tone: str, cleared: str) -> ZoneFacts:
    return ZoneFacts(
        zone=zone.zone,
        depth_cm=zone.depth_cm or 0.0,
        area_ha=zone.area_ha or 0.0,
        parts=zone.parts,
        pan_base_cm=zone.pan_base_cm,
        cleared=cleared,
        cautions="",
        tone=tone,
        shape=shapely.from_wkt(zone.geometry_wkt),
    )

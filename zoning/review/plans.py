"""The plans that were issued, as the record holds them: which is the last, and what it says."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import shapely

from zoning.outputs.check.words import OLDER
from zoning.outputs.drawing.plan import depth_tones
from zoning.records import CheckRow, PlanIssued, Record, Zone
from zoning.review.ground import Ground, ZoneFacts
from zoning.review.views import last_check, last_verdicts


@dataclass(frozen=True, slots=True)
class Issue:
    """One issue of a plan: `last` of its season, `here` in the folder, `told` of being driven."""

    plan_id: str
    recorded_at: str
    by_whom: str
    zones: int
    depths: str
    last: bool
    here: bool
    told: str


def issues(record: Record, season: int, here: str) -> list[Issue]:
    """Return the issues of a season, the last first; `here` is the plan in the folder."""
    found = record.latest(PlanIssued, season=season)
    followed = plan_followed(record, season)
    return [
        Issue(
            entry.body.plan_id,
            entry.recorded_at,
            entry.by_whom,
            entry.body.zones,
            depths_planned(record, entry.body.plan_id),
            entry is found[-1],
            entry.body.plan_id == here,
            followed.told(entry.body.plan_id),
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
    """The plan that a season is shown by, and what the record tells of which was driven.

    ``plan_id`` is the plan that was driven where that is told, else that of the newest check, else
    the last one issued. ``checked`` is the plan of the newest check where the record holds it,
    `missing` where it does not, ``last`` the plan issued last. ``driven`` is blank where it is not
    told, since every pit is older than the plan that it was judged by, or bears no date while plans
    of other depths were issued; ``newer`` says that each pit is older than ``checked``, while
    ``others`` are the plans of other depths than that.
    """

    plan_id: str
    last: str
    checked: str = ""
    missing: str = ""
    driven: str = ""
    newer: bool = False
    others: tuple[str, ...] = ()

    def told(self, plan_id: str) -> str:
        """Return in words what is told of a plan and the work; blank where nothing is."""
        if plan_id == self.driven:
            by = "the newest check went by it"
            return f"driven: {by if plan_id == self.checked else 'its pits were dug after it'}"
        if plan_id == self.checked:
            return "the newest check went by it" + (", newer than its pits" if self.newer else "")
        return "not told whether it was driven" if self.unsure and plan_id in self.others else ""

    @property
    def unsure(self) -> bool:
        """Whether it is not told which of several plans was driven."""
        return bool(self.checked and self.others and not self.driven)


def plan_followed(record: Record, season: int) -> Followed:
    """Return the plan that a season is shown by; blank names where there is none.

    A plan is driven where the newest check went by it and a pit that it judged is no older than
    the plan, so never where it judged none; where all are older, the last plan of other depths
    before it that was issued by their day. Plans of the same depths are the same to whoever drove
    them, and are as old as the first of them.
    """
    held = [entry.body.plan_id for entry in record.latest(PlanIssued, season=season)]
    last = held[-1] if held else ""
    check = last_check(record, season)
    if check is None:
        return Followed(last, last)
    checked = check.body.plan_id
    if checked not in held:
        return Followed(last, last, missing=checked)
    depths = {plan_id: depths_planned(record, plan_id) for plan_id in dict.fromkeys(held)}
    since = _issued_at(record, season, depths)
    others = tuple(name for name in since if depths[name] != depths[checked])
    dug = _days_dug(record, season)
    days = [day for day in dug.values() if day]
    undated = bool(dug) and not (days or others)
    older = _told_older(record, check.record_id)
    if undated or any(day >= since[checked][:10] for pit, day in dug.items() if pit not in older):
        return Followed(checked, last, checked, driven=checked, others=others)
    before = [name for name in others if since[name] < since[checked]]
    fits = {_fitting(since, before, day) for day in days}
    driven = fits.pop() if len(fits) == 1 else ""
    newer = bool(days and others)
    return Followed(driven or checked, last, checked, "", driven, newer, others)


def _issued_at(record: Record, season: int, depths: Mapping[str, str]) -> dict[str, str]:
    """Return when each plan of a season was first issued, or one of its depths, oldest first."""
    by_depths: dict[str, str] = {}
    found: dict[str, str] = {}
    for entry in record.latest(PlanIssued, season=season):
        first = by_depths.setdefault(depths[entry.body.plan_id], entry.recorded_at)
        found.setdefault(entry.body.plan_id, first)
    return found


def _days_dug(record: Record, season: int) -> dict[str, str]:
    """Return the days of the pits that the newest check judged, blank where they bear none."""
    rows = last_verdicts(record, season, "pit").items()
    judged = {pit: json.loads(row.facts) for pit, row in rows if row.verdict != "not_judged"}
    return {pit: str(facts.get("date") or "") for pit, facts in judged.items()}


def _told_older(record: Record, check_id: str) -> set[str]:
    """Return the pits that a check told to be older than its plan."""
    rows = record.latest(CheckRow, check_id=check_id, about="advice", name=OLDER)
    return {pit for row in rows for pit in json.loads(row.body.facts).get("pits", ())}


def _fitting(since: Mapping[str, str], others: Sequence[str], day: str) -> str:
    """Return the last of `others` that was issued by a day; blank without one."""
    return next((name for name in reversed(others) if since[name][:10] <= day), "")


def recorded_ground(record: Record, season: int, now: Ground) -> Ground:
    """Return the plan that a season is shown by as the record holds it, in the tones of its map.

    Outline and hazards are those of `now`. The cautions, which the record does not keep, are told
    where the same plan stands in the folder now. What is NOT CLEARED is told there too, else as the
    newest check has it where it went by that plan.
    """
    plan_id = plan_followed(record, season).plan_id
    zones = [entry.body for entry in record.latest(Zone, plan_id=plan_id)] if plan_id else []
    tones = depth_tones([zone.depth_cm or 0.0 for zone in zones])
    here = plan_id == now.plan_id
    told = {zone.zone: zone.cleared for zone in now.zones} if here else {}
    told = told or _cleared_at_check(record, season, plan_id)
    facts = [
        _facts(zone, tones.get(zone.depth_cm or 0.0, ""), told.get(zone.zone, "")) for zone in zones
    ]
    return replace(
        now, plan_id=plan_id, zones=tuple(facts), part_shapes=(),
        cautions=now.cautions if here else (),
    )  # fmt: skip


def _cleared_at_check(record: Record, season: int, plan_id: str) -> dict[int, str]:
    """Return the word on services of each zone by the newest check, if it went by this plan."""
    check = last_check(record, season)
    if check is None or check.body.plan_id != plan_id:
        return {}
    rows = last_verdicts(record, season, "zone")
    return {int(name): json.loads(row.facts).get("cleared", "") for name, row in rows.items()}


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

"""What plans, checks and field folders add to the season record.

A plan or a check never fails because the record cannot be written: the functions that the commands
call return what must be told instead.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import pandas as pd
import shapely

from zoning import records
from zoning.contracts import program_version
from zoning.errors import ZoningError
from zoning.model import FieldInputs, Notice, Plan
from zoning.model.check import Check
from zoning.outputs.places import decimals, lonlat_areas
from zoning.outputs.plain import plain
from zoning.records import Draft, Entry, Pit, Record
from zoning.workflow.issued import worked_notices
from zoning.workflow.left_over import files_of, of_earlier_seasons
from zoning.workflow.recorded import (
    as_read,
    caution_rows,
    file_drafts,
    known_season,
    left_out_rows,
    pit_bodies,
    station_bodies,
    trial_bodies,
)
from zoning.workflow.season_dates import Seasoned, future_notices, not_kept_notices, season_of
from zoning.workflow.stops import with_every_stop

_TRIES = 5


@dataclass(frozen=True, slots=True)
class Kept:
    """What came of keeping something: how many entries are new, and what must be told."""

    added: int
    notices: tuple[Notice, ...]


def record_inputs(record: Record, folder: Path, inputs: FieldInputs) -> Kept:
    """Keep the pits, photos, trials and cone stations that the files of a field hold.

    A row that the record holds already is passed over; a row that differs from what the same file
    said before becomes a new version, and the old one stays.

    Raises
    ------
    InputRefused
        If nothing says which season it is.
    """
    return _record_inputs(record, folder, inputs, origin="file")


def _record_inputs(
    record: Record,
    folder: Path,
    inputs: FieldInputs,
    *,
    origin: str,
    probes: pd.DataFrame | None = None,
) -> Kept:
    """Keep what the files hold; cone stations of after the work as judged in `probes`."""
    season = known_season(inputs)
    bodies = (
        *pit_bodies(inputs.pits, season),
        *trial_bodies(inputs.trials, season),
        *station_bodies(inputs.cone, None, season, "before"),
        *station_bodies(inputs.cone_after, probes, season, "after"),
    )
    files = files_of(inputs.pits, {"before": inputs.cone, "after": inputs.cone_after})
    kept = _keep(record, lambda: file_drafts(record, bodies, origin=origin, files=files))
    photos = _keep_photos(record, folder, season)
    return Kept(kept.added + photos, kept.notices)


def record_plan(
    folder: Path, plan: Plan, *, trials: pd.DataFrame | None = None, by_whom: str = ""
) -> tuple[Notice, ...]:
    """Keep a plan that was written: who issued it and when, its zones, stations, pits and trials.

    The same plan written again is the same issue, unless by another name. Returns what must be
    told; a record that cannot be written, or a season that nothing tells, is a caution and nothing
    else. A plan whose readings and pits are all dated outside its season is not kept, unless they
    are known from an earlier season. Dates that are not here yet are told too.
    """
    runs = trial_bodies(trials, season_of(plan)) if trials is not None else []
    astray = not_kept_notices(plan)
    if astray and not (folder / records.NAME).exists():
        return (*astray, *future_notices(plan))
    told = _attempt(folder, plan, lambda record: _record_plan(record, folder, plan, runs, by_whom))
    return (*told, *future_notices(plan))


def is_given_out(folder: Path, plan_id: str, by_whom: str = "") -> bool:
    """Return whether the plan is the last in the season record of `folder`, by that name if given.

    It is not where there is no record, or none that can be read.
    """
    try:
        record = records.held_record(folder)
        return record is not None and _is_last(record.latest(records.PlanIssued), plan_id, by_whom)
    except (ZoningError, OSError, sqlite3.Error, ValueError):
        return False


def why_not_kept(folder: Path, inputs: FieldInputs) -> tuple[Notice, ...]:
    """Return the caution why nothing of `inputs` can be kept in the record of `folder`, if so."""
    return _attempt(folder, inputs, lambda _: ())


def record_check(folder: Path, check: Check) -> tuple[Notice, ...]:
    """Keep a check of the work with its verdict on each zone and pit, and what it was made from.

    The pits, cone stations and trial runs that it judged are kept before it. The same check again
    adds nothing. See `record_plan`.
    """
    told = _attempt(folder, check.inputs, lambda record: _record_check(record, folder, check))
    return (*told, *future_notices(check.inputs))


def _attempt(
    folder: Path, held: Seasoned, keep: Callable[[Record], tuple[Notice, ...]]
) -> tuple[Notice, ...]:
    try:
        known_season(held)
        return keep(records.open_record(folder))
    except (ZoningError, OSError, sqlite3.Error, ValueError) as fault:
        why = " ".join(str(fault).split())
        text = f"The season record was not written; everything else is complete. {why}"
        return (Notice("caution", "record-not-written", text),)


def _keep(record: Record, drafts: Callable[[], tuple[list[Draft], list[Notice]]]) -> Kept:  # type: ignore[type-arg]
    """Save what `drafts` gives; where another program saved meanwhile, look again."""
    for left in reversed(range(_TRIES)):
        wanted, notices = drafts()
        try:
            record.save_all(wanted)
        except (records.Conflict, records.NameTaken):
            if not left:
                raise
        else:
            return Kept(len(wanted), tuple(notices))
    raise AssertionError("unreachable")


def _keep_photos(record: Record, folder: Path, season: int) -> int:
    """Keep path and hash of each photo that a pit names and that lies in the field folder."""
    held = {(entry.body.pit_id, entry.body.sha256) for entry in record.latest(records.Photo)}
    drafts = []
    for entry in record.latest(Pit, season=season):
        found = records.known_photo(folder, entry.body.photo) if entry.body.photo else None
        if found is None or (entry.record_id, found.sha256) in held:
            continue
        drafts.append(_photo_draft(entry.record_id, season, found))
    record.save_all(drafts)
    return len(drafts)


def _photo_draft(pit_id: str, season: int, found: records.KeptPhoto) -> Draft[records.Photo]:
    body = records.Photo(
        season=season,
        pit_id=pit_id,
        path=found.path,
        sha256=found.sha256,
        media_type=found.media_type,  # type: ignore[arg-type]
        width=found.width,
        height=found.height,
        bytes=found.bytes,
        location_kept="yes" if found.location_kept else "no",
    )
    row = records.new_id()
    return Draft(body=body, row_id=row, record_id=row, based_on=0, origin="file")


def _record_plan(
    record: Record, folder: Path, plan: Plan, runs: list[records.Trial], by_whom: str
) -> tuple[Notice, ...]:
    season = season_of(plan)
    read = (
        *pit_bodies(plan.pits, season),
        *station_bodies(plan.cone, plan.stations, season, "before"),
    )
    files = files_of(plan.pits, {"before": plan.cone})
    astray = not_kept_notices(plan)
    known = of_earlier_seasons(record, read) if astray else []
    if astray and not any(one.season < season for one in known):
        return astray
    told = (*read, *runs)
    kept = _keep(
        record, lambda: file_drafts(record, told, origin="plan", by_whom=by_whom, files=files)
    )
    _keep_photos(record, folder, season)
    worked = worked_notices(record, plan)
    issued = record.latest(records.PlanIssued)
    if not _is_last(issued, plan.plan_id, by_whom):
        zones_known = any(entry.body.plan_id == plan.plan_id for entry in issued)
        zones = [] if zones_known else _zones(plan, season)
        drafts = [_once(body, "plan", by_whom) for body in (_issue(plan, season), *zones)]
        record.save_all(drafts)
    return (*(notice for notice in kept.notices if notice not in plan.notices), *worked)


def _is_last(issued: Sequence[Entry[records.PlanIssued]], plan_id: str, by_whom: str) -> bool:
    last = bool(issued) and issued[-1].body.plan_id == plan_id
    return last and by_whom in ("", issued[-1].by_whom)


def _issue(plan: Plan, season: int) -> records.PlanIssued:
    inputs = [[file.role, file.name, file.sha256] for file in plan.files]
    return records.PlanIssued(
        season=season,
        plan_id=plan.plan_id,
        field=plan.settings.field.name,
        area_ha=float(plan.zones["area_ha"].sum()),
        zones=len(plan.zones),
        mean_depth_cm=plan.totals["mean_depth_cm"],
        program=f"zoning {program_version()}",
        inputs=json.dumps(inputs, ensure_ascii=False),
    )


def _zones(plan: Plan, season: int) -> list[records.Zone]:
    ordered: gpd.GeoDataFrame = plan.zones.sort_values("zone", kind="stable")
    areas = lonlat_areas(list(ordered.geometry), plan.working_crs)
    outlines = shapely.to_wkt(areas, rounding_precision=decimals(), trim=False)
    rows = ordered.drop(columns=ordered.geometry.name).to_dict("records")
    return [
        records.Zone(
            season=season,
            plan_id=plan.plan_id,
            zone=int(row["zone"]),
            depth_cm=float(row["depth_cm"]),
            area_ha=float(row["area_ha"]),
            parts=str(plain(row["parts"]))
            if isinstance(row["parts"], str)
            else ", ".join(map(str, row["parts"])),
            pan_base_cm=plain(row["pan_base_cm"]),
            geometry_wkt=str(outline),
        )
        for row, outline in zip(rows, outlines, strict=True)
    ]


def _record_check(record: Record, folder: Path, check: Check) -> tuple[Notice, ...]:
    season = season_of(check.inputs)
    probes = check.probes.assign(part_used=check.probes["part"])
    kept = _record_inputs(record, folder, check.inputs, origin="check", probes=probes)
    first = _once(_verdict(check, season), "check")
    after = check.inputs.pits[check.inputs.pits["phase"] == "after"]
    read = {body.pit: as_read(body) for body in pit_bodies(after, season)}
    judged = check.pits.assign(as_read=pd.Series(check.pits["pit"].map(read), dtype=object))
    rows = [
        *_check_rows(check.zones, "zone", "zone", first.record_id, season),
        *_check_rows(judged, "pit", "pit", first.record_id, season),
        *_check_rows(check.groups, "group", "name", first.record_id, season),
        *caution_rows(with_every_stop(check), first.record_id, season),
        *left_out_rows(check.inputs.left_out, first.record_id, season),
    ]
    if not _last_said(record, first.body, rows):
        record.save_all([first, *(_once(row, "check") for row in rows)])
    return tuple(notice for notice in kept.notices if notice not in check.notices)


def _verdict(check: Check, season: int) -> records.Check:
    pits = check.pits["verdict"].value_counts()
    told = ", ".join(f"{count} {name}" for name, count in sorted(pits.items()))
    return records.Check(
        season=season,
        plan_id=check.plan_id,
        after_pits=len(check.pits),
        ridge_allowance_cm=plain(check.ridge_allowance_cm),
        summary=told.replace("_", " "),
    )


def _last_said(record: Record, done: records.Check, rows: Sequence[records.CheckRow]) -> bool:
    """Whether the newest check of the season says the same."""
    checks = record.latest(records.Check, season=done.season)
    if not checks or checks[-1].body != done:
        return False
    last = checks[-1].record_id
    held = [entry.body for entry in record.latest(records.CheckRow, check_id=last)]
    return held == [replace(row, check_id=last) for row in rows]


def _check_rows(
    frame: pd.DataFrame, about: str, name: str, check_id: str, season: int
) -> list[records.CheckRow]:
    table = pd.DataFrame(frame).drop(columns="geometry", errors="ignore")
    rows = [plain({str(k): v for k, v in row.items()}) for row in table.to_dict("records")]
    return [
        records.CheckRow(
            season=season,
            check_id=check_id,
            about=about,  # type: ignore[arg-type]
            name=str(row[name]),
            verdict=str(row.get("verdict") or ""),
            reason=str(row.get("reason") or ""),
            facts=json.dumps(row, ensure_ascii=False, allow_nan=False, sort_keys=True),
        )
        for row in rows
    ]


def _once(body: records.Body, origin: str, by_whom: str = "") -> Draft:  # type: ignore[type-arg]
    row = records.new_id()
    return Draft(body=body, row_id=row, record_id=row, based_on=0, origin=origin, by_whom=by_whom)

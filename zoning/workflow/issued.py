"""Whether the season saw another plan than the one that a check goes by, or than a new one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

import numpy as np
import pandas as pd

from zoning import records
from zoning.contracts import constant
from zoning.errors import ZoningError
from zoning.model import FieldInputs, Notice, Plan
from zoning.model.check import PlannedGround
from zoning.outputs.check.words import OF_THE_DAY, OLDER
from zoning.outputs.fingerprint import short_id
from zoning.records import Entry, Pit, PlanIssued, Record, Zone
from zoning.units import tenths
from zoning.workflow.left_over import same
from zoning.workflow.recorded import pit_bodies
from zoning.workflow.season_dates import season_of

_AREA_HA = 0.001  # areas are kept with more decimals in the record than in the files of a plan


def issued_notices(folder: Path, inputs: FieldInputs, planned: PlannedGround) -> tuple[Notice, ...]:
    """Return a caution where the record holds another plan of the season with other depths.

    Plans of the same depths are the same to whoever drove them, and as old as the first of them.
    A pit behind the machine is older than the plan where its date is, or where the record held it
    by then: the notice names such pits. A field without a record is passed over.

    Raises
    ------
    zoning.errors.InputRefused
        If the record is damaged.
    """
    record = records.held_record(folder)
    if record is None:
        return ()
    season = season_of(inputs)
    issued = record.latest(PlanIssued, season=season)
    last = {entry.body.plan_id: entry for entry in issued}
    own = last.pop(planned.plan_id, None)
    rest = sorted(last.values(), key=lambda entry: entry.sequence)
    others = [entry for entry in rest if not _same_depths(record, entry, planned)]
    if not others:
        return ()
    this = _told(own) if own else f"{short_id(planned.plan_id)} (not in the record)"
    names = {entry.body.plan_id for entry in others}
    first = min(entry.recorded_at for entry in issued if entry.body.plan_id in names)
    dug = [pit for pit in pit_bodies(inputs.pits, season) if pit.phase == "after"]
    code, early, older = _dug_before(record, season, dug, _since(record, season, planned), first)
    return (Notice("caution", code, early + _words(others, season, this), older),)


def newest_notes(folder: Path, plan_id: str) -> tuple[str, ...]:
    """Return that the newest plan in the record of a field folder is another; none where it is not.

    A field without a record, or whose record holds no plan, is passed over.
    """
    try:
        record = records.held_record(folder)
        issued = record.latest(PlanIssued) if record else []
    except (ZoningError, OSError, ValueError):
        return ("The season record cannot be read: whether a newer plan was issued is not told.",)
    if not issued or issued[-1].body.plan_id == plan_id:
        return ()
    return (f"Not the newest plan of the field: by its record that is {_told(issued[-1])}.",)


def replaced_words(farm: Path, carried: Callable[[str], bool]) -> str:
    """Return which plan it is that is `carried` and that another has replaced, by any record below.

    Blank where no record that can be read knows it, or knows none newer.
    """
    for home in sorted(path.parent for path in farm.rglob(records.NAME)):
        with suppress(ZoningError, OSError, ValueError):
            issued = records.open_record(home, begin=False).latest(PlanIssued)
            own = [entry for entry in issued if carried(entry.body.plan_id)]
            if own and own[-1].body.plan_id != issued[-1].body.plan_id:
                field, newest = own[-1].body.field, _told(issued[-1])
                return f"Of plan {_told(own[-1])} of {field}, replaced by {newest}."
    return ""


def after_notices(pits: pd.DataFrame, *, trial_runs: bool = False) -> tuple[Notice, ...]:
    """Return a note of the pits dug after the work, which a plan is not made from.

    With `trial_runs` the ridge of the pits is gone by for nothing, and not told.
    """
    after = pits[pits["phase"] == "after"]
    count = len(after)
    if not count:
        return ()
    text = (
        f"{_kept(count)} for the check; the plan takes no pan from {'it' if count == 1 else 'them'}"
        f".{'' if trial_runs else _ridge_words(after)} If the field has been worked to an "
        "earlier plan, keep a copy of that plan's folder: the check goes by it."
    )
    return (Notice("note", "pits-after-kept", text),)


def _ridge_words(after: pd.DataFrame) -> str:
    """Return what the ridge of the pits after the work is used for; blank where none shows it."""
    seen = (after["loosened_at_leg_cm"] - after["loosened_between_cm"]).dropna()
    if seen.empty:
        return ""
    they = "it shows" if len(after) == 1 else "they show (median)"
    return (
        " Without trial runs, what the plan says of the ridge between legs goes by the "
        f"{tenths(float(seen.median()))} cm that {they}; no depth is added for it."
    )


def worked_notices(record: Record, plan: Plan) -> tuple[Notice, ...]:
    """Return a caution that names the plan before this one where pits after the work are there.

    It names the last plan of the season in the record that has other depths than `plan`.
    """
    count = int((plan.pits["phase"] == "after").sum())
    issued = record.latest(PlanIssued, season=season_of(plan))
    others = [e for e in issued if e.body.plan_id != plan.plan_id]
    other = next((e for e in reversed(others) if not _same_depths(record, e, plan)), None)
    if not count or other is None:
        return ()
    number = short_id(other.body.plan_id)
    text = (
        f"{_kept(count)} for the check. If the field has been worked to plan {_told(other)}, check "
        f"against it: name a copy of the folder of {number} with 'zoning check --plan'."
    )
    return (Notice("caution", "plan-worked-to", text),)


def _kept(count: int) -> str:
    one = count == 1
    return f"{count} pit{'' if one else 's'} after the work {'is' if one else 'are'} kept"


def _same_depths(record: Record, issued: Entry[PlanIssued], planned: PlannedGround | Plan) -> bool:
    """Whether a plan of the record has the zones and depths of the plan that is checked."""
    bodies = [e.body for e in record.latest(Zone, plan_id=issued.body.plan_id)]
    then = np.array(sorted((b.zone, b.depth_cm or 0.0, b.area_ha) for b in bodies), dtype=float)
    now = planned.zones.sort_values("zone")[["zone", "depth_cm", "area_ha"]].to_numpy(dtype=float)
    return then.shape == now.shape and bool(np.allclose(then, now, rtol=0.0, atol=_AREA_HA))


def _since(record: Record, season: int, planned: PlannedGround) -> str:
    """Return when the plan, or another of its depths, was first issued; blank if never.

    A plan that was put back in its place is as old as it was, not as its last issue.
    """
    issued = record.latest(PlanIssued, season=season)
    times = (
        entry.recorded_at
        for entry in issued
        if entry.body.plan_id == planned.plan_id or _same_depths(record, entry, planned)
    )
    return min(times, default="")


def _words(others: list[Entry[PlanIssued]], season: int, this: str) -> str:
    most = int(constant("check_rules", "named_plans_most"))
    told = [_told(entry) for entry in others[-most:]]
    if len(others) > most:
        told.insert(0, f"{len(others) - most} earlier ones")
    return (
        f"Other plans with other depths were issued in season {season}: {', '.join(told)}. The "
        f"check goes by {this}. If another was driven, name the folder of its copy with --plan. "
        "Without a copy put the settings back as they were, make it again with 'zoning plan' of "
        "the same version and --out in another folder, see that its number is the same, and name "
        "that folder."
    )


def _told(entry: Entry[PlanIssued]) -> str:
    day, _, clock = entry.recorded_at.partition("T")
    return f"{short_id(entry.body.plan_id)} ({day} {clock[:5]} UTC)"


def _dug_before(
    record: Record, season: int, dug: Sequence[Pit], since: str, first: str
) -> tuple[str, str, tuple[str, ...]]:
    """Return code and beginning of the notice, and the pits that are older than the plan.

    The plan was issued at `since`, blank if never, the first of the others at `first`. A pit of the
    same day that the record does not hold from before may be older.
    """
    held = {
        same(entry.body)
        for entry in record.everything(Pit)
        if entry.body.season == season and entry.recorded_at <= since
    }
    older = tuple(pit.pit for pit in dug if "" < pit.date < since[:10] or same(pit) in held)
    if older:
        one = len(older) == 1
        are, they, show = ("is", "it", "shows") if one else ("are", "they", "show")
        text = (
            f"{_of(len(older), len(dug))} {are} older than the plan that {they} {are} judged by: "
            f"the work that {they} {show} was not done to it. Where ground was driven again to "
            f"this plan, withdraw {'it' if one else 'them'} there (worked again). "
        )
        return OLDER, text, older
    count = sum("" < pit.date == since[:10] >= first[:10] for pit in dug)
    if not count:
        return "check-plans-issued", "", ()
    bear, they, are = ("bears", "it", "is") if count == 1 else ("bear", "they", "are")
    text = f"{_of(count, len(dug))} {bear} the day of the plan that {they} {are} judged by. "
    return OF_THE_DAY, text, ()


def _of(count: int, of: int) -> str:
    return "The one pit" if of == 1 else f"{count} of {of} pits"

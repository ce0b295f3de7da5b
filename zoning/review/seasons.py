"""Two seasons of one field side by side, and the places dug in both."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from zoning.outputs.fingerprint import short_id
from zoning.records import Entry, Pit, PlanIssued, Record
from zoning.review.ground import Ground
from zoning.review.plans import Followed, depths_planned, plan_followed
from zoning.review.season_pits import (
    SeasonPits,
    gap_m,
    in_words,
    nearest,
    pits_of_season,
    worked_as_planned,
)
from zoning.review.views import SEEN, as_counted, depths_noted, last_verdicts
from zoning.review.warnings import check_warnings
from zoning.review.words import verdict_said
from zoning.units import off_half
from zoning.workflow.standing import withdrawn_pits


@dataclass(frozen=True, slots=True)
class SeasonFacts:
    """What one season says: of the pits before, of the plan, of the pits after."""

    season: int
    rows: tuple[tuple[str, str], ...]
    parts: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Place:
    """A place dug in both seasons, in words: before, after, next time, and whether it lasted."""

    before: str
    after: str
    now: str
    lasted: str
    apart: str


@dataclass(frozen=True, slots=True)
class Compared:
    """Two seasons, the places that were dug in both, and the pits left out of it with the reason.

    What is left out counts nowhere in its season.
    """

    one: SeasonFacts
    other: SeasonFacts
    places: tuple[Place, ...]
    left_out: tuple[str, ...]


_REACHED = ("reached", "too_deep")
_PARTLY = ("leg_only", "not_between", "not_reached", "not_worked")
_OPEN = (*_PARTLY, "leg_passed", "questioned")
_NONE_SEEN = "no pan after the work, none now; not known whether there was one before"
_NOT_MEANT = ("lifted_out", "worked_lifted", "held", "past_cap", "leg_not_seen")


def seasons_held(record: Record) -> list[int]:
    """Return the seasons that the record knows pits or plans of; 0 is what bore none once."""
    pits = {entry.body.season for entry in record.latest(Pit)}
    return sorted(pits | {entry.body.season for entry in record.latest(PlanIssued)})


def compare(
    record: Record,
    one: int,
    other: int,
    ground: Ground | None = None,
    *,
    year_before: bool = False,
) -> Compared:
    """Return two seasons side by side, the earlier one first.

    Parameters
    ----------
    record
        The season record.
    one, other
        The seasons.
    ground
        The map of now: it tells the part of a pit that has none noted.
    year_before
        Whether a date of the year before may be of a season too, as where none is stated.
    """
    one, other = sorted((one, other))
    earlier, later = (
        pits_of_season(record, year, year_before=year_before) for year in (one, other)
    )
    places: tuple[Place, ...] = ()
    told = in_words((*earlier.left_out_before, *earlier.left_out_after))
    if one != other:
        later = _after_the_work(earlier, later)
        places = _places(record, earlier, later.before)
        told += in_words((*later.left_out_before, *later.left_out_after))
    facts = (_facts(record, earlier, ground), _facts(record, later, ground))
    return Compared(*facts, places, tuple(told))


def _after_the_work(earlier: SeasonPits, later: SeasonPits) -> SeasonPits:
    """Return a season without pits before the work that show nothing of the season before.

    A pit that was dug before that work was done says nothing of it: it was left in the files, or
    its date is mistyped.
    """
    days = [[pit.date for pit in pits] for pits in (earlier.after, earlier.before)]
    done = next((max(own) for own in days if any(own)), "")
    told = [row for row in later.left_out_before if row[0].date > done]
    outside = [pit for pit, _ in later.left_out_before if pit.date <= done]
    early = [*outside, *(pit for pit in later.before if pit.date and pit.date <= done)]
    why = (
        f"dug no later than the last pit of {earlier.season} ({done}), so it shows nothing of what "
        "that work left. It was left in the files, or its date is mistyped."
    )
    return replace(
        later,
        before=tuple(pit for pit in later.before if pit not in early),
        left_out_before=(*told, *((pit, why) for pit in early)),
    )


def _facts(record: Record, pits: SeasonPits, ground: Ground | None) -> SeasonFacts:
    season, before, after = pits.season, pits.before, pits.after
    shown = plan_followed(record, season)
    plans = [
        entry
        for entry in record.latest(PlanIssued, season=season)
        if entry.body.plan_id == shown.plan_id
    ]
    worked, apart = worked_as_planned(after, record, season)
    at_leg = _mean([pit.loosened_at_leg_cm for pit in worked], "cm")
    between = _mean([pit.loosened_between_cm for pit in worked], "cm")
    structure = _mean([pit.structure_score for pit in worked])
    rows = [
        ("pits before the work", _dug(before, pits.left_out_before)),
        ("of these with a pan", _share(before)),
        ("pan base, mean", _mean([pit.pan_base_cm for pit in before], "cm")),
        ("structure score before, mean", _mean([pit.structure_score for pit in before])),
        ("plan", _plan(shown)),
        ("planned depth, mean of the ground worked", _planned(plans)),
        ("depths planned", _last_depths(record, plans)),
        ("pits after the work", _dug(after, pits.left_out_after)),
        ("loosened at a leg, mean", at_leg + apart),
        ("loosened between legs, mean", between + apart),
        ("structure score after, mean", structure + apart),
        ("verdicts of the check", _verdicts(record, season)),
    ]
    return SeasonFacts(season, tuple(rows), _by_part(before, ground))


def _verdicts(record: Record, season: int) -> str:
    """Return how many of the pits that stand the newest check judged how."""
    gone = withdrawn_pits(record, season)
    judged = last_verdicts(record, season, "pit").items()
    verdicts = Counter(row.verdict for name, row in judged if name not in gone)
    told = ", ".join(f"{n} {verdict_said(name)}" for name, n in sorted(verdicts.items()))
    since = check_warnings(record, season).since()
    return "; ".join(words for words in (told, since) if words) or "not checked"


def _dug(pits: Sequence[Pit], left_out: Sequence[object]) -> str:
    undated = sum(not pit.date for pit in pits)
    told = f"{len(pits)}, without {len(left_out)} left out" if left_out else str(len(pits))
    return f"{told}; {undated} without a date" if undated else told


def _share(pits: Sequence[Pit]) -> str:
    noted = [pit for pit in pits if pit.pan]
    return f"{sum(pit.pan == 'yes' for pit in noted)} of {len(noted)} noted"


def _mean(values: Sequence[float | None], unit: str = "") -> str:
    known = [value for value in values if value is not None]
    if not known:
        return "not noted"
    mean = off_half(sum(known) / len(known), 1)
    return f"{mean:.1f} {unit}".strip() + f" ({_counted(len(known))})"


def _counted(pits: int) -> str:
    return f"{pits} pit{'' if pits == 1 else 's'}"


def _plan(shown: Followed) -> str:
    """Return the plan that a season is shown by, and what is told of which was driven."""
    told = short_id(shown.plan_id) or "none"
    if shown.missing:
        last = f"{told}, the last issued" if shown.plan_id else told
        return f"{last}; the newest check went by {short_id(shown.missing)}, not kept"
    words = [told, shown.told(shown.plan_id)] if shown.checked else [told]
    told = ", ".join(word for word in words if word)
    if shown.checked not in ("", shown.plan_id):
        told += f"; the newest check went by {short_id(shown.checked)}, newer than its pits"
    if shown.unsure:
        return f"{told}; not told which plan was driven"
    later = shown.checked and shown.last not in (shown.plan_id, shown.checked)
    return f"{told}; the last issued is {short_id(shown.last)}" if later else told


def _planned(plans: Sequence[Entry[PlanIssued]]) -> str:
    depth = plans[-1].body.mean_depth_cm if plans else None
    return "none" if depth is None else f"{depth:.1f} cm"


def _last_depths(record: Record, plans: Sequence[Entry[PlanIssued]]) -> str:
    return depths_planned(record, plans[-1].body.plan_id) if plans else "none"


def _by_part(pits: Sequence[Pit], ground: Ground | None) -> tuple[tuple[str, str], ...]:
    """Return the mean pan base of each part, by the map where none is noted."""
    held: dict[str, list[Pit]] = {}
    told: Counter[str] = Counter()
    for pit in pits:
        by_map = ground.part_at(pit.lon, pit.lat) if ground and not pit.part else ""
        part = pit.part or by_map or "part not noted"
        held.setdefault(part, []).append(pit)
        told[part] += bool(by_map) and pit.pan_base_cm is not None
    means = {part: _mean([pit.pan_base_cm for pit in own], "cm") for part, own in held.items()}
    return tuple(
        (part, means[part] + (f", {told[part]} by the map" if told[part] else ""))
        for part in sorted(means)
    )


def _places(record: Record, earlier: SeasonPits, late: Sequence[Pit]) -> tuple[Place, ...]:
    """Return which of the pits of a later season were dug where the earlier one had pits."""
    verdicts = last_verdicts(record, earlier.season, "pit")
    found = []
    for new in sorted(late, key=lambda pit: as_counted(pit.pit)):
        was, done = nearest(new, earlier.before), nearest(new, earlier.after)
        if was is None and done is None:
            continue
        row = verdicts.get(done.pit) if done else None
        verdict = row.verdict if row else ""
        gaps = [gap_m(new, old) for old in (was, done) if old is not None]
        found.append(
            Place(
                f"{_named(was)}: {_pan(was)}" if was else "no pit",
                f"{_named(done)}: {_done(done, verdict)}" if done else "no pit",
                f"{_named(new)}: {_pan(new)}",
                lasted(was, done, verdict, new) + _undated(new),
                f"{max(gaps):.0f} m",
            )
        )
    return tuple(found)


def lasted(before: Pit | None, after: Pit | None, verdict: str, now: Pit) -> str:
    """Return in words whether the loosening lasted until the next season.

    Parameters
    ----------
    before, after
        The pits of the earlier season, where there are any.
    verdict
        How the check judged the pit after the work; blank where it did not.
    now
        The pit before the work of the next season at the same place.
    """
    if not now.pan:
        return "not known: no pan was looked for this time"
    gone = now.pan == "no"
    if before is not None and before.pan == "no":
        return "no pan either time" if gone else "no pan before, a pan now"
    if after is None:
        return f"not known, no pit after the work; {_pan(now)} now"
    return _against(before, after, verdict, now)


def _against(before: Pit | None, after: Pit, verdict: str, now: Pit) -> str:
    """Return what the pit after the work and the one of the next season say together.

    Without a pan from before, or one seen after the work, nothing shows that any was broken.
    """
    gone = now.pan == "no"
    if verdict in _NOT_MEANT:
        return f"{verdict_said(verdict)}; {'no pan' if gone else 'a pan'} now"
    if verdict in _REACHED or (verdict not in _OPEN and after.pan == "no"):
        if not gone:
            return "did not last: a pan again"
        pan = after.pan == "yes" or (before is not None and before.pan == "yes")
        return "lasted: no pan" if pan else _NONE_SEEN
    if verdict in _PARTLY or after.pan == "yes":
        return f"not all of it was loosened; {'no pan' if gone else 'a pan'} now"
    return f"not known whether it was loosened; {_pan(now)} now"


def _undated(pit: Pit) -> str:
    return "" if pit.date else f"; {pit.pit} bears no date, it is taken as of {pit.season}"


def _named(pit: Pit) -> str:
    return f"{pit.pit} ({pit.date or 'no date'})"


def _done(pit: Pit, verdict: str) -> str:
    told = (verdict_said(verdict) if verdict else SEEN[pit.pan], depths_noted(pit))
    return ", ".join(words for words in told if words)


def _pan(pit: Pit) -> str:
    if pit.pan == "no":
        return "no pan"
    if pit.pan_base_cm is None:
        return "pan, base not noted" if pit.pan else "not noted"
    return f"pan base {pit.pan_base_cm:g} cm"

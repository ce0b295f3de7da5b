"""Two seasons of one field side by side, and the places dug in both."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from zoning.contracts import constant
from zoning.outputs.fingerprint import short_id
from zoning.records import Entry, Pit, PlanIssued, Record
from zoning.review.ground import Ground, apart_m
from zoning.review.plans import Followed, depths_planned, plan_followed
from zoning.review.rules import rule
from zoning.review.views import SEEN, as_counted, depths_noted, last_verdicts
from zoning.review.words import verdict_said


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

    What is left out counts nowhere as a pit before the work of the later season.
    """

    one: SeasonFacts
    other: SeasonFacts
    places: tuple[Place, ...]
    left_out: tuple[str, ...]


_REACHED = ("reached", "too_deep")
_PARTLY = ("leg_only", "not_reached", "not_worked")
_OPEN = (*_PARTLY, "leg_passed", "questioned")
_NOT_MEANT = ("lifted_out", "worked_lifted", "held", "past_cap")


def seasons_held(record: Record) -> list[int]:
    """Return the seasons that the record knows pits or plans of."""
    pits = {entry.body.season for entry in record.latest(Pit)}
    return sorted(pits | {entry.body.season for entry in record.latest(PlanIssued)})


def compare(record: Record, one: int, other: int, ground: Ground | None = None) -> Compared:
    """Return two seasons side by side, the earlier one first.

    Parameters
    ----------
    record
        The season record.
    one, other
        The seasons.
    ground
        The map of now: it tells the part of a pit that has none noted.
    """
    one, other = sorted((one, other))
    late, early = _after_the_work(record, one, other)
    places = _places(record, one, late) if one != other else ()
    facts = (
        _facts(record, one, _pits(record, one, "before"), ground),
        _facts(record, other, late, ground, len(early)),
    )
    return Compared(*facts, places, tuple(early))


def _after_the_work(record: Record, one: int, other: int) -> tuple[list[Pit], list[str]]:
    """Return the pits before the work of `other` that show what the work of `one` left.

    A pit that was dug before that work was done says nothing of it: it was left in the files, or
    its date is mistyped. Such pits are told with the reason.
    """
    pits = _pits(record, other, "before")
    if one == other:
        return pits, []
    done = _last_day(record, one)
    early = [pit for pit in pits if pit.date and pit.date <= done]
    told = [
        f"{pit.pit} of {pit.date}: dug no later than the last pit of {one} ({done}), so it shows "
        f"nothing of what that work left. It was left in the files, or its date is mistyped."
        for pit in sorted(early, key=lambda pit: as_counted(pit.pit))
    ]
    return [pit for pit in pits if pit not in early], told


def _last_day(record: Record, season: int) -> str:
    """Return the last day in a season that a pit was dug behind the machine, else before it."""
    last = f"{season + 1}-{int(constant('record_rules', 'season_runs_on_months')):02d}-31"
    days = [[p.date for p in _pits(record, season, phase)] for phase in ("after", "before")]
    within = ([day for day in own if day <= last] for own in days)
    return next((max(own) for own in within if any(own)), "")


def _facts(
    record: Record, season: int, before: Sequence[Pit], ground: Ground | None, left_out: int = 0
) -> SeasonFacts:
    after = _pits(record, season, "after")
    shown = plan_followed(record, season)
    plans = [
        entry
        for entry in record.latest(PlanIssued, season=season)
        if entry.body.plan_id == shown.plan_id
    ]
    judged = {name: row.verdict for name, row in last_verdicts(record, season, "pit").items()}
    verdicts = Counter(judged.values())
    worked = _worked(after, judged)
    apart = _apart(after, judged)
    apart_early = f", without {left_out} left out" if left_out else ""
    at_leg = _mean([pit.loosened_at_leg_cm for pit in worked], "cm")
    between = _mean([pit.loosened_between_cm for pit in worked], "cm")
    told = ", ".join(f"{n} {verdict_said(name)}" for name, n in sorted(verdicts.items()))
    rows = [
        ("pits before the work", f"{len(before)}{apart_early}"),
        ("of these with a pan", _share(before)),
        ("pan base, mean", _mean([pit.pan_base_cm for pit in before], "cm")),
        ("structure score before, mean", _mean([pit.structure_score for pit in before])),
        ("plan", _plan(shown)),
        ("planned depth, mean of the ground worked", _planned(plans)),
        ("depths planned", _last_depths(record, plans)),
        ("pits after the work", str(len(after))),
        ("loosened at a leg, mean", at_leg + apart),
        ("loosened between legs, mean", between + apart),
        ("structure score after, mean", _mean([pit.structure_score for pit in after])),
        ("verdicts of the check", told or "not checked"),
    ]
    return SeasonFacts(season, tuple(rows), _by_part(before, ground))


def _left_out(pit: Pit, verdicts: Mapping[str, str]) -> str:
    """Return why the depths of a pit say nothing of the work as planned; blank where they do."""
    if verdicts.get(pit.pit) in ("lifted_out", "worked_lifted"):
        return "on lifted ground"
    depths = (pit.loosened_at_leg_cm, pit.loosened_between_cm)
    none = constant("check_rules", "not_worked_cm")
    missed = depths[0] is not None and all(cm is None or cm <= none for cm in depths)
    return "on a missed strip" if missed or verdicts.get(pit.pit) == "not_worked" else ""


def _worked(pits: Sequence[Pit], verdicts: Mapping[str, str]) -> list[Pit]:
    return [pit for pit in pits if not _left_out(pit, verdicts)]


def _apart(pits: Sequence[Pit], verdicts: Mapping[str, str]) -> str:
    """Return how many pits the means leave out and why; nothing without any."""
    whys = Counter(why for pit in pits if (why := _left_out(pit, verdicts)))
    told = " and ".join(f"{count} {why}" for why, count in sorted(whys.items()))
    return f", without {told}" if told else ""


def _pits(record: Record, season: int, phase: str) -> list[Pit]:
    held = record.latest(Pit, season=season, phase=phase, withdrawn="")
    return [entry.body for entry in held]


def _share(pits: Sequence[Pit]) -> str:
    noted = [pit for pit in pits if pit.pan]
    return f"{sum(pit.pan == 'yes' for pit in noted)} of {len(noted)} noted"


def _mean(values: Sequence[float | None], unit: str = "") -> str:
    known = [value for value in values if value is not None]
    if not known:
        return "not noted"
    return f"{sum(known) / len(known):.1f} {unit}".strip() + f" ({_counted(len(known))})"


def _counted(pits: int) -> str:
    return f"{pits} pit{'' if pits == 1 else 's'}"


def _plan(shown: Followed) -> str:
    """Return the plan that a season is shown by, and what is told of which was driven."""
    told = short_id(shown.plan_id) or "none"
    if shown.missing:
        return (
            f"{told}, the last issued; the newest check went by {short_id(shown.missing)}, not kept"
        )
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


def _places(record: Record, one: int, late: Sequence[Pit]) -> tuple[Place, ...]:
    """Return which of the pits of a later season were dug where the earlier one had pits."""
    before, after = (_pits(record, one, phase) for phase in ("before", "after"))
    verdicts = last_verdicts(record, one, "pit")
    found = []
    for new in sorted(late, key=lambda pit: as_counted(pit.pit)):
        was, done = _nearest(new, before), _nearest(new, after)
        if was is None and done is None:
            continue
        row = verdicts.get(done.pit) if done else None
        verdict = row.verdict if row else ""
        gaps = [_gap(new, old) for old in (was, done) if old is not None]
        found.append(
            Place(
                f"{_named(was)}: {_pan(was)}" if was else "no pit",
                f"{_named(done)}: {_done(done, verdict)}" if done else "no pit",
                f"{_named(new)}: {_pan(new)}",
                lasted(was, done, verdict, new),
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
    return _against(after, verdict, now)


def _against(after: Pit, verdict: str, now: Pit) -> str:
    """Return what the pit after the work and the one of the next season say together."""
    gone = now.pan == "no"
    if verdict in _NOT_MEANT:
        return f"{verdict_said(verdict)}; {'no pan' if gone else 'a pan'} now"
    if verdict in _REACHED or (verdict not in _OPEN and after.pan == "no"):
        return "lasted: no pan" if gone else "did not last: a pan again"
    if verdict in _PARTLY or after.pan == "yes":
        return f"not all of it was loosened; {'no pan' if gone else 'a pan'} now"
    return f"not known whether it was loosened; {_pan(now)} now"


def _nearest(pit: Pit, others: Sequence[Pit]) -> Pit | None:
    """Return the nearest pit at the same place, of no other part; ``None`` where there is none."""
    agreeing = [o for o in others if not pit.part or not o.part or o.part == pit.part]
    ranked = sorted((_gap(pit, other), other.pit, i) for i, other in enumerate(agreeing))
    near = ranked and ranked[0][0] <= rule("season_place_m")
    return agreeing[ranked[0][2]] if near else None


def _named(pit: Pit) -> str:
    return f"{pit.pit} ({pit.date or 'no date'})"


def _gap(one: Pit, other: Pit) -> float:
    return apart_m((one.lon or 0.0, one.lat or 0.0), (other.lon or 0.0, other.lat or 0.0))


def _done(pit: Pit, verdict: str) -> str:
    told = (verdict_said(verdict) if verdict else SEEN[pit.pan], depths_noted(pit))
    return ", ".join(words for words in told if words)


def _pan(pit: Pit) -> str:
    if pit.pan == "no":
        return "no pan"
    if pit.pan_base_cm is None:
        return "pan, base not noted" if pit.pan else "not noted"
    return f"pan base {pit.pan_base_cm:g} cm"

"""Two seasons of one field side by side, and the places dug in both."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from zoning.records import Entry, Pit, PlanIssued, Record, Zone
from zoning.review.ground import apart_m
from zoning.review.rules import rule
from zoning.review.views import last_verdicts
from zoning.review.words import verdict_said


@dataclass(frozen=True, slots=True)
class SeasonFacts:
    """What one season says: of the pits before, of the plan, of the pits after."""

    season: int
    rows: tuple[tuple[str, str], ...]
    parts: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Compared:
    """Two seasons, and pits of before the work at one place in both."""

    one: SeasonFacts
    other: SeasonFacts
    places: tuple[tuple[str, str, str, str, str], ...]


def seasons_held(record: Record) -> list[int]:
    """Return the seasons that the record knows pits of."""
    return sorted({entry.body.season for entry in record.latest(Pit)})


def compare(record: Record, one: int, other: int) -> Compared:
    """Return two seasons side by side."""
    return Compared(_facts(record, one), _facts(record, other), _places(record, one, other))


def _facts(record: Record, season: int) -> SeasonFacts:
    before, after = (_pits(record, season, phase) for phase in ("before", "after"))
    plans = record.latest(PlanIssued, season=season)
    verdicts = Counter(row.verdict for row in last_verdicts(record, season, "pit").values())
    told = ", ".join(f"{n} {verdict_said(name)}" for name, n in sorted(verdicts.items()))
    rows = [
        ("pits before the work", str(len(before))),
        ("of these with a pan", _share(before)),
        ("pan base, mean", _mean([pit.pan_base_cm for pit in before], "cm")),
        ("structure score before, mean", _mean([pit.structure_score for pit in before])),
        ("plan", plans[-1].body.plan_id[:8] if plans else "none"),
        ("planned depth, mean of the ground worked", _planned(plans)),
        ("depths planned", _depths(record, plans)),
        ("pits after the work", str(len(after))),
        ("loosened at a leg, mean", _mean([pit.loosened_at_leg_cm for pit in after], "cm")),
        ("loosened between legs, mean", _mean([pit.loosened_between_cm for pit in after], "cm")),
        ("structure score after, mean", _mean([pit.structure_score for pit in after])),
        ("verdicts of the check", told or "not checked"),
    ]
    return SeasonFacts(season, tuple(rows), _by_part(before))


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


def _planned(plans: Sequence[Entry[PlanIssued]]) -> str:
    depth = plans[-1].body.mean_depth_cm if plans else None
    return "none" if depth is None else f"{depth:.1f} cm"


def _depths(record: Record, plans: Sequence[Entry[PlanIssued]]) -> str:
    if not plans:
        return "none"
    area: Counter[float] = Counter()
    for zone in record.latest(Zone, plan_id=plans[-1].body.plan_id):
        area[zone.body.depth_cm or 0.0] += zone.body.area_ha or 0.0  # type: ignore[assignment]
    return ", ".join(
        f"{f'{depth:g} cm' if depth else 'lifted out'}: {area[depth]:.2f} ha"
        for depth in sorted(area)
    )


def _by_part(pits: Sequence[Pit]) -> tuple[tuple[str, str], ...]:
    parts = sorted({pit.part or "part not noted" for pit in pits})
    return tuple(
        (part, _mean([p.pan_base_cm for p in pits if (p.part or "part not noted") == part], "cm"))
        for part in parts
    )


def _places(record: Record, one: int, other: int) -> tuple[tuple[str, str, str, str, str], ...]:
    if one == other:
        return ()
    found = []
    for old in _pits(record, one, "before"):
        for new in _pits(record, other, "before"):
            gap = apart_m((old.lon or 0.0, old.lat or 0.0), (new.lon or 0.0, new.lat or 0.0))
            if gap <= rule("season_place_m"):
                found.append((old.pit, _pan(old), new.pit, _pan(new), f"{gap:.0f} m"))
    return tuple(found)


def _pan(pit: Pit) -> str:
    if pit.pan == "no":
        return "no pan"
    if pit.pan_base_cm is None:
        return "pan, base not noted" if pit.pan else "not noted"
    return f"pan base {pit.pan_base_cm:g} cm"

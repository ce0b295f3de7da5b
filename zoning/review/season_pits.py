"""Which pits of a season say something of it, and which are left out, with the reason."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from zoning.checks import shows_work
from zoning.contracts import constant
from zoning.records import CheckRow, Pit, Record, Station
from zoning.review.ground import apart_m
from zoning.review.rules import rule
from zoning.review.views import as_counted, is_stale, last_verdicts
from zoning.workflow.season_dates import season_days


@dataclass(frozen=True, slots=True)
class SeasonPits:
    """The pits of a season that count, before and after the work, and why others do not.

    ``left_out_before`` and ``left_out_after`` hold a pit and its reason each.
    """

    season: int
    before: tuple[Pit, ...]
    after: tuple[Pit, ...]
    left_out_before: tuple[tuple[Pit, str], ...] = ()
    left_out_after: tuple[tuple[Pit, str], ...] = ()


def pits_of_season(record: Record, season: int, *, year_before: bool = False) -> SeasonPits:
    """Return the pits of a season, without those that its dates belie.

    A pit dated outside the season counts nowhere, nor does a pit before the work that was dug at
    the place and part of the nearest pit after it, on its day or later; see
    `zoning.checks.shows_work`. A pit after the work that was withdrawn still tells its day.

    Parameters
    ----------
    record
        The season record.
    season
        The season.
    year_before
        Whether a date of the year before may be of the season too, as where none is stated.
    """
    days = season_days(season, year_before=year_before)
    after, odd_after = _parted(
        (pit, _outside(pit, season, days)) for pit in _held(record, season, "after")
    )
    late = late_pits(record, season, after)
    before, odd_before = _parted(
        (pit, _outside(pit, season, days) or late.get(pit, ""))
        for pit in _held(record, season, "before")
    )
    return SeasonPits(season, before, after, odd_before, odd_after)


def late_pits(record: Record, season: int, after: Sequence[Pit]) -> dict[Pit, str]:
    """Return the pits of before the work that show what the work left, and why, in words.

    Parameters
    ----------
    record, season
        The season record, and the season.
    after
        The pits of after the work that stand; those withdrawn still tell their day.
    """
    gone = _held(record, season, "after", withdrawn="yes")
    first = first_day(record, season)
    told = ((pit, _late(pit, after, gone, first)) for pit in _held(record, season, "before"))
    return {pit: why for pit, why in told if why}


def first_day(record: Record, season: int) -> str:
    """Return the first day of the cone stations and pits before the work; blank without dates."""
    kinds: tuple[type[Pit | Station], ...] = (Pit, Station)
    held = [e.body.date for k in kinds for e in record.latest(k, season=season, phase="before")]
    return min(filter(None, held), default="")


def in_words(left_out: Iterable[tuple[Pit, str]]) -> list[str]:
    """Return a line for each pit that is left out, by name."""
    rows = sorted(left_out, key=lambda row: as_counted(row[0].pit))
    return [f"{pit.pit} of {pit.date}: {why}" for pit, why in rows]


def nearest(pit: Pit, others: Sequence[Pit]) -> Pit | None:
    """Return the nearest pit at the same place, of no other part; ``None`` where there is none."""
    agreeing = [o for o in others if not pit.part or not o.part or o.part == pit.part]
    ranked = sorted((gap_m(pit, other), other.pit, i) for i, other in enumerate(agreeing))
    near = ranked and ranked[0][0] <= rule("season_place_m")
    return agreeing[ranked[0][2]] if near else None


def gap_m(one: Pit, other: Pit) -> float:
    """Return how far two pits lie apart [m]."""
    return apart_m((one.lon or 0.0, one.lat or 0.0), (other.lon or 0.0, other.lat or 0.0))


def worked_as_planned(pits: Sequence[Pit], record: Record, season: int) -> tuple[list[Pit], str]:
    """Return the pits whose depths say how deep the work ran, and in words how many do not."""
    judged = last_verdicts(record, season, "pit")
    whys = {pit.pit: _no_measure(pit, judged) for pit in pits}
    told = " and ".join(
        f"{count} {why}" for why, count in sorted(Counter(filter(None, whys.values())).items())
    )
    return [pit for pit in pits if not whys[pit.pit]], f", without {told}" if told else ""


_NO_MEASURE = {
    "lifted_out": "on lifted ground",
    "worked_lifted": "on lifted ground",
    "leg_not_seen": "near a hazard, its leg not measured",
    "past_cap": "deeper than a hazard allows",
    "not_worked": "on a missed strip",
}


def _no_measure(pit: Pit, judged: Mapping[str, CheckRow]) -> str:
    """Return why the depths of a pit say nothing of the work as planned; blank where they do.

    A pit that was corrected since it was questioned counts with what it says now.
    """
    row = judged.get(pit.pit)
    verdict = row.verdict if row else ""
    if row and verdict == "questioned" and not is_stale(pit, row):
        return "questioned by the check"
    depths = (pit.loosened_at_leg_cm, pit.loosened_between_cm)
    none = constant("check_rules", "not_worked_cm")
    missed = depths[0] is not None and all(cm is None or cm <= none for cm in depths)
    said = _NO_MEASURE.get(verdict, "")
    return "on a missed strip" if missed and not said else said


def _held(record: Record, season: int, phase: str, *, withdrawn: str = "") -> list[Pit]:
    held = record.latest(Pit, season=season, phase=phase, withdrawn=withdrawn)
    return [entry.body for entry in held]


def _parted(
    rows: Iterable[tuple[Pit, str]],
) -> tuple[tuple[Pit, ...], tuple[tuple[Pit, str], ...]]:
    told = list(rows)
    kept = tuple(pit for pit, why in told if not why)
    return kept, tuple(row for row in told if row[1])


def _outside(pit: Pit, season: int, days: tuple[str, str]) -> str:
    first, last = days
    if not pit.date or first <= pit.date <= last:
        return ""
    return (
        f"dated outside season {season} ({first} to the end of {last[:7]}). It is of another "
        "season, or its date is mistyped."
    )


def _late(pit: Pit, after: Sequence[Pit], gone: Sequence[Pit], first: str) -> str:
    """Return that a pit before the work shows what the work left; blank where it does not.

    Of the pits that were withdrawn since, one of the same day tells it.
    """
    that_day = [each for each in gone if each.date == pit.date]
    near = (nearest(pit, pits) for pits in (after, that_day))
    done = next((each for each in near if each and shows_work(pit.date, each.date, first)), None)
    if done is None:
        return ""
    return (
        f"a pit before the work, dug no earlier than {done.pit} ({done.date}) after the work at "
        "the same place. It shows what the work left, or a date is mistyped."
    )

"""What the newest check cautions of: its Stop lines, the rest, and the pits that each names."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from zoning.outputs.check.words import WHICH_PLAN
from zoning.records import Check, CheckRow, Pit, Record
from zoning.review.views import as_counted, is_stale, last_check, last_verdicts
from zoning.workflow.standing import asks_to_stop, withdrawn_pits
from zoning.workflow.stops import pits_of


@dataclass(frozen=True, slots=True)
class Warned:
    """One caution of a check: its words, the pits it names, whether it asks to stop.

    ``which_plan`` says that the pits may be of the work to another plan.
    """

    text: str
    pits: tuple[str, ...]
    stop: bool
    which_plan: bool = False


@dataclass(frozen=True, slots=True)
class Warnings:
    """The cautions of the newest check of a season; `when` [UTC] blank where there is no check.

    ``plan_id`` is the plan that the check went by.

    ``corrected`` are the pits that were corrected or withdrawn since that check.

    A check that was kept before its cautions were kept with it is not `known`.
    """

    when: str = ""
    plan_id: str = ""
    known: bool = True
    told: tuple[Warned, ...] = ()
    corrected: frozenset[str] = frozenset()

    def since(self, pits: Iterable[str] | None = None) -> str:
        """Return in words which of `pits`, or of all, were corrected since; blank where none."""
        held = self.corrected if pits is None else self.corrected.intersection(pits)
        if not held:
            return ""
        pit, was = ("pit", "was") if len(held) == 1 else ("pits", "were")
        names = ", ".join(sorted(held, key=as_counted))
        told = f"of the check before {pit} {names} {was} corrected or withdrawn"
        return f"{told}: run zoning check again"

    @property
    def stops(self) -> tuple[Warned, ...]:
        """What asks to stop."""
        return tuple(one for one in self.told if one.stop)

    @property
    def others(self) -> tuple[Warned, ...]:
        """The cautions beside the Stop lines, and beside `which_plan`."""
        return tuple(one for one in self.told if not one.stop and not one.which_plan)

    @property
    def which_plan(self) -> tuple[Warned, ...]:
        """The caution that the pits may be of the work to another plan."""
        return tuple(one for one in self.told if one.which_plan)

    @property
    def stopped(self) -> frozenset[str]:
        """The pits that a Stop line names."""
        return frozenset(name for one in self.stops for name in one.pits)

    def about(self, pits: Iterable[str]) -> tuple[Warned, ...]:
        """Return the cautions that name one of `pits`, the Stop lines first."""
        names = set(pits)
        return tuple(one for one in (*self.stops, *self.others) if names & set(one.pits))

    def headed(self, pits: Iterable[str]) -> tuple[str, ...]:
        """Return those of `pits` that the Stop lines name; where none does, the other cautions."""
        own = list(pits)
        held = self.stopped.intersection(own) or {p for one in self.others for p in one.pits}
        return tuple(pit for pit in own if pit in held)


def check_warnings(record: Record, season: int) -> Warnings:
    """Return what the newest check of a season cautions of, as the record keeps it."""
    check = last_check(record, season)
    if check is None:
        return Warnings()
    rows = record.latest(CheckRow, check_id=check.record_id, about="advice")
    dug = [entry.body for entry in record.latest(Pit, season=season, phase="after")]
    judged = last_verdicts(record, season, "pit")
    names = {pit.pit for pit in dug} | set(judged)
    standing = {pit.pit for pit in dug if not pit.withdrawn}
    corrected = frozenset(
        pit.pit
        for pit in dug
        if (row := judged.get(pit.pit))
        and (pit.pit not in standing if pit.withdrawn else is_stale(pit, row))
    )
    told = tuple(
        Warned(row.reason, pits_of(row, names), asks_to_stop(row), row.name in WHICH_PLAN)
        for row in (entry.body for entry in rows)
    )
    return Warnings(check.recorded_at, check.body.plan_id, bool(rows), told, corrected)


@dataclass(frozen=True, slots=True)
class Unsettled:
    """The Stop lines of an earlier season that nobody settled, and the pits that they name."""

    season: int
    stops: tuple[Warned, ...]
    corrected: frozenset[str]

    @property
    def pits(self) -> tuple[str, ...]:
        """The pits that the lines name, each once."""
        return tuple(dict.fromkeys(name for one in self.stops for name in one.pits))


def unsettled(record: Record, season: int) -> tuple[Unsettled, ...]:
    """Return the Stops of seasons before `season` that still stand, the last season first.

    A Stop stands until a check of its season no longer says it or every pit that it names is
    withdrawn.
    """
    years = sorted({entry.body.season for entry in record.latest(Check)}, reverse=True)
    found = []
    for year in (year for year in years if year < season):
        warned = check_warnings(record, year)
        gone = withdrawn_pits(record, year)
        open_ones = tuple(one for one in warned.stops if not one.pits or set(one.pits) - gone)
        if open_ones:
            found.append(Unsettled(year, open_ones, warned.corrected))
    return tuple(found)

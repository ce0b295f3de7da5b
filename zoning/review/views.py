"""Entries of the record joined for the pages: a pit with its zone, photos, verdict and review."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from zoning.checks import shows_work
from zoning.contracts import constant
from zoning.model.check import majority
from zoning.outputs.drawing.pit_signs import sign_name
from zoning.records import (
    Check,
    CheckRow,
    Entry,
    Photo,
    Pit,
    Record,
    Review,
    Station,
    places_of,
)
from zoning.review.ground import Ground, ZoneFacts, apart_m
from zoning.review.rules import rule
from zoning.review.words import verdict_said
from zoning.units import tenths
from zoning.workflow.recorded import as_read

UNCHECKED = "not judged"
_ALIKE = 2e-6  # a check keeps numbers to six digits
SEEN = {"yes": "pan", "no": "no pan", "": "pan not noted"}


@dataclass(frozen=True, slots=True, eq=False)
class PitView:
    """One pit as the pages show it; ``lost_photo`` is one that it names and that is not kept."""

    entry: Entry[Pit]
    zone: ZoneFacts | None
    map_part: str
    photos: tuple[Entry[Photo], ...]
    judged: CheckRow | None
    review: Entry[Review] | None
    lost_photo: str = ""

    @property
    def body(self) -> Pit:
        """What the pit says."""
        return self.entry.body

    @property
    def verdict(self) -> str:
        """What a pit before the work shows, or how the newest check judged one after it."""
        if self.body.phase == "before":
            return SEEN[self.body.pan]
        return verdict_said(self.judged.verdict) if self.judged else UNCHECKED

    @property
    def reason(self) -> str:
        """Why the check judged so; blank where it did not."""
        return self.judged.reason if self.judged else ""

    @property
    def stale(self) -> bool:
        """Whether the pit was corrected since it was judged."""
        return self.judged is not None and is_stale(self.body, self.judged)

    @property
    def sign(self) -> str:
        """Name of the sign of the pit; see `pit_signs`."""
        judged = self.judged.verdict if self.judged else ""
        return sign_name(self.body.phase, self.body.pan, judged)

    @property
    def depths(self) -> str:
        """The depths measured, in a few words."""
        return depths_noted(self.body)

    @property
    def place(self) -> tuple[float, float]:
        """Longitude and latitude."""
        return (self.body.lon or 0.0, self.body.lat or 0.0)

    @property
    def reviewed(self) -> bool:
        """Whether the pit was looked through."""
        return self.review is not None and self.review.body.reviewed == "yes"

    @property
    def part(self) -> str:
        """The part noted, else that of the map at this place."""
        return self.body.part or self.map_part

    @property
    def part_words(self) -> str:
        """The part, and whether it is noted or the map's."""
        return self.body.part or (f"{self.map_part} (by the map)" if self.map_part else "not noted")


@dataclass(frozen=True, slots=True)
class Filters:
    """What of the pits is shown; blank: all."""

    phase: str = ""
    part: str = ""
    since: str = ""
    until: str = ""
    verdict: str = ""
    reviewed: str = ""

    def keeps(self, pit: PitView) -> bool:
        """Whether a pit is shown."""
        date = pit.body.date
        return all(
            (
                not self.phase or pit.body.phase == self.phase,
                not self.part or self.part == pit.part,
                not self.since or (bool(date) and date >= self.since),
                not self.until or (bool(date) and date <= self.until),
                not self.verdict or pit.verdict == self.verdict,
                not self.reviewed or pit.reviewed == (self.reviewed == "yes"),
            )
        )


def pit_views(record: Record, ground: Ground, season: int) -> list[PitView]:
    """Return the standing pits of a season, those after the work first, by name."""
    photos: dict[str, list[Entry[Photo]]] = {}
    for photo in record.latest(Photo, season=season):
        photos.setdefault(photo.body.pit_id, []).append(photo)
    reviews = {r.body.about_id: r for r in record.latest(Review, season=season, about="pit")}
    verdicts = last_verdicts(record, season, "pit")
    counted = _counted_zones(record, season, ground)
    found = []
    for entry in record.latest(Pit, season=season, withdrawn=""):
        row = verdicts.get(entry.body.pit) if entry.body.phase == "after" else None
        own = photos.get(entry.record_id, ())
        found.append(
            PitView(
                entry,
                _zone_of(entry.body, row, counted, ground),
                ground.part_at(entry.body.lon, entry.body.lat),
                tuple(photo for photo in own if not photo.body.withdrawn),
                row,
                reviews.get(entry.record_id),
                _lost(entry.body.photo, own),
            )
        )
    return sorted(found, key=lambda pit: (pit.body.phase, as_counted(pit.body.pit)))


def pits_withdrawn(record: Record, season: int) -> list[Entry[Pit]]:
    """Return the pits of a season that are withdrawn, by name."""
    held = record.latest(Pit, season=season, withdrawn="yes")
    return sorted(held, key=lambda entry: (as_counted(entry.body.pit), entry.record_id))


def _lost(name: str, photos: Iterable[Entry[Photo]]) -> str:
    """Return the photo that a pit names where none of its photos is that one."""
    return "" if {photo.body.path for photo in photos} & set(places_of(name)) else name


def is_stale(pit: Pit, judged: CheckRow) -> bool:
    """Return whether a pit is another now than it was judged as.

    A check that was kept before the pits were kept with it as read tells the part by the map alone.
    """
    held = json.loads(judged.facts)
    then = held.get("as_read", {name: held[name] for name in held if name != "part"})
    now = as_read(pit)
    return any(not _alike(then[name], now[name]) for name in now if name in then)


def depths_noted(pit: Pit) -> str:
    """Return the depths measured in a pit, in a few words."""
    if pit.phase == "before":
        noted = (("top", pit.pan_top_cm), ("base", pit.pan_base_cm))
    else:
        noted = (("at a leg", pit.loosened_at_leg_cm), ("between", pit.loosened_between_cm))
    return ", ".join(f"{where} {cm:g} cm" for where, cm in noted if cm is not None)


def _alike(one: object, other: object) -> bool:
    if isinstance(one, (int, float)) and isinstance(other, (int, float)):
        return abs(one - other) <= _ALIKE
    return one == other


def as_counted(name: str) -> list[tuple[str, int]]:
    """Return a name so that A2 comes before A10."""
    return [(text, int(count or 0)) for text, count in re.findall(r"(\D*)(\d*)", name)]


def last_verdicts(record: Record, season: int, about: str) -> dict[str, CheckRow]:
    """Return the rows of the newest check, by name."""
    check = last_check(record, season)
    if check is None:
        return {}
    rows = record.latest(CheckRow, check_id=check.record_id, about=about)
    return {row.body.name: row.body for row in rows}


def pits_of_zone(record: Record, season: int, ground: Ground, zone: int) -> list[str]:
    """Return the after-pits of a zone, with those withdrawn and those that the check judged there.

    What the check says of the zone, and its cautions, may still go by them.
    """
    rows = last_verdicts(record, season, "pit")
    counted = _counted_zones(record, season, ground)
    found = [
        (entry.body.pit, _zone_of(entry.body, rows.get(entry.body.pit), counted, ground))
        for entry in record.latest(Pit, season=season, phase="after")
    ]
    for name, row in rows.items():
        held = json.loads(row.facts)
        at_place = ground.zone_at(held.get("lon"), held.get("lat"))
        found.append((name, counted.get(name, at_place)))
    here = {name for name, facts in found if facts is not None and facts.zone == zone}
    return sorted(here, key=as_counted)


def _counted_zones(record: Record, season: int, ground: Ground) -> dict[str, ZoneFacts]:
    """Return the zone that the newest check counted each pit for, if it went by this plan."""
    check = last_check(record, season)
    if check is None or check.body.plan_id != ground.plan_id:
        return {}
    rows = last_verdicts(record, season, "pit").items()
    told = {name: json.loads(row.facts) for name, row in rows if row.verdict != "not_judged"}
    found = {name: ground.zone(facts.get("zone", 0)) for name, facts in told.items()}
    return {name: facts for name, facts in found.items() if facts is not None}


def _zone_of(
    pit: Pit, judged: CheckRow | None, counted: Mapping[str, ZoneFacts], ground: Ground
) -> ZoneFacts | None:
    """Return the zone a pit counts for: by the check if it is as it was then, else by place."""
    if judged is None or pit.pit not in counted or is_stale(pit, judged):
        return ground.zone_at(pit.lon, pit.lat)
    return counted[pit.pit]


def zone_verdict(record: Record, season: int, ground: Ground, zone: int) -> str:
    """Return how the newest check judged a zone; blank where it was made against another plan."""
    check = last_check(record, season)
    row = last_verdicts(record, season, "zone").get(str(zone))
    if check is None or row is None or check.body.plan_id != ground.plan_id:
        return ""
    facts = json.loads(row.facts)
    so_far = str(facts.get("so_far", "")) if _most(facts) else ""
    words = verdict_said(row.verdict, so_far, pits=int(facts.get("pits", 0)))
    return f"{words}. {row.reason}" if row.reason else words


def _most(facts: Mapping[str, Any]) -> bool:
    """Whether most pits of a zone show what is told so far; a check kept long ago may not say."""
    try:
        return majority(facts)
    except KeyError:
        return False


def last_check(record: Record, season: int) -> Entry[Check] | None:
    """Return the newest check of a season."""
    checks = record.latest(Check, season=season)
    return checks[-1] if checks else None


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """The pit of the other phase that a pit is set beside, and how they belong together."""

    other: PitView | None
    words: str


def partner(pit: PitView, views: Iterable[PitView]) -> Pair:
    """Return the nearest pit of the other phase on the same part: at one place, else in one zone.

    The part is that noted, else that of the map. A pit of the same zone further off than
    ``pair_zone_m`` says too little of this place to stand beside it; so does one of before that
    shows what the work left (`zoning.checks.shows_work`).
    """
    held = list(views)
    others = [o for o in held if o.body.phase != pit.body.phase and _parts_agree(o, pit)]
    if pit.body.phase == "after":
        days = {o.body.date for o in held if o.body.phase == "before"} - {""}
        first = min(days, default="")
        others = [o for o in others if not shows_work(o.body.date, pit.body.date, first)]
    ranked = sorted(((apart_m(o.place, pit.place), o.body.pit, o) for o in others), key=_rank)
    if ranked and ranked[0][0] <= constant("check_rules", "pair_place_m"):
        return Pair(ranked[0][2], f"At one place, {ranked[0][0]:.0f} m apart.")
    near_m = rule("pair_zone_m")
    same = [row for row in ranked if pit.zone and row[2].zone is pit.zone and row[0] <= near_m]
    if same:
        return Pair(
            same[0][2], f"Not at one place: the same zone and part, {tenths(same[0][0])} m apart."
        )
    word = "after" if pit.body.phase == "before" else "before"
    where = f"within {near_m:g} m in this zone and part"
    return Pair(None, f"No pit {word} the work at this place or {where}.")


def _rank(row: tuple[float, str, PitView]) -> tuple[float, str]:
    return row[:2]


def _parts_agree(one: PitView, other: PitView) -> bool:
    return not one.part or not other.part or one.part == other.part


@dataclass(frozen=True, slots=True, eq=False)
class Cone:
    """A cone station beside a pit: its name, how far away, its part, its profiles."""

    name: str
    apart_m: float
    date: str
    part: str
    profiles: tuple[tuple[tuple[float, float | None], ...], ...]


def cone_beside(record: Record, season: int, pit: PitView, phase: str) -> Cone | None:
    """Return the nearest cone station of a phase, ``None`` where none is near."""
    ranked = _ranked(record.latest(Station, season=season, phase=phase), pit)
    if not ranked or ranked[0][0] > rule("chart_station_m"):
        return None
    gap, _, body = ranked[0]
    return Cone(body.station, gap, body.date, body.part, _profiles(body.profiles))


def _ranked(entries: Sequence[Entry[Station]], pit: PitView) -> list[tuple[float, str, Station]]:
    rows = [
        (apart_m((e.body.lon or 0.0, e.body.lat or 0.0), pit.place), e.body.station, e.body)
        for e in entries
    ]
    return sorted(rows, key=lambda row: row[:2])


def _profiles(text: str) -> tuple[tuple[tuple[float, float | None], ...], ...]:
    held: list[Any] = json.loads(text)
    return tuple(tuple((depth, value) for depth, value in push) for _, push in held)

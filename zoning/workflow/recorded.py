"""Rows of the files of a field as entries of the season record."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from itertools import groupby
from operator import itemgetter
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.errors import Fault, InputRefused
from zoning.model import Notice
from zoning.outputs.places import decimals
from zoning.records import NAME, Body, CheckRow, Draft, Entry, Pit, Record, Station, Trial
from zoning.workflow.left_over import Named, left_in_files, of_earlier_seasons
from zoning.workflow.season_dates import Seasoned, season_of, today

_SPACE = uuid.UUID("6f3d6f7e-54a0-5c0f-9d0a-5f7f4f5b8a11")
_PIT_NUMBERS = (
    "lon", "lat", "pan_top_cm", "pan_base_cm", "structure_score", "loosened_at_leg_cm",
    "loosened_between_cm", "speed_km_h",
)  # fmt: skip
_PIT_TEXTS = ("pit", "phase", "date", "part", "pan", "moisture", "photo", "note")
_NOT_JUDGED = ("pit", "phase", "photo", "note")
_TRIAL_NUMBERS = ("speed_km_h", "depth_setting_cm", "loosened_at_leg_cm", "loosened_between_cm")
_PLACE = ("place_from", "place_error_m")


def known_season(held: Seasoned) -> int:
    """Return the season of a field, which the record needs.

    Raises
    ------
    InputRefused
        If neither the settings nor a date say which: kept without, it would be kept again once
        they do.
    """
    season = season_of(held)
    if season:
        return season
    what = "Nothing says which season this is: none is stated, no reading or pit bears a date."
    remedy = (
        "Give readings and pits their dates; or add under [field] the year of the harvest after "
        f"which the field is worked, as season = {today()[:4]}. Then run the command again."
    )
    raise InputRefused([Fault("field.toml", what, remedy, column="season")])


def pit_bodies(pits: pd.DataFrame, season: int) -> list[Pit]:
    """Return the pits of a frame of the reader."""
    return [
        Pit(season=season, place_from="file", **_pit_fields(row))
        for row in pd.DataFrame(pits)[[*_PIT_TEXTS, *_PIT_NUMBERS]].to_dict("records")
    ]


def _pit_fields(row: Mapping[Any, Any]) -> dict[str, Any]:
    """Return the columns of a pit as the record spells them; the record checks each."""
    texts = {name: str(row[name]) for name in _PIT_TEXTS}
    return {**texts, **{name: _number(row[name]) for name in _PIT_NUMBERS}}


def as_read(pit: Pit) -> dict[str, Any]:
    """Return every column of a pit that a check may go by, by name."""
    names = (*_PIT_TEXTS, *_PIT_NUMBERS)
    return {name: getattr(pit, name) for name in names if name not in _NOT_JUDGED}


def trial_bodies(trials: pd.DataFrame, season: int) -> list[Trial]:
    """Return the trial runs of a frame of the reader."""
    return [
        Trial(
            season=season,
            run=str(row["run"]),
            surface=row["surface"],
            note=str(row["note"]),
            **{name: _number(row[name]) for name in _TRIAL_NUMBERS},
        )
        for row in trials.to_dict("records")
    ]


def station_bodies(
    cone: pd.DataFrame, stations: pd.DataFrame | None, season: int, phase: str
) -> list[Station]:
    """Return the cone stations with their profiles; their verdicts where `stations` has them."""
    judged: dict[str, dict[str, Any]] = {}
    if stations is not None:
        cones = pd.DataFrame(stations[stations["kind"] == "cone"])
        judged = {str(row["station"]): row for row in cones.to_dict("records")}  # type: ignore[misc]
    ordered = pd.DataFrame(cone).sort_values(["insertion", "depth_cm", "row"], kind="stable")
    first = ordered.drop_duplicates("station").set_index("station")
    by_station = ordered.groupby("station", sort=True)
    where = by_station[["lon", "lat"]].mean().assign(date=first["date"], part=first["part"])
    pushes = ordered[["insertion", "depth_cm", "cone_index_mpa"]].to_numpy(dtype=np.float64)
    return [
        _station(str(name), held, pushes[rows], judged.get(str(name), {}), season, phase)
        for (name, rows), held in zip(
            by_station.indices.items(), where.to_dict("records"), strict=True
        )
    ]


def caution_rows(notices: Sequence[Notice], check_id: str, season: int) -> list[CheckRow]:
    """Return the cautions of a check in its order, as rows of the check about ``advice``."""
    most = int(constant("record_rules", "note_letters"))
    return [
        CheckRow(
            season=season,
            check_id=check_id,
            about="advice",
            name=notice.code,
            verdict=notice.level,
            reason=notice.text[:most],
            facts=json.dumps({"pits": notice.pits}, ensure_ascii=False) if notice.pits else "{}",
        )
        for notice in notices
        if notice.level == "caution"
    ]


def left_out_rows(left_out: pd.DataFrame, check_id: str, season: int) -> list[CheckRow]:
    """Return the rows of pits in the files that a check left out, each with the reason."""
    own = (left_out["pit_phase"] != "") & (left_out["file"] != NAME)
    most = int(constant("record_rules", "note_letters"))
    return [
        CheckRow(
            season=season,
            check_id=check_id,
            about="advice",
            name="left-out",
            verdict="note",
            reason=f"Left out: {row.file}, row {row.row}: {row.what}. {row.reason}"[:most],
        )
        for row in left_out[own].itertuples(index=False)
    ]


def _station(
    name: str,
    held: Mapping[Any, Any],
    pushes: NDArray[np.float64],
    judged: dict[str, Any],
    season: int,
    phase: str,
) -> Station:
    """Return a station; `pushes` holds insertion, depth [cm] and cone index [MPa], in order."""
    return Station(
        season=season,
        station=name,
        phase=phase,  # type: ignore[arg-type]
        date=str(held["date"]),
        lon=round(float(held["lon"]), decimals()),
        lat=round(float(held["lat"]), decimals()),
        part=str(judged.get("part_used", held["part"]) or ""),
        verdict=str(judged.get("verdict", "")),
        pan_top_cm=_number(judged.get("pan_top_cm")),
        pan_base_cm=_number(judged.get("pan_base_cm")),
        censored=_yes_no(judged.get("censored")),
        used=_yes_no(judged.get("used")),
        reason=str(judged.get("reason", "")),
        profiles=json.dumps(_profiles(pushes), separators=(",", ":")),
    )


def _profiles(pushes: NDArray[np.float64]) -> list[list[Any]]:
    return [
        [
            int(insertion),
            [
                [round(depth, 2), None if np.isnan(value) else round(value, 4)]
                for _, depth, value in push
            ],
        ]
        for insertion, push in groupby(pushes.tolist(), key=itemgetter(0))
    ]


def file_drafts(
    record: Record,
    bodies: Sequence[Body],
    *,
    origin: str,
    by_whom: str = "",
    files: Mapping[Named, str] = MappingProxyType({}),
) -> tuple[list[Draft[Any]], list[Notice]]:
    """Return what the record lacks of `bodies`, and what must be told of corrections overruled.

    A body that says what the same file, or the latest version, says already is not kept again, nor
    is what was left in its file from an earlier season; `files` says in which. A
    station that a plan judged is not overwritten by the same station without a verdict.
    """
    drafts: list[Draft[Any]] = []
    earlier = of_earlier_seasons(record, bodies)
    notices = left_in_files(earlier, files)
    passed_over = {id(one.body) for one in earlier if one.passed_over}
    for kind in dict.fromkeys(type(body) for body in bodies):
        trails = trails_of(record.everything(kind))
        for body in (body for body in bodies if type(body) is kind and id(body) not in passed_over):
            trail = trails.get(key_of(body), [])
            if _known(body, trail):
                continue
            drafts.append(_draft(body, trail, origin, by_whom))
            if isinstance(body, Pit) and trail and trail[-1].origin == "page":
                notices += overruled(body, trail)
    return drafts, notices


def trails_of(entries: Sequence[Entry[Any]]) -> dict[tuple[object, ...], list[Entry[Any]]]:
    """Return the versions of each record by `key_of` its latest version, or of an earlier one."""
    by_id: dict[str, list[Entry[Any]]] = {}
    for entry in entries:
        by_id.setdefault(entry.record_id, []).append(entry)
    found: dict[tuple[object, ...], list[Entry[Any]]] = {}
    for trail in by_id.values():
        for entry in trail:  # a record that was given another name is still known by its old one
            found.setdefault(key_of(entry.body), trail)
    for trail in sorted(by_id.values(), key=lambda t: not getattr(t[-1].body, "withdrawn", "")):
        found[key_of(trail[-1].body)] = trail
    return found


def key_of(body: Body) -> tuple[object, ...]:
    """Return what tells the record of a body apart from others of its table."""
    return tuple(getattr(body, name) for name in type(body).KEY)


def _known(body: Body, trail: Sequence[Entry[Any]]) -> bool:
    if not trail:
        return False
    from_files = [entry.body for entry in trail if entry.origin != "page"]
    told = (trail[-1].body, *from_files[-1:])
    if isinstance(body, Station) and not body.verdict:
        return any(entry.profiles == body.profiles for entry in told)
    return any(_same(body, other) for other in told)


def _same(body: Body, other: Body) -> bool:
    """Whether two bodies say the same, how the place of a pit was found left aside."""
    if isinstance(body, Pit) and isinstance(other, Pit):
        aside: dict[str, Any] = {name: getattr(body, name) for name in _PLACE}
        return body == replace(other, **aside)
    return body == other


def _draft(body: Body, trail: Sequence[Entry[Any]], origin: str, by_whom: str) -> Draft[Any]:
    first = uuid.uuid5(_SPACE, json.dumps([type(body).TABLE, *key_of(body)])).hex
    record_id = trail[-1].record_id if trail else first
    based_on = trail[-1].version if trail else 0
    said = json.dumps([record_id, based_on, asdict(body)], sort_keys=True)
    row_id = uuid.uuid5(_SPACE, said).hex
    return Draft(
        body=body,
        row_id=row_id,
        record_id=record_id,
        based_on=based_on,
        origin=origin,
        by_whom=by_whom,
    )


def overruled(body: Pit, trail: Sequence[Entry[Pit]]) -> list[Notice]:
    """Return a caution where the row of a file stands in place of what the review page said.

    `trail` holds the versions of the pit; nothing is told where the page says the same.
    """
    last = next((entry for entry in reversed(trail) if entry.origin == "page"), None)
    if last is None or _same(body, last.body):
        return []
    done = "withdrawn" if last.body.withdrawn else "corrected" if last.version > 1 else "entered"
    text = (
        f"Pit {body.pit}: its row in the file changed after it was {done} on the review page "
        f"({last.recorded_at[:10]}). The file now counts; what the page said stays in the trail "
        "of edits."
    )
    return [Notice("caution", "file-changed-after-correction", text)]


def _number(value: object) -> float | None:
    if value is None or not isinstance(value, (int, float, np.floating, np.integer)):
        return None
    number = float(value)
    return number if np.isfinite(number) else None


def _yes_no(value: object) -> Any:
    return "" if value is None else "yes" if bool(value) else "no"

"""Everything the map page shows, as one JSON document; the page only draws it.

Numbers that stand on paper or in a terminal too are rounded here, once, and travel as text: a
page that rounded a rounded number would differ from them.

Places are whole steps of a degree from the middle of the field (`map_page.places`), cone indices
whole steps of a megapascal (`map_page.readings`): small, and exact enough to see.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant, deepest_cm
from zoning.model import Notice, Plan
from zoning.outputs.bars import ASSUMED_IN_PART, STANDING, assumed_machine, pins_assumed
from zoning.outputs.drawing.grounds import gaps
from zoning.outputs.drawing.pit_signs import PIT_SIGNS
from zoning.outputs.drawing.plan import Hazard, depth_tones, gateway_places, hazards_in_order
from zoning.outputs.drawing.zone_labels import HELD_ZONE
from zoning.outputs.guessed import FAR, unread_parts
from zoning.outputs.map_page.backdrop import backdrop_record
from zoning.outputs.map_page.places import RULES, Places
from zoning.outputs.map_page.rasters import surfaces
from zoning.outputs.map_page.readings import pit_records, station_records
from zoning.outputs.plain import plain
from zoning.outputs.reading_rows import reading_dates
from zoning.outputs.rows import passes_in_order, zones_in_order
from zoning.outputs.sheet.tables import known
from zoning.outputs.sheet.words import before_digging
from zoning.units import as_number

ZONE_DECIMALS = 4
"""Decimals of the numbers of a zone, as hectares are written elsewhere."""
_AREA = 2
_SHOWN = {"area_ha": _AREA, "time_min": 0, "fuel_l": 0, "pan_base_cm": 1}

_READ_BY_PAGE = ("edge_told_m", "beside_pass_m", "between_zones_m", "rough_m")
_ZONE = (
    "zone", "depth_cm", "area_ha", "parts", "pan_base_cm", "assurance", "cleared", "pin_hole",
    "time_min", "fuel_l", "cautions", "machine_changes", "machine_notes",
)  # fmt: skip


def map_document(plan: Plan) -> dict[str, Any]:
    """Return the data of the map page; the same for the same plan, whatever its row order."""
    places = Places.around(plan)
    stations, depths = station_records(plan, places)
    return {
        "plan": _identity(plan),
        "origin": [places.lon, places.lat],
        "steps_a_degree": constant(RULES, "steps_a_degree"),
        "cone_steps_a_mpa": constant(RULES, "cone_steps_a_mpa"),
        "edge_m": 2 * constant(RULES, "simplify_m"),
        "outline": places.polygons(plan.boundary),
        "gaps": _gaps(plan, places),
        "zones": _zones(plan, places),
        "depth_areas": _depth_areas(plan),
        "parts": _parts(plan, places),
        "gateways": [places.point(at.x, at.y) for at in gateway_places(plan)],
        "passes": _passes(plan, places),
        "changes": _changes(plan, places),
        "depths": depths,
        "pit_signs": {phase: PIT_SIGNS[phase].outline for phase in ("before", "after")},
        "stations": stations,
        "pits": pit_records(plan, places),
        "hazards": _hazards(plan, places),
        "unsure": _unsure(plan, places),
        "surfaces": surfaces(plan, places),
        "backdrop": backdrop_record(plan, places),
        "cautions": cautions_in_order(plan),
        "notes": notes_in_order(plan),
    }


def cautions_in_order(plan: Plan) -> list[str]:
    """Return the cautions, on buried services first, then Stops that stand and guessed ground."""
    held = [notice for notice in plan.notices if notice.level == "caution"]
    return [notice.text for notice in sorted(held, key=_rank)]


def _rank(notice: Notice) -> int:
    if notice.code.startswith("services-"):
        return 0
    return 1 if notice.code in {STANDING, "no-pan-found", "part-guessed"} else 2


def guessed_parts(plan: Plan) -> list[str]:
    """Return the parts whose depth is guessed, since no station or pit was read there."""
    return unread_parts(plan.parts, plan.stations)


def notes_in_order(plan: Plan) -> list[str]:
    """Return the notes."""
    return [notice.text for notice in plan.notices if notice.level == "note"]


def until_cleared(plan: Plan) -> dict[str, float | int | None]:
    """Return the deepest setting that is not deeper than the notice depth, and its pin hole.

    It is the most that may be set on ground NOT CLEARED; 0 cm, legs lifted, where the machine has
    no setting so shallow. Holes are counted from 1 for the shallowest; none is told where their
    depths are assumed.
    """
    return _most_within(plan, plan.settings.hazards.notice_depth_cm)


def _most_within(plan: Plan, limit_cm: float) -> dict[str, float | int | None]:
    """Return the deepest setting that is not deeper than a limit, and its pin hole."""
    machine = plan.settings.machine
    free = [depth for depth in machine.settings_cm if depth <= limit_cm]
    if not free:
        return {"depth_cm": 0.0, "pin_hole": None}
    pins = machine.depth_control == "pins" and not pins_assumed(plan)
    hole = len(free) if pins else None
    return {"depth_cm": round(free[-1], 3), "pin_hole": hole}


def assumed_short(plan: Plan) -> str:
    """Return that the machine is assumed, or part of it that depths rest on; nothing else."""
    if assumed_machine(plan):
        return "machine assumed"
    return "machine assumed in part" if _assumed_in_part(plan) else ""


def assumed_words(plan: Plan) -> str:
    """Return at length what `assumed_short` says."""
    if machine := assumed_machine(plan):
        return f"Depths of an ASSUMED machine: {machine}. Measure yours and plan again."
    return _assumed_in_part(plan)


def _assumed_in_part(plan: Plan) -> str:
    """Return the caution on keys left out that depths rest on; nothing where all were given."""
    told = [one for one in plan.notices if one.code == ASSUMED_IN_PART and one.level == "caution"]
    return told[0].text if told else ""


def _identity(plan: Plan) -> dict[str, Any]:
    field, machine = plan.settings.field, plan.settings.machine
    return {
        "id": plan.plan_id,
        "field": field.name,
        "season": field.season,
        "dates": reading_dates(plan),
        "limit_mpa": plan.settings.readings.limit_mpa,
        "clearance_cm": plan.settings.depth.clearance_cm,
        "assurance": plan.settings.depth.assurance,
        "notice_depth_cm": plan.settings.hazards.notice_depth_cm,
        "until_cleared": until_cleared(plan),
        "reach_m": constant(RULES, "behind_m") + machine.width_m,
        "near_m": constant("surface_rules", "near_distance_m"),
        **{name: constant(RULES, name) for name in _READ_BY_PAGE},
        "pins": machine.depth_control == "pins",
        "pins_assumed": pins_assumed(plan),
        "assumed": assumed_short(plan),
        "assumed_words": assumed_words(plan),
        "located": plan.settings.hazards.located,
        "digging": before_digging(plan),
        "width_m": machine.width_m,
        "working_crs": plan.working_crs if len(plan.working_crs) <= 16 else "own system",
    }


def _zones(plan: Plan, places: Places) -> list[dict[str, Any]]:
    zones = zones_in_order(plan)
    tones = depth_tones([float(depth) for depth in zones["depth_cm"]])
    held = [name for name in _ZONE if name in zones]
    rows = pd.DataFrame(zones)[held].to_dict("records")
    guessed = plan.parts[plan.parts["part"].isin(guessed_parts(plan))].sort_values("part")
    off = [(hazard.called, _keep_off(plan, hazard)) for hazard in _lifted_over(plan)]
    return [
        _numbers({str(key): value for key, value in row.items()})
        | {"shown": _shown(row)}
        | {"guessed": _met(area, zip(guessed["part"], guessed.geometry, strict=True))}
        | {"held_back": row["depth_cm"] > 0 and HELD_ZONE in str(row.get("cautions"))}
        | {"keep_off": _met(area, off) if row["depth_cm"] <= 0 else []}
        | _label_places(area, places)
        | {"tone": tones.get(float(row["depth_cm"]), ""), "shape": places.polygons(area)}
        for row, area in zip(rows, zones.geometry, strict=True)
    ]


def _shown(row: Mapping[Any, Any]) -> dict[str, str]:
    """Return the numbers of a zone as they are to be read, blank where not known."""
    held = {name: row[name] for name in _SHOWN if name in row and not pd.isna(row[name])}
    told = {name: known(value, _SHOWN[name]) for name, value in held.items()}
    return told | {"assurance": f"{100 * row['assurance']:.0f}"}


def _depth_areas(plan: Plan) -> list[list[Any]]:
    """Return each depth, 0 first, with the hectares of its zones as they are to be read."""
    area = zones_in_order(plan).groupby("depth_cm", sort=True)["area_ha"].sum()
    return [[as_number(depth), known(float(ha), _AREA)] for depth, ha in area.items()]


def _lifted_over(plan: Plan) -> list[Hazard]:
    """Return the hazards about which the legs are lifted out, whatever their depth."""
    hazards = hazards_in_order(plan)
    return [one for one in hazards if deepest_cm(one.kind, one.depth_cm) <= 0]


def _met(area: BaseGeometry, named: Iterable[tuple[str, BaseGeometry]]) -> list[str]:
    """Return the names of the ground that `area` holds more than a sliver of."""
    least = constant("plan_rules", "ground_told_m2")
    return [str(name) for name, ground in named if area.intersection(ground).area > least]


def _numbers(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row as JSON knows it, numbers to `ZONE_DECIMALS`."""
    return {
        key: round(value, ZONE_DECIMALS) if isinstance(value, float) else value
        for key, value in plain(row).items()
    }


def _gaps(plan: Plan, places: Places) -> list[dict[str, Any]]:
    """Return where ground inside the boundary that is not of the field can bear a label."""
    spots = [_roomiest(gap.difference(plan.boundary)) for gap in gaps(plan)]
    return [{"at": places.point(x, y), "room_m": round(room, 1)} for x, y, room in spots]


def _label_places(area: BaseGeometry, places: Places) -> dict[str, Any]:
    """Return where labels may stand in `area`: middles and radii of large circles inside it.

    ``at`` and ``room_m`` are those of the largest. ``more`` has one for every further stretch of a
    long strip and every lump that only a sliver joins to the rest, so that each can be told.
    """
    least, every = constant(RULES, "label_room_least_m"), constant(RULES, "label_every_m")
    x, y, room_m = _roomiest(area)
    found, left = [(x, y, room_m)], area
    while len(found) < int(constant(RULES, "labels_a_zone_most")):
        last = shapely.Point(found[-1][:2])
        left = left.difference(last.buffer(max(every, 2 * found[-1][2]), quad_segs=4))
        left = shapely.union_all([one for one in shapely.get_parts(left) if one.area > least**2])
        if left.is_empty or (spot := _roomiest(left))[2] < least:
            break
        found.append(spot)
    told = [[*places.point(x, y), round(room, 1)] for x, y, room in found]
    return {"at": told[0][:2], "room_m": told[0][2], "more": told[1:]}


def _roomiest(area: BaseGeometry) -> tuple[float, float, float]:
    """Return the middle of the largest circle inside the largest part of `area`, its radius."""
    largest = max(shapely.get_parts(area), key=lambda part: (part.area, part.wkb))
    radius = shapely.maximum_inscribed_circle(largest, tolerance=0.5)
    x, y = shapely.get_coordinates(radius)[0]
    return float(x), float(y), float(radius.length)


def _parts(plan: Plan, places: Places) -> list[dict[str, Any]]:
    parts = plan.parts.sort_values(["part", "kind"], kind="stable")
    columns = (parts["part"], parts["kind"], parts["area_ha"], parts.geometry)
    guessed = guessed_parts(plan)
    return [
        {"part": str(part), "kind": str(kind), "area": known(float(ha), _AREA),
         "guessed": part in guessed,
         "shape": places.polygons(area), **_label_places(area, places)}
        for part, kind, ha, area in zip(*columns, strict=True)
    ]  # fmt: skip


def _passes(plan: Plan, places: Places) -> list[dict[str, Any]]:
    """Return a record a pass: its number and its runs, each with depth and line."""
    runs = passes_in_order(plan)
    return [
        {
            "pass": int(as_number(number)),
            "runs": [
                [round(float(depth), 2), places.lines(line)[0]]
                for depth, line in zip(held["depth_cm"], held.geometry, strict=True)
            ],
        }
        for number, held in runs.groupby("pass", sort=True)
    ]


def _changes(plan: Plan, places: Places) -> list[list[Any]]:
    """Return each change of depth along a pass: place, pass, metres from its start, old, new."""
    runs = passes_in_order(plan)
    rows = runs[["pass", "from_m", "depth_cm"]].to_numpy(dtype=np.float64)
    starts = [shapely.get_coordinates(line)[0] for line in runs.geometry]
    found: list[list[Any]] = []
    for (before, after), start in zip(pairwise(rows), starts[1:], strict=True):
        if before[0] == after[0] and before[2] != after[2]:
            depths = [round(float(before[2]), 2), round(float(after[2]), 2)]
            found.append([*places.point(*start), int(after[0]), round(float(after[1]), 1), *depths])
    return found


def _hazards(plan: Plan, places: Places) -> list[dict[str, Any]]:
    return [
        {
            "tag": hazard.tag,
            "kind": hazard.kind,
            "name": hazard.name,
            "called": hazard.called,
            "depth_cm": plain(hazard.depth_cm),
            "cover_not_known": hazard.cover_not_known,
            "allowed_cm": float(deepest_cm(hazard.kind, hazard.depth_cm)),
            "most": _most_within(plan, float(deepest_cm(hazard.kind, hazard.depth_cm))),
            "clear_m": _clear_m(plan, hazard),
            "clear_given": bool(np.isfinite(hazard.clear_m)),
            "lines": places.lines(hazard.geometry),
            "points": places.points(hazard.geometry),
            "areas": places.polygons(hazard.geometry),
            "keep_off": places.polygons(_keep_off(plan, hazard)),
        }
        for hazard in hazards_in_order(plan)
    ]


def _keep_off(plan: Plan, hazard: Hazard) -> BaseGeometry:
    return hazard.geometry.buffer(_clear_m(plan, hazard), quad_segs=8)


def _clear_m(plan: Plan, hazard: Hazard) -> float:
    return round(hazard.keep_off_m(plan.settings.machine.width_m), 3)


def _unsure(plan: Plan, places: Places) -> list[dict[str, Any]]:
    within = shapely.intersection(plan.uncertain.geometry.to_numpy(), plan.boundary)
    order = sorted(
        zip(plan.uncertain["reason"], within, strict=True),
        key=lambda row: (str(row[0]), shapely.normalize(row[1]).wkb),
    )
    return [
        {"reason": str(reason), "unread": reason == FAR, "shape": places.polygons(area)}
        | ({"at": places.point(*_roomiest(area)[:2])} if reason == FAR else {})
        for reason, area in order
    ]

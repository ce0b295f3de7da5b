"""The cautions every plan carries, and those that its own facts call for."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from zoning.contracts import NOT_CLEARED, rows
from zoning.depths import Places
from zoning.model import Notice, Settings
from zoning.model.settings import MachineSection
from zoning.outputs.bars import STANDING, reckoned_with
from zoning.outputs.drawing.zone_labels import GUESSED_ZONE, HELD_ZONE
from zoning.outputs.guessed import unread_parts
from zoning.outputs.sheet.words import RIDGE
from zoning.workflow.disagree import said_once
from zoning.workflow.evidence_notices import EVIDENCE, SEVERAL_DATES
from zoning.workflow.pieces import UNPROBED
from zoning.workflow.support import NONE_MET

ALWAYS = ("wet-soil", "slopes", "hydraulics", "trial-pit", "local-rules")


def standing(
    settings: Settings, hazards: gpd.GeoDataFrame, zones: gpd.GeoDataFrame
) -> list[Notice]:
    """Return the cautions on services, drains, depth, soil and slopes, the gravest first."""
    codes = []
    if (zones["cleared"] == NOT_CLEARED).any():
        codes.append("not-cleared")
    if hazards.empty:
        codes.append("no-hazards")
    elif (hazards["kind"] == "drain").any():
        codes.append("drains")
    machine = settings.machine
    if replace(machine, travel_heading_deg=None) == MachineSection():
        codes.append("assumed-machine")
    texts = {row["code"]: row["text"] for row in rows("cautions")}
    texts["assumed-machine"] += f" Reckoned with: {reckoned_with(machine)}."
    notice = f"{settings.hazards.notice_depth_cm:g}"
    texts["not-cleared"] = texts["not-cleared"].format(notice_depth_cm=notice)
    others = [Notice("caution", code, texts[code]) for code in [*codes, *ALWAYS]]
    return [on_services(settings), *others]


def on_services(settings: Settings) -> Notice:
    """Return the caution on buried services, with the reference that stands in the settings."""
    code = settings.hazards.services_code
    text = next(row["text"] for row in rows("cautions") if row["code"] == code)
    return Notice("caution", code, text + _reference(settings))


def _reference(settings: Settings) -> str:
    """Return the enquiry or locate reference as a sentence; none given is said where it matters."""
    given = settings.hazards.reference.strip()
    if given:
        return f" Reference: {given}."
    return " No reference was given." if settings.hazards.services == "records" else ""


PART_GUESSED = "part-guessed"


def notice_cm(settings: Settings) -> float:
    """Return the deepest work that asks for no located services [cm]; infinite where they were."""
    hazards = settings.hazards
    return math.inf if hazards.located else hazards.notice_depth_cm


def cleared(depth_cm: float, settings: Settings) -> str:
    """Return the word on buried services at `depth_cm`; it never says that work is safe."""
    if depth_cm <= 0:
        return "lifted out"
    if settings.hazards.located:
        return "located"
    if depth_cm > notice_cm(settings):
        return NOT_CLEARED
    return "not deeper than notice depth"


def guessed_in(
    parts: pd.DataFrame, stations: pd.DataFrame, places: Places, piece_zone: NDArray[np.int64]
) -> pd.Series:
    """Return which parts that nobody read each zone holds ground of, by the number of the zone.

    Parameters
    ----------
    parts, stations
        As `zoning.outputs.guessed.unread_parts` takes them.
    places
        Ground of each part in each piece.
    piece_zone
        Zone number of each piece, shape ``(pieces,)``.
    """
    here = np.isin(places.part, unread_parts(parts, stations))
    held = pd.DataFrame({"zone": piece_zone[places.piece[here]], "part": places.part[here]})
    told = held.drop_duplicates().sort_values(["zone", "part"]).groupby("zone")["part"]
    return told.agg(" and ".join)


def zone_cautions(
    zones: gpd.GeoDataFrame,
    keep_off: gpd.GeoDataFrame,
    guessed: pd.Series,
    held: Collection[int] = (),
) -> list[str]:
    """Return what each zone must be told apart from the field, the gravest first.

    That is where it is not cleared, which of its ground is guessed, and the hazards it touches.

    Parameters
    ----------
    zones
        ``zone, depth_cm, cleared`` and geometry.
    keep_off
        ``kind, cap_cm`` and the keep-off polygon of each hazard.
    guessed
        Parts that nobody read in a zone, by its number; see `guessed_in`.
    held
        Numbers of the zones that a hazard holds up; see `zoning.workflow.held.held_up`.
    """
    columns = zones["zone"], zones["cleared"], zones.geometry
    stay = np.where(zones["depth_cm"] > 0, "set no deeper", "leave the legs lifted")
    return [
        "; ".join(
            [
                *([f"{NOT_CLEARED}: services not located"] if word == NOT_CLEARED else []),
                *([_guessed(guessed[zone])] if zone in guessed.index else []),
                *_hazards_in(shape, keep_off),
                *([f"{HELD_ZONE}{up}"] if zone in held else []),
            ]
        )
        for zone, word, shape, up in zip(*columns, stay, strict=True)
    ]


def _guessed(parts: str) -> str:
    return f"{GUESSED_ZONE}no station read {parts}, probe or dig there and plan again first"


HAZARD_CAUTION = "(?:drain|service|obstacle): "  # how a caution of a zone on a hazard begins
_LIFTED = {
    "drain": "legs lifted out over it, cross only where its owner allows",
    "service": "legs lifted out near it, cross only where its owner allows",
    "obstacle": "legs lifted out near it, keep off and go round",
}


def _hazards_in(shape: BaseGeometry, keep_off: gpd.GeoDataFrame) -> Iterator[str]:
    inside = keep_off[keep_off.intersects(shape)]
    for kind, cap_cm in sorted(set(zip(inside["kind"], inside["cap_cm"], strict=True))):
        yield f"{kind}: {f'no deeper than {cap_cm:g} cm over it' if cap_cm > 0 else _LIFTED[kind]}"


def in_order(notices: Iterable[Notice], first: Sequence[Notice]) -> tuple[Notice, ...]:
    """Return the Stops that stand, `first` and the other cautions, then the notes, each once.

    The Stops keep their order. The caution on buried services comes next, ground that nobody read
    straight behind it, then what else this field calls for; what every plan carries closes the
    cautions. Among the cautions of the field as among the notes, what speaks against the readings
    leads, by its weight; then the ridge, since it tells how far to trust every depth between the
    legs, what else decides on depths, the days of the readings, then the others.
    """
    given = list(notices)
    stops = [notice for notice in given if notice.code == STANDING]
    told = [*stops, *first, *sorted({*given} - {*first, *stops})]
    ordered = sorted(told, key=lambda notice: (_rank(notice, first), _weight(notice)))
    return tuple(said_once(ordered))


def _rank(notice: Notice, first: Sequence[Notice]) -> int:
    if notice.code == STANDING:
        return -1
    if notice == first[0]:
        return 0
    if notice.code in (UNPROBED, PART_GUESSED, NONE_MET):
        return 1
    if notice in first:
        return 4 if notice.code in ALWAYS else 2
    return 3 if notice.level == "caution" else 5


DECIDING = ("assurance-short", "part-short", "above-pan-base", "fewer-depths")


def _weight(notice: Notice) -> int:
    """Return the place of a notice among those of its rank; ones of equal weight keep theirs."""
    days = EVIDENCE.index(SEVERAL_DATES)
    order = (*EVIDENCE[:days], RIDGE, *DECIDING, *EVIDENCE[days:])
    return order.index(notice.code) if notice.code in order else len(order)

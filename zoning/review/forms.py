"""What is typed into the pit form, turned into a pit or into words on what to mend."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import shapely
from pyproj import Transformer

from zoning.contracts import constant
from zoning.model import FieldInputs
from zoning.readings.places import outside_words
from zoning.records import Pit, faults_of, pit_faults
from zoning.workflow.season_dates import today

NUMBERS = (
    "lon", "lat", "pan_top_cm", "pan_base_cm", "structure_score", "loosened_at_leg_cm",
    "loosened_between_cm", "speed_km_h", "place_error_m",
)  # fmt: skip
TEXTS = (
    "pit", "phase", "date", "part", "pan", "moisture", "note", "photo", "place_from", "withdrawn",
)  # fmt: skip
# A place that was transformed has as many decimals as a float holds.
_NUMBER = re.compile(r"-?\d{1,9}([.,]\d+)?", re.ASCII)
_LABELS = {
    "pit": "Pit",
    "phase": "Before or after the work",
    "date": "Date",
    "lon": "Longitude",
    "lat": "Latitude",
    "part": "Part of the field",
    "pan": "Pan",
    "pan_top_cm": "Pan top, cm",
    "pan_base_cm": "Pan base, cm",
    "structure_score": "Structure score, 1 to 5",
    "moisture": "Moisture at working depth",
    "loosened_at_leg_cm": "Loosened at a leg, cm",
    "loosened_between_cm": "Loosened between legs, cm",
    "speed_km_h": "Speed, km/h",
    "photo": "Photo file",
    "note": "Note",
    "place_from": "Place from",
    "place_error_m": "Place off by up to, m",
    "withdrawn": "Withdrawn",
    "path": "File",
    "width": "Width, dots",
    "height": "Height, dots",
    "bytes": "Size, bytes",
    "location_kept": "Where it was taken is kept",
    "caption": "What it shows",
    "season": "Season",
    "reviewed": "Reviewed",
}


@dataclass(frozen=True, slots=True)
class Filled:
    """A form as it was filled in: the texts, the pit where it reads, the faults by field."""

    texts: Mapping[str, str]
    pit: Pit | None
    faults: Mapping[str, str]


def label(name: str) -> str:
    """Return what a field is called on the page."""
    return _LABELS.get(name, name)


def read_pit_form(given: Mapping[str, str], season: int, parts: tuple[str, ...]) -> Filled:
    """Read a pit form; a decimal comma counts as a decimal point."""
    texts = {name: given.get(name, "").strip() for name in (*TEXTS, *NUMBERS)}
    faults: dict[str, str] = {}
    numbers: dict[str, float | None] = {}
    for name in NUMBERS:
        try:
            numbers[name] = number(texts[name])
        except ValueError:
            faults[name] = f"Found '{texts[name][:40]}'. Give a number, such as 31.5."
            numbers[name] = None
    if texts["part"] and texts["part"] not in parts:
        faults["part"] = f"Found '{texts['part'][:40]}'. Choose from: {', '.join(parts)}."
    words = {name: texts[name] for name in TEXTS}
    words["place_from"] = words["place_from"] or "typed"
    pit = Pit(season=season, **words, **numbers)  # type: ignore[arg-type]
    for name, what in (*faults_of(pit), *pit_faults(pit, is_date=_is_date(pit.date))):
        faults.setdefault(name, what)
    if _is_date(pit.date) and pit.date > today():
        faults["date"] = f"{pit.date} is not here yet: today is {today()}."
    return Filled(texts, None if faults else pit, faults)


def on_the_field(filled: Filled, inputs: FieldInputs) -> Filled:
    """Return the form with a fault where the pit lies too far off for the files to take it.

    A pit that is withdrawn may lie anywhere.
    """
    pit = filled.pit
    if pit is None or pit.lon is None or pit.lat is None or pit.withdrawn:
        return filled
    there = Transformer.from_crs(4326, inputs.working_crs, always_xy=True)
    away_m = inputs.boundary.distance(shapely.Point(there.transform(pit.lon, pit.lat)))
    most_m = constant("readings_rules", "outside_tolerance_m")
    if away_m <= most_m:
        return filled
    what = (
        f"{outside_words(away_m)} ({most_m:g} m is allowed for the error of the receiver). Tap the "
        "map where the pit is."
    )
    return Filled(filled.texts, None, {"lon": what})


def number(text: str) -> float | None:
    """Return the number a box holds, ``None`` where it is blank.

    Raises
    ------
    ValueError
        If it is no plain number.
    """
    if not text:
        return None
    if not _NUMBER.fullmatch(text):
        raise ValueError(text)
    value = float(text.replace(",", "."))
    if not math.isfinite(value):
        raise ValueError(text)
    return value


def pit_texts(pit: Pit) -> dict[str, str]:
    """Return a pit as the texts of its form."""
    return {name: shown(getattr(pit, name)) for name in (*TEXTS, *NUMBERS)}


def shown(value: object) -> str:
    """Return a value as the page shows it and reads it again: each digit, and no power of ten."""
    if value is None:
        return ""
    if not isinstance(value, float):
        return str(value)
    return f"{Decimal(repr(value)):f}".removesuffix(".0")


def next_name(names: list[str]) -> str:
    """Return the next free name of an after-pit: A1, A2 ..."""
    taken = set(names)
    return next(f"A{i}" for i in range(1, len(taken) + 2) if f"A{i}" not in taken)


def _is_date(text: str) -> bool:
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII):
        return False
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True

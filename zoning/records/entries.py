"""What the season record holds: one frozen dataclass a table, its limits in the annotations.

The tables of the file, the columns of the CSV and the checks of the forms are all made from these
classes. A blank text is ``""``, a number not known is ``None``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cache
from typing import Annotated, ClassVar, Literal, get_args, get_origin, get_type_hints

from zoning.contracts import constant
from zoning.records.rules import rule

YesNo = Literal["yes", "no", ""]
Flag = Literal["yes", ""]


@dataclass(frozen=True, slots=True)
class Limits:
    """Least and greatest value of a number; `most` may name a row of a table of constants."""

    least: float
    most: float | tuple[str, str]

    @property
    def greatest(self) -> float:
        """The greatest value allowed."""
        return self.most if isinstance(self.most, float) else constant(*self.most)


@dataclass(frozen=True, slots=True)
class Most:
    """Most letters of a text, by the row of ``record_rules.csv`` that says so."""

    name: str

    @property
    def letters(self) -> int:
        """The number of letters."""
        return int(rule(self.name))


Name = Annotated[str, Most("name_letters")]
Long = Annotated[str, Most("note_letters")]
Data = Annotated[str, Most("data_letters")]
Depth = Annotated[float | None, Limits(0.0, ("readings_rules", "depth_max_cm"))]
Speed = Annotated[float | None, Limits(0.0, ("readings_rules", "speed_max_km_h"))]
Lon = Annotated[float | None, Limits(-180.0, 180.0)]
Lat = Annotated[float | None, Limits(-90.0, 90.0)]
Score = Annotated[float | None, Limits(1.0, 5.0)]
Positive = Annotated[float | None, Limits(0.0, 1e12)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """Base of what an entry says; `TABLE` names its table, `KEY` what tells records apart."""

    TABLE: ClassVar[str]
    SHAPE: ClassVar[str] = ""
    KEY: ClassVar[tuple[str, ...]] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Pit(Body):
    """A pit, before or after the work: ``shared/schemas/pits.schema.json`` without the place [m].

    ``place_from`` says where lon and lat come from, ``place_error_m`` how far off the device said
    it may be; a pit that was entered by mistake is ``withdrawn``, never deleted.
    """

    TABLE: ClassVar[str] = "pits"
    SHAPE: ClassVar[str] = "POINT"
    KEY: ClassVar[tuple[str, ...]] = ("season", "phase", "pit")
    season: int
    pit: Name
    phase: Literal["before", "after"]
    date: Name = ""
    lon: Lon = None
    lat: Lat = None
    part: Name = ""
    pan: YesNo = ""
    pan_top_cm: Depth = None
    pan_base_cm: Depth = None
    structure_score: Score = None
    moisture: Literal["dry", "friable", "plastic", ""] = ""
    loosened_at_leg_cm: Depth = None
    loosened_between_cm: Depth = None
    speed_km_h: Speed = None
    photo: Name = ""
    note: Long = ""
    place_from: Literal["file", "map", "device", "typed", ""] = ""
    place_error_m: Positive = None
    withdrawn: Flag = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Station(Body):
    """A cone station as read; ``profiles`` holds ``[[insertion, [[cm, MPa], ...]], ...]``."""

    TABLE: ClassVar[str] = "stations"
    SHAPE: ClassVar[str] = "POINT"
    KEY: ClassVar[tuple[str, ...]] = ("season", "phase", "station")
    season: int
    station: Name
    phase: Literal["before", "after"]
    date: Name = ""
    lon: Lon = None
    lat: Lat = None
    part: Name = ""
    verdict: Name = ""
    pan_top_cm: Depth = None
    pan_base_cm: Depth = None
    censored: YesNo = ""
    used: YesNo = ""
    reason: Long = ""
    profiles: Data = "[]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo(Body):
    """A photograph of a pit: where its file lies in the field folder, and the hash of its bytes."""

    TABLE: ClassVar[str] = "photos"
    season: int
    pit_id: Name
    path: Name
    sha256: Name
    media_type: Literal["image/jpeg", "image/png", "image/webp"]
    width: int
    height: int
    bytes: int
    location_kept: YesNo = "no"
    caption: Long = ""
    withdrawn: Flag = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial(Body):
    """A trial run of the machine: ``shared/schemas/trials.schema.json``."""

    TABLE: ClassVar[str] = "trials"
    KEY: ClassVar[tuple[str, ...]] = ("season", "run")
    season: int
    run: Name
    speed_km_h: Speed = None
    depth_setting_cm: Depth = None
    loosened_at_leg_cm: Depth = None
    loosened_between_cm: Depth = None
    surface: Literal["level", "heaved", "cloddy", ""] = ""
    note: Long = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanIssued(Body):
    """A plan that was written: its fingerprint, the program, the files it was made from."""

    TABLE: ClassVar[str] = "plans"
    season: int
    plan_id: Name
    field: Name
    area_ha: Positive
    zones: int
    mean_depth_cm: Depth
    program: Name
    inputs: Data


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone(Body):
    """A zone of a plan that was issued."""

    TABLE: ClassVar[str] = "zones"
    SHAPE: ClassVar[str] = "GEOMETRY"
    season: int
    plan_id: Name
    zone: int
    depth_cm: Depth
    area_ha: Positive
    parts: Long
    pan_base_cm: Depth
    geometry_wkt: Data


@dataclass(frozen=True, slots=True, kw_only=True)
class Check(Body):
    """A check of the work."""

    TABLE: ClassVar[str] = "checks"
    season: int
    plan_id: Name
    after_pits: int
    ridge_allowance_cm: Positive = None
    summary: Long = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRow(Body):
    """One verdict or, about ``advice``, one caution of a check; ``facts`` holds a verdict's row."""

    TABLE: ClassVar[str] = "check_rows"
    season: int
    check_id: Name
    about: Literal["zone", "pit", "group", "advice"]
    name: Name
    verdict: Name
    reason: Long = ""
    facts: Data = "{}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Review(Body):
    """What a reviewer says of a pit or a zone."""

    TABLE: ClassVar[str] = "reviews"
    KEY: ClassVar[tuple[str, ...]] = ("season", "about", "about_id")
    season: int
    about: Literal["pit", "zone"]
    about_id: Name
    reviewed: Literal["yes", "no"]
    note: Long = ""


BODIES: tuple[type[Body], ...] = (
    Pit, Station, Photo, Trial, PlanIssued, Zone, Check, CheckRow, Review,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class BodyColumn:
    """One column made from a field of a body: ``str``, ``int`` or ``float``, and its limits."""

    name: str
    kind: type
    words: tuple[str, ...]
    letters: int | None
    least: float | None
    most: float | None


def body_columns(kind: type[Body]) -> tuple[BodyColumn, ...]:
    """Return the columns of a body, in order."""
    return _columns_of(kind.TABLE)


@cache
def _columns_of(table: str) -> tuple[BodyColumn, ...]:
    kind = next(kind for kind in BODIES if table == kind.TABLE)
    hints = get_type_hints(kind, include_extras=True)
    return tuple(_column(field.name, hints[field.name]) for field in fields(kind))


def _column(name: str, hint: object) -> BodyColumn:
    inner, *marks = get_args(hint) if get_origin(hint) is Annotated else (hint,)
    limits = next((mark for mark in marks if isinstance(mark, Limits)), None)
    letters = next((mark.letters for mark in marks if isinstance(mark, Most)), None)
    words = get_args(inner) if get_origin(inner) is Literal else ()
    plain = inner if isinstance(inner, type) else str if words else float
    return BodyColumn(
        name,
        plain,
        words,
        letters,
        limits.least if limits else None,
        limits.greatest if limits else None,
    )


def faults_of(body: Body) -> list[tuple[str, str]]:
    """Return what is wrong with a body: ``(column, what was found and what is needed)``."""
    found = [(c.name, _trouble(getattr(body, c.name), c)) for c in body_columns(type(body))]
    return [(name, trouble) for name, trouble in found if trouble]


def _trouble(value: object, column: BodyColumn) -> str:
    if column.kind is str:
        return _text_trouble(value, column)
    if value is None and column.kind is float:
        return ""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return f"Found {value!r}; a number is needed."
    if not math.isfinite(value) or (column.kind is int and not isinstance(value, int)):
        return f"Found {value}; a plain number is needed."
    if column.least is not None and not column.least <= value <= (column.most or math.inf):
        return f"Found {value:g}; a number from {column.least:g} to {column.most:g} is needed."
    return ""


def _text_trouble(value: object, column: BodyColumn) -> str:
    if not isinstance(value, str):
        return f"Found {value!r}; text is needed."
    if column.words and value not in column.words:
        return f"Found '{value[:40]}'; allowed: {', '.join(w for w in column.words if w)}."
    if column.letters is not None and len(value) > column.letters:
        return f"Found {len(value)} letters; {column.letters} at most."
    if any((ord(c) < 32 and c not in "\t\r\n") or 0xD800 <= ord(c) <= 0xDFFF for c in value):
        return "Holds control characters; type it again."
    return ""


def pit_faults(pit: Pit, *, is_date: bool) -> list[tuple[str, str]]:
    """Return what is wrong with a pit as a whole, beside `faults_of`."""
    checks: Sequence[tuple[bool, str, str]] = (
        (not pit.pit, "pit", "Give the pit a name."),
        (bool(pit.date) and not is_date, "date", "Give the date as YEAR-MONTH-DAY, 2026-09-03."),
        (pit.lon is None or pit.lat is None, "lon", "Say where the pit is."),
        (
            _above(pit.pan_top_cm, pit.pan_base_cm),
            "pan_top_cm",
            "The pan's top is deeper than its base.",
        ),
        (
            pit.pan == "no" and (pit.pan_top_cm is not None or pit.pan_base_cm is not None),
            "pan",
            "The pit says no pan and gives depths of a pan: clear one of the two.",
        ),
        (
            _above(pit.loosened_between_cm, pit.loosened_at_leg_cm),
            "loosened_between_cm",
            "The ground is loosened deeper between the legs than at a leg: check the two depths.",
        ),
    )
    return [(column, words) for wrong, column, words in checks if wrong]


def _above(one: float | None, other: float | None) -> bool:
    return one is not None and other is not None and one > other

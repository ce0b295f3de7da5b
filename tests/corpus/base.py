"""A small sound field with a file of every role, and what a case of the corpus is."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from readings.small_field import STATIONS, box, collection, feature, long_log, lonlat

Data = str | bytes | Callable[[Path], object]

FIELD = """[field]
name = "Test Piece"
boundary = "boundary.geojson"

[readings]
cone = "cone.csv"
pits = "pits.csv"
trials = "trials.csv"

[areas]
headland_width_m = 12
gateways = "gateways.geojson"
named = "areas.geojson"

[areas.wheelings]
lines = "wheelings.geojson"
width_m = 3

[hazards]
file = "hazards.geojson"

[machine]
legs = 7
leg_spacing_cm = 43

[depth]
assurance = 0.8
"""
OUTLINE = box(0, 0, 300, 200)
BOUNDARY = collection(feature("Polygon", [OUTLINE]))
CONE = long_log(STATIONS)
PITS = (
    "pit,date,phase,lon,lat,part,pan,pan_top_cm,pan_base_cm,structure_score,moisture,"
    "loosened_at_leg_cm,loosened_between_cm,speed_km_h,photo,note\n"
    "P1,2026-09-03,before,{0[0]},{0[1]},body,yes,22,34,4,friable,,,,,\n"
    "P2,2026-09-03,before,{1[0]},{1[1]},,no,,,2,dry,,,,,\n"
).format(lonlat(60, 60), lonlat(200, 120))
TRIALS = (
    "run,speed_km_h,depth_setting_cm,loosened_at_leg_cm,loosened_between_cm,surface,note\n"
    "A,6,35,35,27,level,\nB,9,35,34,30,heaved,\n"
)
GATEWAYS = collection(feature("Point", lonlat(0, 100)))
AREAS = collection(feature("Polygon", [box(20, 20, 60, 50)], area="old clamp"))
WHEELINGS = collection(feature("LineString", [lonlat(0, 50), lonlat(300, 50)]))
HAZARDS = collection(
    feature("LineString", [lonlat(0, 150), lonlat(300, 150)], kind="drain", depth_cm=80, clear_m=3),
    feature("Point", lonlat(250, 40), kind="obstacle", clear_m=2),
)
FILES: Mapping[str, str] = {
    "field.toml": FIELD,
    "boundary.geojson": BOUNDARY,
    "cone.csv": CONE,
    "pits.csv": PITS,
    "trials.csv": TRIALS,
    "gateways.geojson": GATEWAYS,
    "areas.geojson": AREAS,
    "wheelings.geojson": WHEELINGS,
    "hazards.geojson": HAZARDS,
}


@dataclass(frozen=True)
class Case:
    """One broken field: what is changed of the sound one, and what must be said.

    Parameters
    ----------
    name
        Short and unique.
    files
        File name to text, bytes, or a function that makes something else at its path.
    file
        The file that the message must name.
    row
        The line that the message must name; ``None`` where any will do.
    """

    name: str
    files: Mapping[str, Data]
    file: str
    row: int | None = None


@dataclass(frozen=True)
class Odd:
    """One odd but sound field, and the code of a notice that must tell of it (blank: none)."""

    name: str
    files: Mapping[str, Data]
    code: str = ""


def write(folder: Path, files: Mapping[str, Data]) -> Path:
    """Write the sound field with `files` in place of its own."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in {**FILES, **files}.items():
        path = folder / name
        if callable(data):
            data(path)
        else:
            path.write_bytes(data if isinstance(data, bytes) else data.encode("utf-8"))
    return folder


def line_of(text: str, number: int) -> str:
    return text.split("\n")[number - 1]


def with_cell(text: str, row: int, column: str, value: str) -> str:
    """Return a CSV text with one cell changed, quoted where it must be."""
    lines = text.split("\n")
    at = lines[0].split(",").index(column)
    cells = lines[row - 1].split(",")
    cells[at] = f'"{value}"' if any(c in value for c in ',"\n') else value
    lines[row - 1] = ",".join(cells)
    return "\n".join(lines)


def with_column(text: str, name: str, value: str) -> str:
    """Return a CSV text with one more column."""
    head, *rows = text.rstrip("\n").split("\n")
    return "\n".join([f"{head},{name}", *(f"{row},{value}" for row in rows)]) + "\n"


def without_column(text: str, name: str) -> str:
    head, *rows = text.rstrip("\n").split("\n")
    at = head.split(",").index(name)
    kept = [[c for i, c in enumerate(r.split(",")) if i != at] for r in (head, *rows)]
    return "\n".join(map(",".join, kept)) + "\n"


def renamed(text: str, old: str, new: str) -> str:
    head, rest = text.split("\n", 1)
    return "\n".join([head.replace(old, new, 1), rest])


def geojson(document: object) -> str:
    return json.dumps(document)

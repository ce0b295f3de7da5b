"""Small random fields: outline, readings, machine and hazards of every kind, made from one number.

They are odd on purpose: slivers, necks, ponds, two pieces, one station, hazards through the middle.
Nothing here is meant to look like a farm; `sample_data/simulate.py` is for that.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyproj
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.affinity import rotate, scale, translate
from shapely.geometry import mapping
from shapely.geometry.base import BaseGeometry

import zoning
from zoning.errors import InputRefused, PlanRefused
from zoning.model import FieldInputs, Plan

CRS = "EPSG:32631"
ORIGIN_M = (352_000.0, 5_843_000.0)
DEPTHS_CM = (5, 10, 15, 20, 25, 30, 35, 40, 45, 50)


@dataclass(frozen=True)
class FieldFiles:
    """A field folder in memory: file name to text, and what it was drawn with."""

    files: dict[str, str]
    outline: BaseGeometry
    hazards: list[dict[str, object]]

    def write(self, folder: Path) -> Path:
        folder.mkdir(parents=True)
        for name, text in self.files.items():
            (folder / name).write_text(text, encoding="utf-8")
        return folder


def lonlat(shape: BaseGeometry) -> BaseGeometry:
    to = pyproj.Transformer.from_crs(CRS, "OGC:CRS84", always_xy=True)
    return shapely.transform(shape, lambda xy: np.column_stack(to.transform(*xy.T)))


def random_outline(rng: np.random.Generator) -> BaseGeometry:
    """Return one of seven kinds of outline of 0.2 to 1 ha [m], away from the origin."""
    kind = rng.integers(7)
    long_m, wide_m = rng.uniform(45, 90), rng.uniform(30, 60)
    box = shapely.box(0, 0, long_m, wide_m)
    if kind == 1:  # a pond
        box = box - Point(long_m / 2, wide_m / 2).buffer(rng.uniform(3, 9), quad_segs=4)
    elif kind == 2:  # a corner cut out
        box = box - shapely.box(long_m * 0.6, wide_m * 0.5, long_m, wide_m)
    elif kind == 3:  # two pieces
        other = translate(scale(box, 0.6, 0.5, origin=(0, 0)), long_m + 12, 5)
        box = MultiPolygon([box, other])
    elif kind == 4:  # a neck
        other = shapely.box(long_m + 30, 0, long_m + 65, wide_m)
        neck = shapely.box(long_m - 1, wide_m / 2, long_m + 31, wide_m / 2 + rng.uniform(2, 8))
        box = shapely.union_all([box, other, neck])
    elif kind == 5:  # a crooked outline
        angle = np.sort(rng.uniform(0, 2 * np.pi, 9))
        reach = rng.uniform(25, 45, 9)
        box = Polygon(np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])).buffer(8)
    elif kind == 6:  # a long strip
        box = shapely.box(0, 0, rng.uniform(100, 200), rng.uniform(9, 20))
    turned = rotate(box, rng.uniform(0, 180), origin=(0, 0))
    return translate(turned, ORIGIN_M[0] + rng.uniform(0, 9), ORIGIN_M[1] + rng.uniform(0, 9))


def places_in(outline: BaseGeometry, count: int, rng: np.random.Generator) -> list[Point]:
    west, south, east, north = outline.bounds
    shapely.prepare(outline)
    found: list[Point] = []
    while len(found) < count:
        xy = rng.uniform([west, south], [east, north], (64, 2))
        found += [Point(*at) for at in xy[shapely.contains_xy(outline, xy)]]
    return found[:count]


def cone_text(outline: BaseGeometry, rng: np.random.Generator) -> str:
    """Return a cone log: one to ten stations, some without a pan, some refused."""
    rows = ["station,insertion,lon,lat,depth_cm,cone_index_mpa,refused"]
    mean_base = rng.uniform(22, 38)
    for number, place in enumerate(places_in(outline, int(rng.integers(1, 11)), rng), 1):
        at = lonlat(place)
        base = mean_base + rng.normal(0, 4)
        pan, stone = rng.random() < 0.85, rng.random() < 0.05
        for insertion in range(1, int(rng.integers(1, 4)) + 1):
            for depth in DEPTHS_CM:
                hard = pan and base - 14 < depth < base
                index = rng.uniform(2.2, 3.6) if hard else rng.uniform(0.5, 1.6)
                rows.append(
                    f"S{number},{insertion},{at.x:.8f},{at.y:.8f},{depth},{index:.2f},"
                    + ("yes" if stone and depth >= 25 else "")
                )
                if stone and depth >= 25:
                    break
    return "\n".join(rows) + "\n"


def random_hazards(outline: BaseGeometry, rng: np.random.Generator) -> list[dict[str, object]]:
    west, south, east, north = outline.bounds
    found = []
    for _ in range(int(rng.choice([0, 1, 1, 2, 3]))):
        kind = str(rng.choice(["drain", "service", "obstacle"]))
        a, b = rng.uniform([west, south], [east, north], (2, 2))
        shape: BaseGeometry = LineString([a, b])
        if kind == "obstacle":
            shape = Point(a) if rng.random() < 0.5 else Point(a).buffer(2, quad_segs=2)
        properties: dict[str, object] = {"kind": kind}
        if rng.random() < 0.8:
            properties["clear_m"] = round(float(rng.uniform(0.5, 6)), 1)
        if kind == "drain" and rng.random() < 0.8:
            properties["depth_cm"] = int(rng.integers(25, 90))
        found.append(
            {"type": "Feature", "properties": properties, "geometry": mapping(lonlat(shape))}
        )
    return found


def random_field(seed: int) -> FieldFiles:
    """Return the field of `seed`; the same seed gives the same field."""
    rng = np.random.default_rng(seed)
    outline = random_outline(rng)
    step = float(rng.choice([1.0, 2.5, 5.0, 7.5]))
    least = float(rng.choice([10.0, 15.0, 20.0]))
    settings = {
        "field": {"name": f"Piece {seed}", "boundary": "boundary.geojson"},
        "readings": {"cone": "cone.csv"},
        "areas": {"headland_width_m": float(rng.choice([0, 6, 12, 24]))},
        "machine": {
            "legs": int(rng.integers(1, 9)),
            "leg_spacing_cm": float(rng.choice([40, 55, 75])),
            "depth_min_cm": least,
            "depth_max_cm": least + step * int(rng.integers(1, 14)),
            "depth_step_cm": step,
            "row_gap_cm": float(rng.choice([0, 90, 200])),
        },
        "depth": {
            "assurance": round(float(rng.uniform(0.5, 0.95)), 2),
            "clearance_cm": float(rng.choice([0, 3, 6])),
            "max_depths": int(rng.integers(1, 6)),
            "min_run_m": float(rng.choice([0, 10, 25, 60])),
            "lift_out": bool(rng.random() < 0.8),
        },
        "hazards": {"services": str(rng.choice(["not_checked", "records", "located"]))},
    }
    if rng.random() < 0.6:
        settings["machine"]["travel_heading_deg"] = round(float(rng.uniform(0, 180)), 1)
    if rng.random() < 0.3:
        settings["areas.wheelings"] = {"heading_deg": 10.0, "spacing_m": 24.0, "width_m": 3.0}
    hazards = random_hazards(outline, rng)
    files = {
        "boundary.geojson": json.dumps(mapping(lonlat(outline))),
        "cone.csv": cone_text(outline, rng),
    }
    if hazards:
        settings["hazards"]["file"] = "hazards.geojson"
        files["hazards.geojson"] = json.dumps({"type": "FeatureCollection", "features": hazards})
    return FieldFiles({**files, "field.toml": toml(settings)}, outline, hazards)


def toml(settings: dict[str, dict[str, object]]) -> str:
    """Return settings as TOML: JSON spells text, numbers and truth values the same way."""
    lines = []
    for section, keys in settings.items():
        lines += [f"[{section}]", *(f"{key} = {json.dumps(value)}" for key, value in keys.items())]
    return "\n".join(lines) + "\n"


def inputs_of(seed: int) -> FieldInputs:
    with tempfile.TemporaryDirectory() as folder:
        return zoning.read_field(random_field(seed).write(Path(folder) / "field"))


def planned(inputs: FieldInputs) -> Plan | None:
    """Return the plan, or nothing where none can honestly be made."""
    try:
        return zoning.make_plan(inputs)
    except PlanRefused:
        return None


def plan_folders(seed: int, count: int, place: Path) -> Iterator[tuple[Path, Path]]:
    """Yield plan folder and field folder of `count` random fields that can be planned."""
    made = 0
    while made < count:
        field = random_field(seed).write(place / f"field_{seed}")
        plan_folder = place / f"plan_{seed}"
        seed += 1
        try:
            plan = zoning.make_plan(zoning.read_field(field))
        except (InputRefused, PlanRefused):
            continue
        zoning.write_plan(plan, plan_folder)
        made += 1
        yield plan_folder, field

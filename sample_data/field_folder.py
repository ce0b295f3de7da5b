"""Write a simulated field as the folder that `zoning plan` reads."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path

import numpy as np
import pandas as pd
import shapely
from field_truth import NAMED, Places, Truth
from pyproj import Transformer
from shapely.geometry.base import BaseGeometry

CONE_COLUMNS = (
    "station",
    "insertion",
    "lon",
    "lat",
    "date",
    "moisture",
    "part",
    "depth_cm",
    "cone_index_mpa",
    "refused",
    "note",
)
PIT_COLUMNS = (
    "pit",
    "date",
    "phase",
    "lon",
    "lat",
    "part",
    "pan",
    "pan_top_cm",
    "pan_base_cm",
    "structure_score",
    "moisture",
    "note",
)
Feature = tuple[BaseGeometry, Mapping[str, object]]

TOML = """\
# A simulated field: invented ground, invented readings.
[field]
name = "{name}"
season = 2026
boundary = "boundary.geojson"

[readings]
cone = "cone.csv"
pits = "pits.csv"
limit_mpa = {limit}

[areas]
headland_width_m = {headland:g}
{pond}gateways = "gateways.geojson"
gateway_radius_m = {radius:.1f}
{named}
[areas.wheelings]
lines = "wheelings.geojson"
width_m = {width:.2f}

[machine]
name = "seven-leg loosener"
legs = 7
leg_spacing_cm = 43
depth_min_cm = 15
depth_max_cm = 55
depth_step_cm = 2.5
depth_control = "hydraulic"
travel_heading_deg = {heading:.1f}

[depth]
clearance_cm = 3
assurance = 0.8
max_depths = 4
min_run_m = 25
"""


def write_folder(
    truth: Truth, cone: pd.DataFrame, pits: pd.DataFrame, crs: str, folder: Path, name: str
) -> Path:
    """Write field.toml, the readings and the layers of a simulated field; return the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    shapes = truth.shapes
    write_csv(folder / "cone.csv", with_lonlat(cone, crs), CONE_COLUMNS)
    write_csv(folder / "pits.csv", with_lonlat(pits, crs), PIT_COLUMNS)
    write_layer(folder / "boundary.geojson", [(shapes.boundary, {"name": name})], crs)
    write_layer(folder / "gateways.geojson", [(g, {}) for g in shapes.gateways], crs)
    write_layer(folder / "wheelings.geojson", [(line, {}) for line in shapes.wheeling_lines], crs)
    if not shapes.named.is_empty:
        write_layer(folder / "areas.geojson", [(shapes.named, {"area": NAMED})], crs)
    (folder / "field.toml").write_text(field_toml(truth, name), encoding="utf-8", newline="\n")
    return folder


def field_toml(truth: Truth, name: str) -> str:
    """Return the settings: widths from the truth, the usual machine and depths."""
    s = truth.scenario
    holes = any(part.interiors for part in shapely.get_parts(truth.shapes.boundary))
    return TOML.format(
        name=name,
        limit=s.limit_mpa,
        headland=s.headland_width_m,
        radius=s.gateway_radius_m,
        width=s.wheeling_width_m,
        heading=s.heading_deg,
        pond="headland_round_obstacles = true\n" if holes else "",
        named="" if truth.shapes.named.is_empty else 'named = "areas.geojson"\n',
    )


def with_lonlat(frame: pd.DataFrame, crs: str) -> pd.DataFrame:
    """Return `frame` with `lon` and `lat` from `x_m` and `y_m`, to a centimetre."""
    lonlat = np.round(lonlat_of(frame[["x_m", "y_m"]].to_numpy(), crs), 7)
    return frame.assign(lon=lonlat[:, 0], lat=lonlat[:, 1])


def lonlat_of(xy_m: Places, crs: str) -> Places:
    """Return longitude and latitude (WGS 84) of places of shape ``(n, 2)``."""
    to_lonlat = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    return np.column_stack(to_lonlat.transform(xy_m[:, 0], xy_m[:, 1]))


def write_csv(path: Path, frame: pd.DataFrame, columns: Iterable[str]) -> None:
    """Write the columns with the fewest digits that give the numbers back, blank where unknown."""
    text = frame[list(columns)].astype(object).map(_cell)
    text.to_csv(path, index=False, lineterminator="\n", encoding="utf-8")


def _cell(value: object) -> str:
    if isinstance(value, float | np.floating):
        return "" if np.isnan(value) else repr(float(value)).removesuffix(".0")
    return str(value)


def write_layer(path: Path, features: Iterable[Feature], crs: str) -> None:
    """Write features as GeoJSON (RFC 7946): WGS 84, 8 decimals, outer rings anticlockwise."""
    rows = []
    for geometry, properties in features:
        lonlat = shapely.transform(geometry, lambda xy: lonlat_of(xy, crs))
        shape = json.loads(shapely.to_geojson(shapely.orient_polygons(lonlat)))
        shape["coordinates"] = _rounded(shape["coordinates"])
        rows.append({"type": "Feature", "properties": dict(properties), "geometry": shape})
    lines = ",\n".join(json.dumps(row) for row in rows)
    path.write_text(
        '{"type": "FeatureCollection", "features": [\n' + lines + "\n]}\n",
        encoding="utf-8",
        newline="\n",
    )


def _rounded(coordinates: object) -> object:
    if isinstance(coordinates, list):
        return [_rounded(c) for c in coordinates]
    return round(float(str(coordinates)), 8)

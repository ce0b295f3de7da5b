"""The ground that the page draws: the newest plan of the field, in longitude and latitude."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
import shapely
from pyproj import Geod
from shapely.geometry.base import BaseGeometry

from zoning.contracts import NOT_CLEARED, PARTS
from zoning.errors import Fault, InputRefused
from zoning.model import FieldInputs
from zoning.outputs.drawing.pit_signs import PIT_SIGNS, pit_sign
from zoning.outputs.drawing.plan import depth_tones
from zoning.outputs.places import decimals, lonlat_areas
from zoning.review.rules import rule

GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True, slots=True, eq=False)
class ZoneFacts:
    """One zone of the plan: what was to be done there."""

    zone: int
    depth_cm: float
    area_ha: float
    parts: str
    pan_base_cm: float | None
    cleared: str
    cautions: str
    tone: str
    shape: BaseGeometry

    @property
    def depth_words(self) -> str:
        """The working depth in words."""
        return f"{self.depth_cm:g} cm" if self.depth_cm > 0 else "legs lifted out"


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """Zones, outline, hazards and the facts of the plan; no zones where there is no plan yet."""

    plan_id: str
    limit_mpa: float
    zones: tuple[ZoneFacts, ...]
    parts: tuple[str, ...]
    part_shapes: tuple[tuple[str, BaseGeometry], ...]
    outline: BaseGeometry
    hazards: tuple[tuple[str, BaseGeometry], ...]
    cautions: tuple[str, ...]

    def zone_at(self, lon: float | None, lat: float | None) -> ZoneFacts | None:
        """Return the zone at a place, ``None`` outside all of them."""
        if lon is None or lat is None:
            return None
        spot = shapely.Point(lon, lat)
        return next((zone for zone in self.zones if zone.shape.intersects(spot)), None)

    def part_at(self, lon: float | None, lat: float | None) -> str:
        """Return the part of the field that the plan's map has at a place; blank outside."""
        if lon is None or lat is None:
            return ""
        spot = shapely.Point(lon, lat)
        return next((part for part, shape in self.part_shapes if shape.intersects(spot)), "")

    @property
    def waiting(self) -> int:
        """How many zones are not cleared of services."""
        return sum(zone.cleared == NOT_CLEARED for zone in self.zones)

    @property
    def depths(self) -> tuple[tuple[str, str], ...]:
        """Each working depth in words with its tone, shallowest first; blank where lifted out."""
        held = {zone.depth_cm: (zone.depth_words, zone.tone) for zone in self.zones}
        return tuple(held[depth] for depth in sorted(held))

    def zone(self, number: int) -> ZoneFacts | None:
        """Return the zone of this number."""
        return next((zone for zone in self.zones if zone.zone == number), None)


def plan_ground(folder: Path, inputs: FieldInputs) -> Ground:
    """Read the plan in `folder`; with no plan there, the field alone.

    Raises
    ------
    InputRefused
        If the plan does not read.
    """
    areas = lonlat_areas([inputs.boundary], inputs.working_crs)
    named = sorted(set(inputs.named_areas["area"])) if len(inputs.named_areas) else []
    parts = (*PARTS, *named)
    if not (folder / "plan.json").is_file():
        limit = inputs.settings.readings.limit_mpa
        return Ground("", limit, (), parts, (), areas[0], _shapes(inputs.hazards, "kind"), ())
    try:
        facts = _json(folder / "plan.json")
        zones = _zones(_json(folder / "depth_zones.geojson")["features"])
        return Ground(
            str(facts["plan_id"]),
            float(facts["settings"]["readings"]["limit_mpa"]),
            zones,
            parts,
            _layer(folder / "plan.gpkg", "parts", "part"),
            areas[0],
            _layer(folder / "plan.gpkg", "hazards", "kind"),
            tuple(str(_text(told)) for told in facts["cautions"]),
        )
    except (OSError, ValueError, KeyError, TypeError, RuntimeError) as fault:
        what = f"The plan does not read ({type(fault).__name__}: {fault})."
        raise InputRefused(
            [Fault(str(folder), what, "Make it anew: zoning plan FOLDER.")]
        ) from fault


def apart_m(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Return the distance of two places ``(lon, lat)`` [m]."""
    return float(GEOD.inv(*one, *other)[2])


def map_data(ground: Ground) -> dict[str, Any]:
    """Return what the script draws: zones, outline and hazards as GeoJSON geometries."""
    return {
        "zones": [
            {
                "zone": zone.zone,
                "words": zone.depth_words,
                "label": f"{zone.depth_cm:g}" if zone.depth_cm > 0 else "lifted",
                "held": zone.cleared == NOT_CLEARED,
                "tone": zone.tone,
                "rooms": _rooms(zone.shape),
                "shape": shapely.geometry.mapping(zone.shape),
            }
            for zone in ground.zones
        ],
        "signs": {name: pit_sign(name, 11, 11, 6.2) for name in PIT_SIGNS},
        "outline": shapely.geometry.mapping(ground.outline),
        "place_decimals": int(rule("place_decimals")),
        "hazards": [
            {"kind": kind, "shape": shapely.geometry.mapping(shape)}
            for kind, shape in ground.hazards
        ],
    }


def _rooms(shape: BaseGeometry) -> list[list[float]]:
    """Return lon, lat and radius [m] of the widest circle in each piece, the widest first."""
    lat = shapely.get_coordinates(shape.centroid)[0][1]
    per_degree = np.array([apart_m((0.0, lat), (0.01, lat)), apart_m((0, lat), (0, lat + 0.01))])
    flat = shapely.transform(shape, lambda places: places * per_degree * 100)
    circles = shapely.maximum_inscribed_circle(shapely.get_parts(flat), tolerance=0.5)
    ends = shapely.get_coordinates(circles).reshape(-1, 2, 2)
    rows = [[*(a / per_degree / 100), math.dist(a, b)] for a, b in ends]
    told = [[round(float(value), decimals()) for value in row] for row in rows]
    return sorted(told, key=lambda row: -row[2])


def _text(told: object) -> object:
    return told.get("text", "") if isinstance(told, Mapping) else told


def _json(path: Path) -> Any:
    return json.loads(path.read_text(encoding="utf-8"))


def _zones(features: Sequence[Mapping[str, Any]]) -> tuple[ZoneFacts, ...]:
    tones = depth_tones([float(f["properties"]["depth_cm"]) for f in features])
    found = []
    for feature in features:
        said = feature["properties"]
        depth = float(said["depth_cm"])
        base = said.get("pan_base_cm")
        found.append(
            ZoneFacts(
                zone=int(said["zone"]),
                depth_cm=depth,
                area_ha=float(said["area_ha"]),
                parts=str(said["parts"]),
                pan_base_cm=None if base is None else float(base),
                cleared=str(said.get("cleared", "")),
                cautions=str(said.get("cautions", "")),
                tone=tones.get(depth, ""),
                shape=shapely.geometry.shape(feature["geometry"]),
            )
        )
    return tuple(found)


def _layer(path: Path, layer: str, name: str) -> tuple[tuple[str, BaseGeometry], ...]:
    return _shapes(pyogrio.read_dataframe(path, layer=layer), name)


def _shapes(frame: gpd.GeoDataFrame, name: str) -> tuple[tuple[str, BaseGeometry], ...]:
    """Return the shapes of a frame in longitude and latitude, each with what `name` says."""
    if frame.empty:
        return ()
    placed = frame.to_crs(4326)
    return tuple(zip(placed[name].astype(str), placed.geometry, strict=True))

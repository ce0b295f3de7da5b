"""Real crop parcels for tests: openly licensed outlines with published areas.

Source: crop parcels of nine countries from the test data of the fiboa command line tools, licence
per parcel in the column ``licence`` (CC0, CC BY 4.0, DL-DE-BY-2.0, open government terms). They are
read from outside the project; where the folder is absent the tests skip.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import shapely
from pyproj import Transformer
from shapely import MultiPolygon

FOLDER = Path(os.environ.get("ZONING_OPEN_DATA", Path(__file__).parents[1] / "../shared/data"))
FILE = FOLDER / "parcels" / "parcels_visible.geojson"

# Chosen for their shapes: ponds, necks, tails, slivers, curved sides, several polygons.
SAMPLE = (
    "dk-4", "dk-5", "dk-28", "dk-50", "nl-55", "nl-67", "nl-93", "be_vlg-84", "be_vlg-99",
    "de_bb-57", "de_bb-75", "es_cat-60", "es_cat-85", "india-64", "kh-4", "se-1", "vn-0",
)  # fmt: skip


@dataclass(frozen=True)
class Parcel:
    """One parcel in the UTM zone of its middle."""

    name: str
    boundary: MultiPolygon
    to_lon_lat: Transformer
    geodesic_ha: float
    official_ha: float | None


def parcel(name: str) -> Parcel:
    """Return the parcel of that name; skip the test where the data are absent."""
    if not FILE.is_file():
        pytest.skip(f"open data not found: {FILE}")
    features = json.loads(FILE.read_text(encoding="utf-8"))["features"]
    return read(next(one for one in features if one["properties"]["parcel_id"] == name))


def read(feature: dict) -> Parcel:
    shape = shapely.geometry.shape(feature["geometry"])
    lon, lat = shape.centroid.coords[0]
    utm = 32600 + int((lon + 180) // 6) + 1 + (100 if lat < 0 else 0)
    there = Transformer.from_crs(4326, utm, always_xy=True)
    flat = shapely.transform(shape, lambda xy: np.column_stack(there.transform(*xy.T)))
    parts = [
        part for part in shapely.get_parts(shapely.make_valid(flat)) if part.geom_type == "Polygon"
    ]
    facts = feature["properties"]
    back = Transformer.from_crs(utm, 4326, always_xy=True)
    return Parcel(
        facts["parcel_id"], MultiPolygon(parts), back, facts["geodesic_ha"], facts["official_ha"]
    )

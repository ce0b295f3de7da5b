"""A small invented field and short ways to speak of it in tests."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from pyproj import Transformer

from zoning.errors import InputRefused
from zoning.model import FieldInputs
from zoning.readings.files import Blob
from zoning.readings.text_table import TextTable, read_table

ROOT = Path(__file__).parents[2]
OPEN_DATA = Path(os.environ.get("ZONING_OPEN_DATA", ROOT.parent / "shared" / "data"))
ORIGIN = (312_000.0, 5_784_000.0)
UTM = "EPSG:32631"
FIELD = """
[field]
name = "Test Piece"
boundary = "boundary.geojson"
[readings]
cone = "cone.csv"
"""
Folder = Callable[..., Path]


def lonlat(x: float, y: float) -> tuple[float, float]:
    """Degrees of a place given in metres from the south-west corner of the field."""
    lon, lat = Transformer.from_crs(UTM, "OGC:CRS84", always_xy=True).transform(
        ORIGIN[0] + x, ORIGIN[1] + y
    )
    return round(lon, 9), round(lat, 9)


def ring(*corners: tuple[float, float]) -> list[tuple[float, float]]:
    """A closed ring in degrees from corners in metres."""
    return [lonlat(*c) for c in (*corners, corners[0])]


def box(west: float, south: float, east: float, north: float) -> list[tuple[float, float]]:
    """A closed rectangular ring in degrees."""
    return ring((west, south), (east, south), (east, north), (west, north))


def feature(kind: str, coordinates: object, /, **properties: object) -> dict[str, object]:
    """A GeoJSON feature."""
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": kind, "coordinates": coordinates},
    }


def collection(*features: dict[str, object], **members: object) -> str:
    """A GeoJSON FeatureCollection as text."""
    return json.dumps({"type": "FeatureCollection", "features": list(features), **members})


BOUNDARY = collection(feature("Polygon", [box(0, 0, 300, 200)]))


def long_log(
    stations: Sequence[tuple[str, float, float]],
    depths: Sequence[float] = (0, 5, 10, 15, 20, 25, 30, 35, 40),
    index: float = 1.5,
) -> str:
    """A long cone log in MPa and cm."""
    rows = ["station,lon,lat,depth_cm,cone_index_mpa"]
    for name, x, y in stations:
        lon, lat = lonlat(x, y)
        rows.extend(f"{name},{lon},{lat},{d:g},{index + d / 100:.3f}" for d in depths)
    return "\n".join(rows) + "\n"


STATIONS = [("S1", 40.0, 40.0), ("S2", 150.0, 100.0), ("S3", 260.0, 160.0)]
CONE = long_log(STATIONS)


def codes(inputs: FieldInputs) -> set[str]:
    """Codes of the notices of a field."""
    return {notice.code for notice in inputs.notices}


def blob(data: str | bytes, name: str = "file") -> Blob:
    """A file held in memory."""
    return Blob("test", name, data if isinstance(data, bytes) else data.encode("utf-8"))


def table(text: str | bytes, *known: str) -> TextTable:
    """A CSV text parted into columns."""
    return read_table(blob(text, "t.csv"), lambda name: name in known)


def faults_of(work: Callable[[], object]) -> list[str]:
    """Faults of work that must be refused."""
    with pytest.raises(InputRefused) as caught:
        work()
    return [str(fault) for fault in caught.value.faults]


def open_data(*parts: str) -> Path:
    """A path in the open data; the test is skipped where it is absent."""
    path = OPEN_DATA.joinpath(*parts)
    if not path.exists():
        pytest.skip(f"open data not found: {path}")
    return path

"""A survey drawn by hand: three stations and a pit on a field across longitude 0."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely import LineString, MultiPolygon, Point, box

from zoning.model import InputFile, Notice, Settings, Survey
from zoning.model.settings import FieldSection, MachineSection, ReadingsSection

CRS = "EPSG:32630"
EAST, NORTH = 704_980.0, 5_788_030.0  # about 52.2 N on the meridian of Greenwich
MACHINE = MachineSection(depth_min_cm=15, depth_max_cm=45)


def drawn_survey(
    *,
    name: str = "Long Meadow",
    part: str = "headland",
    taken: int = 0,
    cone_unit: str | None = None,
    form_step_cm: float = 5.0,
) -> Survey:
    """Return the survey; `taken` stations are there already."""
    field = box(EAST, NORTH, EAST + 200, NORTH + 150)
    strip = box(EAST, NORTH, EAST + 200, NORTH + 30)
    parts = gpd.GeoDataFrame(
        {"part": ["body", part], "kind": ["body", "headland"], "area_ha": [2.4, 0.6]},
        geometry=[field - strip, strip],
        crs=CRS,
    )
    places = [Point(EAST + x, NORTH + y) for x, y in ((20, 15), (60, 80), (150, 110))]
    gain = [0.3, 0.5, 0.2] if taken else [np.nan] * 3
    rank = pd.array([2, 1, 3] if taken else [None] * 3, dtype="Int64")
    proposed = gpd.GeoDataFrame(
        {
            "station": ["S01", "S02", "S03"],
            "part": [part, "body", "body"],
            "role": "next" if taken else "spread",
            "pit": ["", "P01", ""],
            "insertions": 4,
            "walk_m": [20.0, 96.3, 191.2],
            "rank": rank,
            "gain_cm_ha": gain,
        },
        geometry=places,
        crs=CRS,
    )
    pipe = LineString([(EAST + 100, NORTH - 10), (EAST + 110, NORTH + 160)]).buffer(5)
    return Survey(
        settings=Settings(
            field=FieldSection(name=name, boundary="b.geojson", season=2026),
            readings=ReadingsSection(cone_unit=cone_unit),  # type: ignore[arg-type]
            machine=MACHINE,
        ),
        files=(InputFile("boundary", "b.geojson", "0" * 64),),
        boundary=MultiPolygon([field]),
        working_crs=CRS,
        parts=parts,
        keep_off=gpd.GeoDataFrame({"kind": ["service"], "cap_cm": [0.0]}, geometry=[pipe], crs=CRS),
        taken=gpd.GeoDataFrame(
            {"station": [f"C{i}" for i in range(taken)], "kind": "cone"},
            geometry=[Point(EAST + 30 * i + 10, NORTH + 60) for i in range(taken)],
            crs=CRS,
        ),
        proposed=proposed,
        start=(EAST, NORTH + 15),
        facts={
            "stations": 3,
            "stations_wanted": 3,
            "pits": 1,
            "walk_m": 340.0,
            "time_min": 42.0,
            "form_step_cm": form_step_cm,
        },
        notices=(
            Notice("caution", "services-not-checked", "Buried services have not been checked."),
            Notice("note", "probe-moisture", "Probe near field capacity."),
        ),
    )

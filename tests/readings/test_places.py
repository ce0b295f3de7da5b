"""Places of readings judged against the boundary."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from pyproj import Transformer
from readings.small_field import (
    FIELD,
    ORIGIN,
    STATIONS,
    Folder,
    box,
    codes,
    collection,
    feature,
    long_log,
    lonlat,
)

from zoning.readings import read_field

Refusal = Callable[[Path], list[str]]


def grid_log(epsg: str, stations: list[tuple[str, float, float]]) -> str:
    to = Transformer.from_crs("OGC:CRS84", epsg, always_xy=True)
    rows = ["station,easting,northing,depth_cm,cone_index_mpa"]
    for name, x, y in stations:
        east, north = to.transform(*lonlat(x, y))
        rows += [f"{name},{east:.3f},{north:.3f},{d},1.5" for d in (0, 10, 20)]
    return "\n".join(rows)


def test_degrees_are_projected(folder: Folder) -> None:
    frame = read_field(folder()).cone.drop_duplicates("station")
    xy = frame[["x_m", "y_m"]].to_numpy() - ORIGIN
    np.testing.assert_allclose(xy, [[x, y] for _, x, y in STATIONS], atol=1e-3)


@pytest.mark.parametrize("epsg", ["EPSG:32631", "EPSG:32630", "EPSG:25831"])
def test_easting_and_northing_agree_with_degrees(folder: Folder, epsg: str) -> None:
    toml = FIELD + f'crs = "{epsg}"\n'
    frame = read_field(folder(toml, cone__csv=grid_log(epsg, STATIONS))).cone.drop_duplicates(
        "station"
    )
    np.testing.assert_allclose(
        frame[["x_m", "y_m"]].to_numpy() - ORIGIN, [[x, y] for _, x, y in STATIONS], atol=2e-3
    )
    np.testing.assert_allclose(
        frame[["lon", "lat"]], [lonlat(x, y) for _, x, y in STATIONS], atol=1e-7
    )


def test_a_wrong_zone_is_refused_with_the_distance(folder: Folder, refusal: Refusal) -> None:
    toml = FIELD + 'crs = "EPSG:32632"\n'
    fault = refusal(folder(toml, cone__csv=grid_log("EPSG:32631", STATIONS)))[0]
    assert "km from the boundary" in fault
    assert "readings.crs" in fault


@pytest.mark.parametrize("kind", ["degrees", "grid"])
def test_swapped_places_are_refused(folder: Folder, refusal: Refusal, kind: str) -> None:
    if kind == "degrees":
        path = folder(cone__csv=long_log(STATIONS).replace("lon,lat", "lat,lon"))
    else:
        text = grid_log("EPSG:32631", STATIONS).replace("easting,northing", "northing,easting")
        path = folder(FIELD + 'crs = "EPSG:32631"\n', cone__csv=text)
    assert "Did you swap" in refusal(path)[0]


def test_a_reading_just_outside_is_kept_and_told(folder: Folder) -> None:
    inputs = read_field(folder(cone__csv=long_log([*STATIONS, ("S4", -6.0, 100.0)])))
    assert inputs.cone["station"].nunique() == 4
    assert codes(inputs) == {"readings-just-outside"}
    assert "6.0 m outside" in inputs.notices[0].text


def test_readings_beyond_the_tolerance_are_listed_each_with_its_reason(folder: Folder) -> None:
    inputs = read_field(
        folder(cone__csv=long_log([*STATIONS, ("S4", -60.0, 100.0)], depths=(0, 20, 40)))
    )
    assert sorted(inputs.cone["station"].unique()) == ["S1", "S2", "S3"]
    assert inputs.left_out["row"].tolist() == [11, 12, 13]
    assert inputs.left_out["reason"].unique().tolist() == ["60 m outside the boundary"]
    assert inputs.left_out["what"].tolist()[1] == "reading at 20 cm of insertion S4/1"
    assert codes(inputs) == {"readings-outside"}


def test_half_outside_is_refused(folder: Folder, refusal: Refusal) -> None:
    away = [(f"T{i}", -60.0 - i, 100.0) for i in range(4)]
    assert (
        "4 of 7 places lie outside the boundary, up to 63 m"
        in (refusal(folder(cone__csv=long_log([*STATIONS, *away])))[0])
    )


def test_one_far_reading_is_left_out_but_a_national_set_is_refused(
    folder: Folder, refusal: Refusal
) -> None:
    one = read_field(folder(cone__csv=long_log([*STATIONS, ("T", 90_000.0, 100.0)])))
    assert one.left_out["reason"].iloc[0].endswith("m outside the boundary")
    many = [(f"T{i}", 20_000.0 * i, 15_000.0 * i) for i in range(1, 8)]
    assert "a set of many fields" in refusal(folder(cone__csv=long_log([*STATIONS, *many])))[0]


def test_a_hole_is_outside(folder: Folder) -> None:
    holed = collection(feature("Polygon", [box(0, 0, 300, 200), box(120, 70, 180, 130)]))
    inputs = read_field(folder(boundary__geojson=holed))
    assert inputs.left_out["reason"].unique().tolist() == ["30 m outside the boundary"]

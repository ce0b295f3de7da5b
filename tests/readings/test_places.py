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
    assert inputs.left_out["pit_phase"].tolist() == ["", "", ""]
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


def turned(log: str, *stations: str) -> str:
    """The log with the first two numbers of the rows of `stations` exchanged."""
    rows = [row.split(",") for row in log.splitlines()]
    return "\n".join(
        ",".join([row[0], row[2], row[1], *row[3:]] if row[0] in stations else row) for row in rows
    )


@pytest.mark.parametrize("kind", ["degrees", "grid"])
def test_one_station_with_its_coordinates_swapped_is_told_so_and_stays_left_out(
    folder: Folder, kind: str
) -> None:
    plain = long_log(STATIONS) if kind == "degrees" else grid_log("EPSG:32631", STATIONS)
    toml = FIELD + ('crs = "EPSG:32631"\n' if kind == "grid" else "")
    inputs = read_field(folder(toml, cone__csv=turned(plain, "S3")))
    names = "lon and lat" if kind == "degrees" else "easting and northing"
    assert sorted(inputs.cone["station"].unique()) == ["S1", "S2"]
    assert set(inputs.left_out["reason"]) == {
        f"{names} of this station look swapped: swapped it would lie in the field"
    }
    (caution,) = [n for n in inputs.notices if n.level == "caution"]
    rows = "20-28" if kind == "degrees" else "8-10"
    assert caution.code == "readings-swapped"
    assert f"{names} of station S3 (rows {rows}) look swapped" in caution.text


def test_one_pit_with_its_coordinates_swapped_is_told_so(folder: Folder) -> None:
    rows = ["pit,phase,lon,lat,pan"]
    for name, x in (("P1", 50.0), ("P2", 90.0), ("P3", 130.0)):
        lon, lat = lonlat(x, 80.0)
        rows.append(f"{name},before,{lon},{lat},no")
    rows[2] = ",".join([*rows[2].split(",")[:2], *rows[2].split(",")[3:1:-1], "no"])
    inputs = read_field(folder(FIELD + 'pits = "pits.csv"\n', pits__csv="\n".join(rows)))
    assert inputs.left_out["what"].tolist() == ["pit P2 (before)"]
    assert inputs.left_out["pit_phase"].tolist() == ["before"]
    assert inputs.left_out["reason"].tolist()[0].startswith("lon and lat of this pit look swapped")
    (caution,) = [n for n in inputs.notices if n.level == "caution"]
    assert "pit P2 (row 3)" in caution.text


def test_a_station_far_off_is_a_caution_and_one_beside_the_field_is_a_note(folder: Folder) -> None:
    far = long_log([*STATIONS, ("T9", 12_000.0, 100.0), ("T10", 0.0, 9000.0)])
    (caution,) = [n for n in read_field(folder(cone__csv=far)).notices if n.level == "caution"]
    assert caution.code == "readings-far"
    assert "stations T9 (rows 29-37), T10 (rows 38-46) left out, 12 km" in caution.text


def test_most_stations_swapped_among_others_elsewhere_are_counted(
    folder: Folder, refusal: Refusal
) -> None:
    log = turned(long_log([*STATIONS, ("S4", 90.0, 50.0)]), "S2", "S3", "S4")
    (fault,) = refusal(folder(cone__csv=log))
    assert "3 of 4 places lie in the field once lon and lat change places" in fault


def test_a_place_beyond_the_working_system_is_named_by_its_rows(
    folder: Folder, refusal: Refusal
) -> None:
    log = long_log(STATIONS) + "S4,93,0,0,1.5\nS4,93,0,10,1.5\n"
    (fault,) = refusal(folder(cone__csv=log))
    assert fault.startswith("cone.csv: rows 29-30: Some places lie where")


def test_one_insertion_of_a_station_swapped_is_refused_as_that(
    folder: Folder, refusal: Refusal
) -> None:
    log = long_log([*STATIONS, ("S3b", 260.0, 160.0)])
    (fault,) = refusal(folder(cone__csv=turned(log, "S3b").replace("S3b", "S3")))
    assert "Rows 20-28 and rows 29-37 are both S3" in fault
    assert "look swapped" in fault

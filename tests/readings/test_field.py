"""A whole folder read at once."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from geopandas.testing import assert_geodataframe_equal
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from readings.small_field import (
    CONE,
    FIELD,
    ROOT,
    STATIONS,
    Folder,
    box,
    codes,
    collection,
    feature,
    long_log,
    lonlat,
    open_data,
)
from shapely import LineString

from zoning.readings import read_field

Refusal = Callable[[Path], list[str]]


def test_a_small_field(folder: Folder) -> None:
    inputs = read_field(folder())
    assert len(inputs.cone) == 27
    assert inputs.cone["insertion_id"].unique().tolist() == ["S1/1", "S2/1", "S3/1"]
    assert inputs.working_crs == "EPSG:32631"
    assert inputs.boundary.area == pytest.approx(60_000, rel=1e-6)
    assert (len(inputs.pits), len(inputs.hazards), len(inputs.left_out)) == (0, 0, 0)
    assert inputs.notices == ()


def test_every_file_is_listed_with_its_hash(folder: Folder) -> None:
    path = folder()
    listed = [(f.role, f.name, f.sha256) for f in read_field(path).files]
    expected = [("field", "field.toml"), ("boundary", "boundary.geojson"), ("cone", "cone.csv")]
    assert listed == [
        (r, n, hashlib.sha256((path / n).read_bytes()).hexdigest()) for r, n in expected
    ]


FULL = (
    FIELD
    + """
pits = "pits.csv"
trials = "trials.csv"
[areas]
gateways = "gateways.geojson"
named = "areas.geojson"
[areas.wheelings]
lines = "wheelings.geojson"
[hazards]
file = "hazards.geojson"
"""
)
PITS = "pit,phase,lon,lat,part,pan,pan_base_cm,photo\nP1,before,{},{},old track,yes,30,p1.jpg\n"


def full_files() -> dict[str, str]:
    lon, lat = lonlat(100, 100)
    return {
        "pits__csv": PITS.format(lon, lat),
        "trials__csv": "run,speed_km_h\nA,8\n",
        "gateways__geojson": collection(feature("Point", lonlat(0, 100))),
        "areas__geojson": collection(feature("Polygon", [box(20, 20, 60, 60)], area="old track")),
        "wheelings__geojson": collection(feature("LineString", [lonlat(10, 0), lonlat(10, 200)])),
        "hazards__geojson": collection(
            feature(
                "LineString", [lonlat(0, 50), lonlat(300, 50)], kind="drain", depth_cm=80, clear_m=0
            )
        ),
    }


def test_every_input_of_the_contract(folder: Folder) -> None:
    inputs = read_field(folder(FULL, **full_files()))
    assert inputs.pits.loc[0, ["pit", "part", "pan_base_cm"]].tolist() == ["P1", "old track", 30.0]
    assert inputs.trials["run"].tolist() == ["A"]
    assert inputs.named_areas["area"].tolist() == ["old track"]
    assert inputs.hazards["depth_cm"].tolist() == [80.0]
    assert (len(inputs.gateways), len(inputs.wheeling_lines)) == (1, 1)
    assert codes(inputs) == {"photo-missing"}
    assert [f.role for f in inputs.files][:2] == ["field", "boundary"]
    assert len(inputs.files) == 9


def test_faults_of_all_files_come_in_one_message(folder: Folder, refusal: Refusal) -> None:
    files = full_files()
    files["pits__csv"] = files["pits__csv"].replace("before", "earlier")
    files["hazards__geojson"] = files["hazards__geojson"].replace("drain", "pipe")
    bad_cone = CONE.replace("S2,", ",", 1)
    faults = refusal(folder(FULL, cone__csv=bad_cone, **files))
    assert {f.split(":")[0] for f in faults} == {"pits.csv", "hazards.geojson", "cone.csv"}


@settings(
    max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None
)
@given(st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(folder: Folder, random: object) -> None:
    head, *rows = CONE.splitlines()
    numbered = [row.replace(",", ",1,", 1) for row in rows]
    order = list(numbered)
    random.shuffle(order)  # type: ignore[attr-defined]
    head = head.replace("station,", "station,insertion,")
    frames = [
        read_field(folder(cone__csv="\n".join([head, *lines]))).cone.drop(columns="row")
        for lines in (numbered, order)
    ]
    pd.testing.assert_frame_equal(*frames)


def test_several_files_of_several_kinds(folder: Folder) -> None:
    lon, lat = lonlat(200, 50)
    toml = FIELD.replace('"cone.csv"', '["cone.csv", "wide.csv"]') + 'cone_unit = "kPa"\n'
    wide = f"station;lon;lat;5 cm;10 cm\nW1;{lon};{lat};1500;1800\n".replace(".", ",").replace(
        "csv", "csv"
    )
    inputs = read_field(folder(toml, wide__csv=wide))
    added = inputs.cone[inputs.cone["file"] == "wide.csv"]
    assert added["cone_index_mpa"].tolist() == [1.5, 1.8]
    assert codes(inputs) == {"csv-delimiter", "csv-decimal-comma"}


def test_the_same_log_twice_is_refused(folder: Folder, refusal: Refusal) -> None:
    toml = FIELD.replace('"cone.csv"', '["cone.csv", "copy.csv"]')
    assert "the same contents as 'cone.csv'" in refusal(folder(toml, copy__csv=CONE))[0]


def test_readings_are_needed_for_a_plan_but_not_for_a_survey(
    folder: Folder, refusal: Refusal
) -> None:
    path = folder(FIELD.replace('cone = "cone.csv"', ""))
    assert "Neither cone readings nor pits" in refusal(path)[0]
    assert read_field(path, need_readings=False).cone.empty


def test_a_backdrop_and_photos_must_lie_in_the_folder(folder: Folder, refusal: Refusal) -> None:
    toml = FIELD.replace("[readings]", 'backdrop = "photo.tif"\n[readings]')
    assert "backdrop file was not found" in refusal(folder(toml))[0]
    files = full_files()
    files["pits__csv"] = files["pits__csv"].replace("p1.jpg", "../p1.jpg")
    assert "photo file" in refusal(folder(FULL, **files))[0]


def test_no_folder_and_no_field_toml(tmp_path: Path, refusal: Refusal) -> None:
    assert "no such folder" in refusal(tmp_path / "none")[0]
    assert "field.toml: The field file was not found" in refusal(tmp_path)[0]
    (tmp_path / "field.toml").touch()
    said = refusal(tmp_path / "field.toml")[0]
    assert said.endswith(f"Name the folder alone: {tmp_path}")


@pytest.mark.parametrize(
    ("cone", "said"),
    [
        ("", "is empty"),
        ("station,lon,lat,depth_cm,cone_index_mpa\n", "headings but no rows"),
        (CONE.replace(",40,", ",400,"), "ending _mm would give 40 cm"),
        (CONE.replace("S1", "S\x1b[31m1", 1), "control characters"),
    ],
)
def test_bad_logs(folder: Folder, refusal: Refusal, cone: str, said: str) -> None:
    faults = refusal(folder(cone__csv=cone))
    assert any(said in f for f in faults)
    assert not any("\x1b" in f for f in faults)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_few_stations_are_read(folder: Folder, count: int) -> None:
    inputs = read_field(folder(cone__csv=long_log(STATIONS[:count])))
    assert inputs.cone["station"].nunique() == count


def test_after_readings_are_kept_apart(folder: Folder) -> None:
    toml = FIELD + 'cone_after = "after.csv"\n'
    inputs = read_field(folder(toml, after__csv=long_log(STATIONS[:2], index=0.8)))
    assert inputs.cone_after["station"].nunique() == 2
    assert len(inputs.cone) == 27


def test_reading_twice_gives_the_same(folder: Folder) -> None:
    first, second = (read_field(folder(FULL, **full_files())) for _ in range(2))
    pd.testing.assert_frame_equal(first.cone, second.cone)
    assert_geodataframe_equal(first.hazards, second.hazards)
    assert first.boundary.wkb == second.boundary.wkb
    assert (first.files, first.notices) == (second.files, second.notices)


def test_the_real_log_of_one_day(folder: Folder) -> None:
    """81 cone profiles in kPa (vanichols/maRsden, MIT); facts in the set's own expected.json."""
    source = open_data("penetrometer", "marsden_2019", "readings.csv")
    facts = json.loads((source.parent / "expected.json").read_text())
    text = (
        source.read_text().replace("id,", "station,", 1).replace("cone_index", "cone_index_kpa", 1)
    )
    inputs = read_field(
        folder(cone__csv=text, boundary__geojson=(source.parent / "boundary.geojson").read_bytes())
    )
    assert len(inputs.cone) == facts["rows"]
    assert inputs.cone["insertion_id"].nunique() == facts["profiles"]
    assert inputs.cone["cone_index_mpa"].mean() * 1000 == pytest.approx(
        facts["cone_index_mean"], rel=1e-12
    )
    assert inputs.cone["cone_index_mpa"].max() * 1000 == pytest.approx(
        facts["cone_index_max"], rel=1e-12
    )
    assert inputs.working_crs == f"EPSG:{facts['utm_epsg']}"
    # the set gives the area of the same outline in EPSG:26915
    assert inputs.boundary.area / 1e4 == pytest.approx(facts["boundary_planar_ha"], rel=1e-3)
    assert np.array_equal(np.sort(inputs.cone["row"]), np.arange(2, facts["rows"] + 2))


def test_the_heading_of_another_tool_is_named(folder: Folder, refusal: Refusal) -> None:
    assert any(
        "station: This column is missing" in f
        for f in refusal(folder(cone__csv=CONE.replace("station", "id")))
    )


def test_the_sample_field_is_read_whole() -> None:
    path = ROOT / "sample_data" / "teasel_piece"
    inputs = read_field(path)
    with (path / "cone.csv").open(encoding="utf-8") as stream:
        rows = sum(1 for _ in stream) - 1
    assert len(inputs.cone) + len(inputs.left_out) == rows


def test_a_layer_without_features_is_told(folder: Folder) -> None:
    toml = FIELD + '[hazards]\nfile = "hazards.geojson"\n'
    inputs = read_field(folder(toml, hazards__geojson=collection()))
    assert inputs.hazards.empty
    assert codes(inputs) == {"layer-empty"}


def test_each_key_that_names_a_file_of_several_layers_is_told(
    folder: Folder, refusal: Refusal, tmp_path: Path
) -> None:
    line = gpd.GeoDataFrame(geometry=[LineString([lonlat(10, 0), lonlat(10, 200)])], crs=4326)
    for layer in ("drains", "tramlines"):
        line.to_file(tmp_path / "all.gpkg", layer=layer)
    toml = f"""{FIELD}[areas]
gateways = "all.gpkg"
wheelings = {{ lines = "all.gpkg" }}
named = "all.gpkg"
[hazards]
file = "all.gpkg"
"""
    keys = ("areas.gateways", "areas.named", "areas.wheelings.lines", "hazards.file")
    assert sorted(refusal(folder(toml))) == [
        f"all.gpkg: {key}: The file has several layers: drains, tramlines. Save the one that is "
        "meant in a file of its own."
        for key in keys
    ]


def test_readings_crs_must_be_projected(folder: Folder, refusal: Refusal) -> None:
    fault = refusal(folder(FIELD + 'crs = "EPSG:4326"\n'))[0]
    assert fault.startswith("field.toml: readings.crs: 'EPSG:4326' is not a projected system")

"""The file is a GeoPackage: read by libraries that are not ours, and to the letter of the standard.

OGC 12-128r18, GeoPackage 1.3.1; GDAL through pyogrio; its command line tool where it is installed.
"""

from __future__ import annotations

import shutil
import sqlite3
import struct
import subprocess
from pathlib import Path

import pyogrio
import pytest
import shapely
from records.kept import first, pit

from zoning.records import BODIES, Draft, Record, Zone, copy_record, new_id
from zoning.records.layout import shape_of


@pytest.fixture
def copy(record: Record, tmp_path: Path) -> Path:
    one = record.save(first(pit("A1", loosened_at_leg_cm=31.5, note="ä")))
    record.save(
        Draft(body=pit("A1", note="again", lon=0.81), row_id=new_id(), record_id=one.record_id,
              based_on=1, origin="page")
    )  # fmt: skip
    wkt = "MULTIPOLYGON (((0.8 52.7, 0.81 52.7, 0.81 52.71, 0.8 52.7)))"
    zone = Zone(season=2026, plan_id="p", zone=1, depth_cm=35.0, area_ha=1.0, parts="body",
                pan_base_cm=None, geometry_wkt=wkt)  # fmt: skip
    row = new_id()
    record.save(Draft(body=zone, row_id=row, record_id=row, based_on=0, origin="plan"))
    path = tmp_path / "copy.gpkg"
    copy_record(record, path)
    return path


def test_pyogrio_reads_every_layer_with_places_and_numbers(copy: Path) -> None:
    names = {str(name) for name, _ in pyogrio.list_layers(copy)}
    assert {name for kind in BODIES for name in (kind.TABLE, f"{kind.TABLE}_now")} == names
    every = pyogrio.read_dataframe(copy, layer="pits")
    assert every["version"].tolist() == [1, 2]
    assert every.crs.to_epsg() == 4326
    latest = pyogrio.read_dataframe(copy, layer="pits_now")
    assert latest["note"].tolist() == ["again"]
    assert (latest.geometry.x.tolist(), latest.geometry.y.tolist()) == ([0.81], [52.7])
    zones = pyogrio.read_dataframe(copy, layer="zones_now")
    assert zones.geometry.iloc[0].geom_type == "MultiPolygon"
    assert zones["pan_base_cm"].isna().all()


def test_ogrinfo_of_the_system_reads_it_too(copy: Path) -> None:
    tool = shutil.which("ogrinfo")
    if tool is None:
        pytest.skip("ogrinfo is not installed (Debian package gdal-bin)")
    shown = subprocess.run(
        [tool, "-ro", "-al", str(copy), "pits_now"], capture_output=True, text=True, check=False
    )
    assert shown.returncode == 0, shown.stderr
    assert "Feature Count: 1" in shown.stdout
    assert "POINT (0.81 52.7)" in shown.stdout
    assert "ERROR" not in shown.stderr


def test_the_marks_of_a_geopackage_are_there(copy: Path) -> None:
    store = sqlite3.connect(copy)
    assert store.execute("PRAGMA application_id").fetchone() == (0x47504B47,)
    assert store.execute("PRAGMA user_version").fetchone() == (10301,)
    assert store.execute("PRAGMA foreign_key_check").fetchall() == []
    held = {row[0] for row in store.execute("SELECT srs_id FROM gpkg_spatial_ref_sys")}
    assert {-1, 0, 4326} <= held
    for name, kind in store.execute("SELECT table_name, data_type FROM gpkg_contents"):
        columns = [row[1] for row in store.execute(f"PRAGMA table_info({name})")]
        assert columns[0] == "fid"
        assert ("geom" in columns) == (kind == "features")
    store.close()


def test_a_geometry_is_header_and_well_known_binary() -> None:
    blob = shape_of(pit(lon=0.5, lat=52.25))
    assert blob is not None
    assert struct.unpack("<2sBBi", blob[:8]) == (b"GP", 0, 1, 4326)
    assert shapely.from_wkb(blob[8:]) == shapely.Point(0.5, 52.25)
    assert shape_of(pit(lon=None)) is None


def test_tables_are_strict_and_checked(copy: Path) -> None:
    store = sqlite3.connect(copy)
    strict = {row[1]: row[5] for row in store.execute("PRAGMA table_list")}
    assert all(strict[kind.TABLE] == 1 for kind in BODIES)
    text = "INSERT INTO pits (loosened_at_leg_cm) VALUES ('deep')"
    with pytest.raises(sqlite3.IntegrityError):
        store.execute(text)
    store.close()

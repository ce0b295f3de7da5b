"""``plan.gpkg``: every layer, read by geopandas and by SQLite itself."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import geopandas as gpd
import pyogrio
import pytest
import shapely

from zoning.errors import OutputFailed
from zoning.model import Plan
from zoning.outputs.geopackage import check_geopackage, layers, write_geopackage

LAYERS = {
    "boundary": 1, "parts": 2, "stations": 4, "insertions": 3, "pits": 2, "hazards": 2, "passes": 4,
    "zones": 3, "uncertain": 0,
}  # fmt: skip


def test_every_layer_is_there_with_its_rows_and_place(written: Path, plan: Plan) -> None:
    path = written / "plan.gpkg"
    assert {str(name) for name, _ in pyogrio.list_layers(path)} == set(LAYERS)
    for name, count in LAYERS.items():
        frame = gpd.read_file(path, layer=name)
        assert len(frame) == count, name
        assert frame.crs.to_epsg() == 32630
    assert gpd.read_file(path, layer="boundary").geometry[0].equals(plan.boundary)


def test_an_empty_layer_keeps_its_columns(written: Path) -> None:
    info = pyogrio.read_info(written / "plan.gpkg", layer="uncertain")
    assert set(info["fields"]) == {"reason", "area_ha"}
    assert info["geometry_type"] == "MultiPolygon"


def test_values_keep_their_types_and_texts(written: Path) -> None:
    insertions = gpd.read_file(written / "plan.gpkg", layer="insertions").set_index("station")
    assert insertions.loc["alpha", "verdict"] == "pan"
    assert insertions.loc["=SUM(A1)", "censored"]
    assert insertions.loc["alpha", "pan_base_cm"] == 33.0
    assert insertions["pan_base_cm"].isna().sum() == 1
    assert 'Übergröße, "long"' in insertions.index


def test_the_plan_is_named_in_every_layer(written: Path, plan: Plan) -> None:
    path = written / "plan.gpkg"
    for name in LAYERS:
        assert pyogrio.read_info(path, layer=name)["layer_metadata"] == {"plan_id": plan.plan_id}
    for name in ("boundary", "passes", "zones"):
        assert set(gpd.read_file(path, layer=name)["plan_id"]) == {plan.plan_id}


def test_reading_leaves_nothing_beside_the_file(written: Path) -> None:
    pyogrio.list_layers(written / "plan.gpkg")
    gpd.read_file(written / "plan.gpkg", layer="zones")
    assert [path.name for path in written.glob("plan.gpkg*")] == ["plan.gpkg"]


def test_sqlite_finds_it_whole_and_feature_counts_true(written: Path) -> None:
    with closing(sqlite3.connect(written / "plan.gpkg")) as store:
        assert store.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        for name, count in LAYERS.items():
            assert store.execute(f"SELECT count(*) FROM {name}").fetchone() == (count,)  # noqa: S608
        times = store.execute("SELECT last_change FROM gpkg_contents").fetchall()
    assert set(times) == {("2000-01-01T00:00:00.000Z",)}


def test_the_option_that_fixes_the_time_is_put_back(plan: Plan, tmp_path: Path) -> None:
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": "2020-02-02T00:00:00.000Z"})
    try:
        write_geopackage(plan, tmp_path / "plan.gpkg")
        assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") == "2020-02-02T00:00:00.000Z"
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def test_the_order_of_rows_given_does_not_matter(plan: Plan, changed: Callable[..., Plan]) -> None:
    names = ("parts", "stations", "insertions", "pits", "hazards", "passes", "zones")
    mixed = changed(**{name: getattr(plan, name).iloc[::-1] for name in names})
    for one, other in zip(layers(plan), layers(mixed), strict=True):
        assert one.rows.drop(columns="geometry").equals(other.rows.drop(columns="geometry"))
        assert shapely.equals(list(one.rows.geometry), list(other.rows.geometry)).all()


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE zones SET depth_cm = depth_cm + 2.5 WHERE zone = 2",
        "UPDATE hazards SET kind = 'service' WHERE kind = 'drain'",
        "DELETE FROM pits WHERE phase = 'after'",
        "UPDATE zones SET geom = (SELECT geom FROM zones WHERE zone = 1) WHERE zone = 2",
    ],
)
def test_a_changed_file_is_noticed(written: Path, plan: Plan, tmp_path: Path, change: str) -> None:
    path = Path(shutil.copy(written / "plan.gpkg", tmp_path))
    with closing(sqlite3.connect(path)) as store, store:
        store.execute("PRAGMA synchronous = OFF")
        for (trigger,) in store.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall():
            store.execute(f'DROP TRIGGER "{trigger}"')
        store.execute(change)
    with pytest.raises(OutputFailed, match=r"plan\.gpkg"):
        check_geopackage(plan, path)


def test_a_torn_file_is_noticed(written: Path, plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "plan.gpkg"
    data = bytearray((written / "plan.gpkg").read_bytes())
    data[len(data) // 2 :] = bytes(len(data) - len(data) // 2)
    path.write_bytes(data)
    with pytest.raises((OutputFailed, sqlite3.DatabaseError)):
        check_geopackage(plan, path)

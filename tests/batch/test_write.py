"""The three tables of a batch, read by other libraries."""

from __future__ import annotations

import json
from pathlib import Path
from urllib.parse import unquote

import fastparquet
import pandas as pd
import pytest
import shapely
from geojson_validator import validate_structure
from jsonschema import Draft202012Validator
from pyproj import Geod

from zoning.batch import Outcome, check_batch_target, write_batch
from zoning.contracts import shared
from zoning.errors import OutputFailed

MIXED = [
    Outcome("a", "refused", "=cmd(): file\u2028x is wrong"),
    Outcome("b", "set_aside", "It ended its worker 3 times."),
]


def validator() -> Draft202012Validator:
    text = shared("schemas", "batch.schema.json").read_text(encoding="utf-8")
    return Draft202012Validator(json.loads(text))


@pytest.mark.parametrize(("name", "sound"), [("good", True), ("bad", False)])
def test_examples(name: str, sound: bool) -> None:
    text = shared("examples", f"batch.{name}.json").read_text(encoding="utf-8")
    assert validator().is_valid(json.loads(text)) is sound


def test_rows_keep_the_schema_and_say_what_the_plans_say(planned: Path) -> None:
    features = json.loads((planned / "out" / "batch.geojson").read_bytes())["features"]
    assert len(features) == 2
    for feature in features:
        row = feature["properties"]
        validator().validate(row)
        plan = json.loads((Path(row["field"]) / "plan" / "plan.json").read_bytes())
        assert row["plan_id"] == plan["plan_id"]
        assert row["work_h"] == pytest.approx(plan["totals"]["time_min"] / 60)
        totals, costs = plan["totals"], plan["settings"]["costs"]
        assert row["worked_ha"] == totals["worked_ha"]
        assert row["lifted_h"] == pytest.approx(totals["lifted_time_min"] / 60)
        assert row["lifted_fuel_l"] == totals["lifted_fuel_l"]
        assert (row["cost"], row["machine"]) == (
            totals["cost"],
            plan["settings"]["machine"]["name"],
        )
        assert row["currency"] == (costs["currency"] or "")
        assert row["loss_cm"] == plan["comparison"]["driven_cm"]
        assert row["depths"] == "; ".join(
            f"{d:g}" for d in sorted({z["depth_cm"] for z in plan["zones"]})
        )
        assert row["seconds"] > 0


def test_the_map_of_each_plan_is_found_from_the_table(planned: Path) -> None:
    for link in pd.read_csv(planned / "out" / "batch.csv")["map"]:
        page = planned / "out" / unquote(link)
        assert page.resolve().read_text(encoding="utf-8").lstrip().lower().startswith("<!doctype")


def test_the_outline_is_the_field(planned: Path) -> None:
    """Area on the ellipsoid by pyproj (GeographicLib), and RFC 7946 by geojson-validator."""
    document = json.loads((planned / "out" / "batch.geojson").read_bytes())
    assert not validate_structure(document)
    for feature in document["features"]:
        shape = shapely.from_geojson(json.dumps(feature["geometry"]))
        area_m2, _ = Geod(ellps="WGS84").geometry_area_perimeter(shape)
        # Off the central meridian UTM shrinks areas by up to 0.08 %.
        assert area_m2 / 1e4 == pytest.approx(feature["properties"]["area_ha"], rel=1e-3)


def test_csv_parquet_and_geojson_agree(planned: Path) -> None:
    table = pd.read_csv(planned / "out" / "batch.csv")
    packed = fastparquet.ParquetFile(str(planned / "out" / "batch.parquet"))
    frame = packed.to_pandas()
    document = json.loads((planned / "out" / "batch.geojson").read_bytes())
    outlines = [shapely.from_geojson(json.dumps(f["geometry"])) for f in document["features"]]
    assert list(frame["field"]) == list(table["field"])
    assert list(frame["area_ha"]) == pytest.approx(list(table["area_ha"]), abs=5.1e-5)
    assert all(
        shapely.equals_exact(a, b, 1e-8)
        for a, b in zip(shapely.from_wkb(list(frame["geometry"])), outlines, strict=True)
    )
    geo = json.loads(packed.key_value_metadata["geo"])
    assert (geo["version"], geo["primary_column"]) == ("1.1.0", "geometry")
    assert set(geo["columns"]["geometry"]["geometry_types"]) <= {"Polygon", "MultiPolygon"}


def test_fields_without_a_plan_have_rows_too_and_no_cell_is_a_formula(tmp_path: Path) -> None:
    write_batch(MIXED, tmp_path)
    table = pd.read_csv(tmp_path / "batch.csv", keep_default_na=False)
    assert list(table["status"]) == ["refused", "set_aside"]
    assert table["error"][0].startswith("'=")
    frame = fastparquet.ParquetFile(str(tmp_path / "batch.parquet")).to_pandas()
    assert list(frame["error"]) == [outcome.error for outcome in MIXED]
    features = json.loads((tmp_path / "batch.geojson").read_bytes())["features"]
    assert [f["geometry"] for f in features] == [None, None]


def test_the_same_outcomes_give_the_same_bytes(tmp_path: Path) -> None:
    for name in ("x", "y"):
        write_batch(MIXED, tmp_path / name)
    for path in (tmp_path / "x").iterdir():
        assert path.read_bytes() == (tmp_path / "y" / path.name).read_bytes()
    assert len(list((tmp_path / "x").iterdir())) == 4


def test_a_table_of_somebody_else_is_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "batch.csv").write_text("sheep,weight_kg\n1,55\n")
    with pytest.raises(OutputFailed, match="--out"):
        check_batch_target(tmp_path)
    write_batch(MIXED, tmp_path / "mine")
    check_batch_target(tmp_path / "mine")

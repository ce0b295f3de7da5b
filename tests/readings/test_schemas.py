"""Schemas of the inputs: current, complete, and borne out by their examples."""

from __future__ import annotations

import json
from collections.abc import Iterator

import geopandas as gpd
import pandas as pd
import pytest
from jsonschema import Draft202012Validator
from readings.small_field import ROOT, Folder, box, collection, feature, lonlat

from zoning.readings import read_field
from zoning.readings.frames import CONE_COLUMNS, PIT_COLUMNS, TRIAL_COLUMNS

NAMES = ["field", "cone_readings", "pits", "trials", "hazards", "areas", "gateways", "wheelings"]


def schema(name: str) -> dict[str, object]:
    return json.loads((ROOT / "shared/schemas" / f"{name}.schema.json").read_text(encoding="utf-8"))


def example(name: str, kind: str) -> object:
    return json.loads(
        (ROOT / "shared/examples" / f"{name}.{kind}.json").read_text(encoding="utf-8")
    )


def properties(node: object) -> Iterator[tuple[str, dict[str, object]]]:
    """Every property of a schema, at any depth."""
    if isinstance(node, dict):
        yield from node.get("properties", {}).items()
        for value in node.values():
            yield from properties(value)


@pytest.mark.parametrize("name", NAMES)
def test_every_property_has_a_unit_and_a_meaning(name: str) -> None:
    Draft202012Validator.check_schema(schema(name))
    for key, member in properties(schema(name)):
        assert {"unit", "description"} <= set(member), key
        suffixes = {
            "_cm": "cm",
            "_mpa": "MPa",
            "_m": "m",
            "_deg": "deg",
            "_kw": "kW",
            "_km_h": "km/h",
        }
        expected = next((u for s, u in suffixes.items() if key.endswith(s)), member["unit"])
        assert member["unit"] == expected, key


@pytest.mark.parametrize("name", NAMES)
def test_examples(name: str) -> None:
    validator = Draft202012Validator(schema(name))
    assert list(validator.iter_errors(example(name, "good"))) == []
    assert list(validator.iter_errors(example(name, "bad"))) != []


@pytest.mark.parametrize(
    ("name", "columns"),
    [("cone_readings", CONE_COLUMNS), ("pits", PIT_COLUMNS), ("trials", TRIAL_COLUMNS)],
)
def test_frames_have_the_columns_of_their_schema(name: str, columns: dict[str, str]) -> None:
    members = schema(name)["properties"]
    kinds = {"string": "str", "integer": "int64", "number": "float64"}
    found = {
        k: m["type"] if isinstance(m["type"], str) else m["type"][0] for k, m in members.items()
    }
    assert {key: kinds[kind] for key, kind in found.items()} == dict(columns)


def rows(frame: pd.DataFrame) -> list[dict[str, object]]:
    plain = frame.astype(object).where(frame.notna(), None)
    return plain.to_dict("records")


def test_rows_that_leave_the_reader_meet_their_schema(folder: Folder) -> None:
    toml = """
[field]
name = "A"
boundary = "boundary.geojson"
[readings]
cone = "cone.csv"
pits = "pits.csv"
trials = "trials.csv"
[areas]
named = "areas.geojson"
gateways = "gates.geojson"
[hazards]
file = "hazards.geojson"
"""
    lon, lat = lonlat(100, 100)
    inputs = read_field(
        folder(
            toml,
            pits__csv=f"pit,phase,lon,lat,pan,pan_top_cm\nP1,before,{lon},{lat},yes,20\n",
            trials__csv="run,speed_km_h\nA,8\n",
            areas__geojson=collection(feature("Polygon", [box(9, 9, 30, 30)], area="pad")),
            gates__geojson=collection(feature("Point", lonlat(0, 100))),
            hazards__geojson=collection(feature("Point", lonlat(9, 9), kind="service")),
        )
    )
    gates = gpd.GeoDataFrame({"geometry": inputs.gateways.geom_type})
    tables = {
        "cone_readings": inputs.cone,
        "pits": inputs.pits,
        "trials": inputs.trials,
        "areas": inputs.named_areas.drop(columns="geometry"),
        "gateways": pd.DataFrame(gates),
        "hazards": pd.DataFrame(inputs.hazards.drop(columns="geometry")),
    }
    for name, frame in tables.items():
        validator = Draft202012Validator(schema(name))
        assert len(frame) > 0
        assert [e.message for row in rows(frame) for e in validator.iter_errors(row)] == [], name

"""The row schemas of the tables, against JSON Schema 2020-12 by the `jsonschema` package."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest
from jsonschema import Draft202012Validator

from zoning.contracts import shared
from zoning.outputs.columns import table_schema

Validators = Callable[[str], Draft202012Validator]
TABLES = ("depth_zones", "depth_grid", "depth_passes", "readings_used")
SCHEMAS = (*TABLES, "plan")


def document(name: str) -> dict:
    return json.loads(shared("schemas", f"{name}.schema.json").read_text(encoding="utf-8"))


def example(name: str) -> object:
    return json.loads(shared("examples", name).read_text(encoding="utf-8"))


def properties(schema: dict) -> list[tuple[str, dict]]:
    found = list(schema.get("properties", {}).items())
    deeper = [child for _, child in found]
    deeper += [schema[key] for key in ("items",) if isinstance(schema.get(key), dict)]
    return found + [entry for child in deeper for entry in properties(child)]


@pytest.mark.parametrize("name", SCHEMAS)
def test_each_schema_is_json_schema_2020_12(name: str) -> None:
    Draft202012Validator.check_schema(document(name))
    assert document(name)["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("name", SCHEMAS)
def test_every_property_has_a_unit_and_a_meaning(name: str) -> None:
    found = properties(document(name))
    assert len(found) >= 3
    bare = [key for key, facts in found if not facts.get("unit") or not facts.get("description")]
    assert bare == []


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_good_example_is_valid_and_the_bad_one_is_not(name: str, validator: Validators) -> None:
    assert list(validator(name).iter_errors(example(f"{name}.good.json"))) == []
    assert list(validator(name).iter_errors(example(f"{name}.bad.json"))) != []


def test_a_column_says_what_its_schema_says() -> None:
    depth = {column.name: column for column in table_schema("depth_zones").columns}["depth_cm"]
    assert (depth.kind, depth.unit, depth.decimals, depth.least, depth.blank, depth.required) == (
        "number", "cm", 2, 0, False, True,
    )  # fmt: skip


# The names and their order are those of the file contract, docs/reference/files.rst.
@pytest.mark.parametrize(
    ("name", "names"),
    [
        (
            "depth_zones",
            (
                "zone depth_cm area_ha parts pan_base_cm assurance draft_kn power_kw fuel_l "
                "time_min cleared cautions plan_id geometry_wkt"
            ),
        ),
        ("depth_grid", "lon lat depth_cm"),
        (
            "depth_passes",
            "pass step part from_m to_m start_lon start_lat end_lon end_lat depth_cm",
        ),
    ],
)
def test_tables_have_the_columns_of_the_contract(name: str, names: str) -> None:
    assert [column.name for column in table_schema(name).columns] == names.split()


def test_among_keeps_the_order_of_the_table() -> None:
    chosen = table_schema("depth_grid").among({"depth_cm", "lon"})
    assert [column.name for column in chosen] == ["lon", "depth_cm"]

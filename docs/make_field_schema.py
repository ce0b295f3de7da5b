"""Make the schema of ``field.toml`` from the settings: ``python docs/make_field_schema.py``.

So `shared/schemas/field.schema.json` cannot differ from what the program reads.
"""

# ruff: noqa: INP001 - the folder of the documentation is no package
from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

from zoning.contracts import rows
from zoning.model import Settings

_SECTIONS = {"FieldSection": "field", "ReadingsSection": "readings", "AreasSection": "areas",
             "WheelingsSection": "areas.wheelings", "HazardsSection": "hazards",
             "MachineSection": "machine", "TractorSection": "tractor", "SoilSection": "soil",
             "DepthSection": "depth", "CostsSection": "costs"}  # fmt: skip


def field_schema() -> str:
    """Return the text of ``shared/schemas/field.schema.json``.

    Types, limits and defaults come from `zoning.model.Settings`; the unit and meaning of each key
    from ``shared/tables/field_keys.csv``.

    Raises
    ------
    KeyError
        If the table lacks a key.
    """
    made = TypeAdapter(Settings).json_schema()
    words = {row["name"]: row for row in rows("field_keys")}
    definitions = {
        name: _section(made["$defs"][name], section, words)
        for name, section in sorted(_SECTIONS.items())
    }
    sections = {
        name: _with_words(_plain(member), made["$defs"])
        for name, member in made["properties"].items()
    }
    sections["machine"] = {
        "anyOf": [{"$ref": sections["machine"]["$ref"]}, {"type": "string", "minLength": 1}],
        "unit": "none",
        "description": "The loosener, or the name of a file that holds its keys.",
    }
    schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "field.schema.json",
        "title": "field.toml",
        "description": "Settings of one field. A key that is not listed is refused.",
        "type": "object",
        "additionalProperties": False,
        "required": made["required"],
        "properties": sections,
        "$defs": definitions,
    }
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def _section(
    definition: Mapping[str, Any], section: str, words: Mapping[str, Mapping[str, str]]
) -> dict[str, Any]:
    properties = {}
    for key, member in definition["properties"].items():
        told = words[f"{section}.{key}"]
        extra = {"unit": told["unit"], "description": told["meaning"]}
        properties[key] = {**_plain(member), **extra}
    kept = {
        key: definition[key]
        for key in ("type", "additionalProperties", "required")
        if key in definition
    }
    return {
        **kept,
        "description": definition["description"].replace("``", ""),
        "properties": properties,
    }


def _with_words(reference: Mapping[str, Any], definitions: Mapping[str, Any]) -> dict[str, Any]:
    """Add to a reference the unit and the description of the section it names."""
    name = reference["$ref"].rsplit("/", 1)[-1]
    words = definitions[name]["description"].replace("``", "")
    return {**reference, "unit": "none", "description": words}


def _plain(member: Mapping[str, Any]) -> dict[str, Any]:
    """Leave out titles and the alternative null: TOML has none."""
    kept = {key: value for key, value in member.items() if key != "title"}
    options = [option for option in kept.pop("anyOf", []) if option != {"type": "null"}]
    if kept.get("default", ...) is None:
        kept.pop("default")
    if len(options) == 1:
        return {**kept, **options[0]}
    return {**kept, "anyOf": options} if options else kept


if __name__ == "__main__":
    SHARED = Path(__file__).parents[1] / "shared"
    (SHARED / "schemas" / "field.schema.json").write_text(field_schema(), encoding="utf-8")

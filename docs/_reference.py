"""Reference pages made from ``shared/tables`` and ``shared/schemas`` as the docs are built.

The pages are written to ``docs/reference/_made``, which is not kept in git: what stands in the
tables and schemas is told once, there.
"""

# ruff: noqa: INP001 - the folder of the documentation is no package
from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

Row = Sequence[str]

STATUS = {
    "published": "read at the source",
    "memory": "quoted from memory of the source",
    "practice": "common practice, no published source",
    "choice": "choice of this project",
    "derived": "by arithmetic from other rows",
}
OWN = ("project_choice", "common_practice", "contract")  # the name of the source says it all
FIRST = (
    "field", "cone_readings", "pits", "trials", "areas", "gateways", "wheelings", "hazards",
    "depth_zones", "depth_grid", "depth_passes", "readings_used", "plan",
)  # fmt: skip
TITLES = {
    "batch_words": "What a field of a batch has to settle first, the gravest first",
    "cautions": "Cautions of a plan",
    "check_cautions": "Cautions of a check",
    "field_keys": "Keys of field.toml",
    "sources": "Sources",
}


def make(root: Path) -> None:
    """Write the pages made from the tables and schemas below `root`, the top of the repository."""
    made = root / "docs" / "reference" / "_made"
    made.mkdir(parents=True, exist_ok=True)
    _write(made / "tables.rst", tables_page(root / "shared" / "tables"))
    _write(made / "schemas.rst", schemas_page(root / "shared" / "schemas"))


def tables_page(folder: Path) -> str:
    """Return the text that lists every row of every table in `folder`, sources last."""
    paths = sorted(folder.glob("*.csv"), key=lambda path: (path.stem == "sources", path.stem))
    return "\n".join(line for path in paths for line in _table_section(path))


def schemas_page(folder: Path) -> str:
    """Return the text that lists every column of every schema in `folder`."""
    order = {f"{name}.schema.json": place for place, name in enumerate(FIRST)}
    paths = sorted(
        folder.glob("*.schema.json"), key=lambda path: (order.get(path.name, len(order)), path.name)
    )
    return "\n".join(line for path in paths for line in _schema_section(path))


def escaped(text: str) -> str:
    """Return `text` with the signs that reStructuredText would read as marks made plain."""
    return re.sub(r"([\\*`|_])", r"\\\1", " ".join(str(text).split()))


def _write(path: Path, text: str) -> None:
    """Write `text` unless the file has it already, so that a second build does nothing."""
    if not path.exists() or path.read_text(encoding="utf-8") != text:
        path.write_text(text, encoding="utf-8")


def _heading(text: str, mark: str, label: str) -> Iterator[str]:
    yield from (f".. _{label}:", "", text, mark * len(text), "")


def _list_table(head: Row, body: Iterable[Row], widths: Row | None = None) -> Iterator[str]:
    yield from (".. list-table::", "   :header-rows: 1", "   :class: long")
    if widths is not None:
        yield f"   :widths: {' '.join(widths)}"
    yield ""
    for row in (head, *body):
        for place, cell in enumerate(row):
            yield f"   {'*' if place == 0 else ' '} - {cell}".rstrip()
    yield ""


def _table_section(path: Path) -> Iterator[str]:
    with path.open(encoding="utf-8", newline="") as opened:
        rows = list(csv.DictReader(opened))
    title = TITLES.get(path.stem, path.stem.replace("_", " ").capitalize())
    yield from _heading(title, "-", f"table-{path.stem}")
    yield from (f"``shared/tables/{path.name}``", "")
    head = [name for name in rows[0] if name != "status"]
    shown = [name.replace("_", " ") for name in head]
    yield from _list_table(shown, ([_cell(row, name, path.stem) for name in head] for row in rows))


def _cell(row: Mapping[str, str], name: str, table: str) -> str:
    value = row[name] or ""
    if name == "source" and table == "sources":
        return f".. _source-{value}:\n\n       {_code(value)}"
    if name == "source":
        words = STATUS.get(row.get("status", ""), "")
        link = f":ref:`{escaped(value.replace('_', ' '))} <source-{value}>`"
        return link if value in OWN or not words else f"{link}; {words}"
    if name in ("name", "code"):
        return _code(value)
    if name == "unit":
        return _unit(value)
    return escaped(value)


def _code(text: str) -> str:
    return f"``{text}``" if text else ""


def _unit(text: str) -> str:
    """Return a unit as a reader expects it; ``1`` is a plain number and ``none`` is no quantity."""
    return {"1": "", "none": "", "": ""}.get(text, escaped(text))


def _schema_section(path: Path) -> Iterator[str]:
    schema = json.loads(path.read_text(encoding="utf-8"))
    name = path.name.removesuffix(".schema.json")
    yield from _heading(f"{name}: {schema['title']}", "-", f"schema-{name}")
    yield from (f"``shared/schemas/{path.name}``. {escaped(schema.get('description', ''))}", "")
    yield from _columns(_properties(schema, ""))
    for part in _sections(schema):
        section, _, meaning = part["description"].partition(": ")
        yield from _heading(escaped(section), "~", f"schema-{name}-{_slug(section)}")
        yield from (escaped(meaning[:1].upper() + meaning[1:]), "")
        yield from _columns(_properties(part, ""))


def _sections(schema: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """Return the sections of a schema in the order of its keys, then those inside sections."""
    named = re.findall(r"#/\$defs/(\w+)", json.dumps(schema.get("properties", {})))
    yield from (schema["$defs"][name] for name in named)
    yield from (part for name, part in schema.get("$defs", {}).items() if name not in named)


def _slug(text: str) -> str:
    return re.sub(r"[^a-z]+", "-", text.lower()).strip("-")


def _columns(rows: Iterable[Row]) -> Iterator[str]:
    yield from _list_table(("name", "unit", "meaning", "values"), rows, ("22", "8", "45", "25"))


def _properties(schema: Mapping[str, Any], prefix: str) -> Iterator[Row]:
    """Return a row a property; what lies inside an object or a list follows with a dotted name."""
    needed = set(schema.get("required", ()))
    for name, one in schema.get("properties", {}).items():
        full = f"{prefix}{name}"
        values = _values(one, required=name in needed)
        yield _code(full), _unit(one.get("unit", "")), escaped(one.get("description", "")), values
        yield from _properties(one, f"{full}.")
        yield from _properties(one.get("items", {}), f"{full}[].")


def _values(one: Mapping[str, Any], *, required: bool) -> str:
    """Return in words which values are allowed."""
    words = [] if required else ["optional"]
    if "default" in one:
        words = [f"default {_shown(one['default'])}"]
    if "enum" in one:
        words.append(" | ".join(_shown(value) for value in one["enum"]))
    limits = (
        ("minimum", "at least"),
        ("exclusiveMinimum", "above"),
        ("maximum", "at most"),
        ("exclusiveMaximum", "below"),
    )
    words += [f"{word} {one[key]:g}" for key, word in limits if key in one]
    if isinstance(one.get("type"), list) and "null" in one["type"]:
        words.append("may be blank")
    return escaped("; ".join(words))


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return f"{value:g}"
    return "blank" if value in ("", None) else f"{value}"

"""``field.toml``: parsed, checked key by key, every fault in one message."""

from __future__ import annotations

import json
import math
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import Any, get_args, get_type_hints

from pydantic import TypeAdapter, ValidationError

from zoning.errors import Fault, InputRefused
from zoning.model import InputFile, Settings
from zoning.readings.files import FIELD_ROLE, Blob, read_text_file
from zoning.readings.rules import suggest
from zoning.readings.settings_check import combination_faults

FIELD_FILE = "field.toml"
_PLACE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)")
_FORM = "Write KEY = VALUE, text in quotes, each [section] and each key once."
_SLIPS = (
    (re.compile(r"=\s*[+-]?\d+,\d", re.ASCII), "Write a decimal point: 2.5, not 2,5."),
    (
        re.compile("=\\s*[\u201c\u201d\u201e\u2018\u2019\u00ab\u00bb]"),
        'Write straight quotes: "text".',
    ),
    (re.compile(r"\\"), "Write / in the names of files, not \\."),
)
_NEEDED = {
    "string_type": "text in quotes",
    "float_type": "a number without quotes",
    "int_type": "a whole number without quotes or point",
    "bool_type": "true or false",
    "list_type": "a list",
    "string_too_short": "at least one character",
}
_BOUNDS = {
    "greater_than": ("gt", "above"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "below"),
    "less_than_equal": ("le", "at most"),
}


@dataclass(frozen=True, slots=True)
class FieldFile:
    """``field.toml`` (and ``machine.toml`` where named), checked; which keys the machine has."""

    settings: Settings
    files: tuple[InputFile, ...]
    machine_keys: frozenset[str]


def read_settings(folder: Path) -> FieldFile:
    """Read ``field.toml`` of `folder` and the machine file it may name.

    Raises
    ------
    InputRefused
        With every unknown, missing or impossible key of both files.
    """
    blob = read_text_file(folder, FIELD_FILE, FIELD_ROLE)
    data = _parse(blob)
    blobs = [blob]
    if isinstance(data.get("machine"), str):
        machine = read_text_file(folder, str(data["machine"]), "machine")
        blobs.append(machine)
        data["machine"] = _machine_table(_parse(machine))
    owner = blobs[-1].name if len(blobs) > 1 else FIELD_FILE
    faults = [_not_finite(key, owner) for key in _non_finite(data, ())]
    if faults:
        raise InputRefused(faults)
    keys = frozenset(data.get("machine") or {})
    return FieldFile(_checked(data, owner), tuple(b.record for b in blobs), keys)


def _parse(blob: Blob) -> dict[str, Any]:
    try:
        text = blob.data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = blob.data[: error.start].count(b"\n") + 1
        fault = Fault(blob.name, "The text is not UTF-8.", "Save the file as UTF-8.", row=row)
        raise InputRefused([fault]) from error
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputRefused([_syntax(blob.name, text, str(error))]) from error
    except (RecursionError, ValueError) as error:
        fault = Fault(blob.name, "The file cannot be read as TOML.", "Write plain keys and values.")
        raise InputRefused([fault]) from error


def _syntax(file: str, text: str, message: str) -> Fault:
    place = _PLACE.search(message)
    row = int(place[1]) if place and place[1] else None
    said = _PLACE.sub("", message)
    line = "".join(text.splitlines()[row - 1 : row]) if row else ""
    remedy = next((words for sign, words in _SLIPS if sign.search(line)), _FORM)
    return Fault(file, f"This is not valid TOML: {said}.", remedy, row=row)


def _machine_table(data: dict[str, Any]) -> object:
    """Return the keys of a machine file: they stand bare or in one table ``[machine]``."""
    if set(data) == {"machine"}:
        return data["machine"]
    return data


def _non_finite(value: object, path: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    if isinstance(value, float) and not math.isfinite(value):
        yield path
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _non_finite(inner, (*path, str(key)))
    elif isinstance(value, list):
        for inner in value:
            yield from _non_finite(inner, path)


def _not_finite(path: tuple[str, ...], owner: str) -> Fault:
    return Fault(
        _file_of(path, owner),
        "The value is not a finite number.",
        "Give a number.",
        column=_key(path),
    )


def _checked(data: Mapping[str, Any], owner: str) -> Settings:
    try:
        settings = _adapter().validate_json(json.dumps(data, default=_plain), strict=True)
    except ValidationError as error:
        raise InputRefused(_faults(error, owner)) from error
    combined = combination_faults(settings, FIELD_FILE, owner)
    if combined:
        raise InputRefused(combined)
    return settings


def settings_from(data: Mapping[str, Any]) -> Settings:
    """Return settings that a plan wrote down: nested mappings, every key by its name.

    Raises
    ------
    InputRefused
        With every unknown, missing or impossible key.
    """
    return _checked(data, FIELD_FILE)


@cache
def _adapter() -> TypeAdapter[Settings]:
    return TypeAdapter(Settings)


def _plain(value: object) -> object:
    """TOML dates and times are no text: hand on a list, which no key accepts as a text."""
    return {"a date or time": str(value)}


def _faults(error: ValidationError, owner: str) -> list[Fault]:
    """One fault a key: the alternatives of a union speak once."""
    found: dict[tuple[str, ...], Fault] = {}
    for item in error.errors(include_url=False):
        path = tuple(str(part) for part in item["loc"])
        path = path[: _depth(path)]
        fault = _fault(item["type"], path, item.get("ctx") or {}, item.get("input"), owner)
        found.setdefault(path, fault)
    return list(found.values())


def _depth(path: tuple[str, ...]) -> int:
    """Return how many parts of `path` are keys, not the alternatives of a union."""
    table: object = Settings
    for depth, part in enumerate(path):
        names = _names(table)
        if part not in names:
            return depth + 1 if names else depth
        table = _table_of(table, part)
    return len(path)


def _names(table: object) -> tuple[str, ...]:
    return tuple(f.name for f in fields(table)) if is_dataclass(table) else ()


def _table_of(table: object, key: str) -> object:
    hint = get_type_hints(table)[key]
    options = (hint, *get_args(hint))
    return next((option for option in options if is_dataclass(option)), None)


def _section(path: Sequence[str]) -> object:
    table: object = Settings
    for part in path:
        table = _table_of(table, part)
    return table


def _fault(
    kind: str, path: tuple[str, ...], context: Mapping[str, Any], found: object, owner: str
) -> Fault:
    file, key = _file_of(path, owner), _key(path)
    names = _names(_section(path[:-1]))
    if kind in {"unexpected_keyword_argument", "extra_forbidden"}:
        return Fault(file, "This key is unknown.", _unknown_remedy(path, names), column=key)
    if kind == "missing":
        return Fault(
            file,
            "This key is missing.",
            f"Add {path[-1]} = ... to {_table_name(path)}.",
            column=key,
        )
    remedy = f"Needed: {_needed(kind, context)}."
    return Fault(file, f"Found {_shown(found)}.", remedy, column=key)


def _unknown_remedy(path: tuple[str, ...], names: Sequence[str]) -> str:
    if path[-1] == "machine" and len(path) > 1:
        return "Put the line at the top of the file, above the first [section]."
    return suggest(path[-1], names)


def _needed(kind: str, context: Mapping[str, Any]) -> str:
    if kind in _BOUNDS:
        key, words = _BOUNDS[kind]
        return f"a number {words} {context[key]:g}"
    if kind == "literal_error":
        return f"one of {context['expected']}"
    if kind == "dataclass_type":
        return "a [section] with keys"
    return _NEEDED.get(kind, "another kind of value")


def _shown(found: object) -> str:
    text = json.dumps(found, ensure_ascii=False, default=str)
    return text if len(text) <= 60 else text[:57] + "..."


def _key(path: Sequence[str]) -> str:
    return ".".join(path)


def _table_name(path: Sequence[str]) -> str:
    return f"[{_key(path[:-1])}]" if len(path) > 1 else "the file"


def _file_of(path: Sequence[str], owner: str) -> str:
    return owner if path and path[0] == "machine" else FIELD_FILE

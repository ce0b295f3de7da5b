"""Broken ``field.toml``: every key with a value of the wrong kind, and what names may not do."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import get_args, get_type_hints

from corpus.base import FIELD, Case

from zoning.model import Settings

ADDRESSES = (
    "/etc/passwd",
    "../secret.csv",
    "sub/../../secret.csv",
    "http://127.0.0.1:9/x.geojson",
    "https://127.0.0.1:9/x",
    "file:///etc/passwd",
    "/vsicurl/http://127.0.0.1:9/x",
    "/vsizip/boundary.zip",
    "/vsimem/x",
    "/vsistdin/",
    "CSV:/etc/passwd",
    "WFS:http://127.0.0.1:9/",
    "GPKG:boundary.gpkg:layer",
    "<OGRVRTDataSource></OGRVRTDataSource>",
    '{"type": "Point"}',
    "~/x.csv",
    "C:\\\\x.csv",
    "\\\\\\\\server\\\\share\\\\x.csv",
    "a\\u0000b",
    "",
    ".",
    "..",
    "nothing_here.csv",
    "x" * 300,
    "\\u202ecsv.enoc",
)
KEYS = {
    "boundary": "boundary.geojson",
    "cone": "cone.csv",
    "pits": "pits.csv",
    "trials": "trials.csv",
    "gateways": "gateways.geojson",
    "named": "areas.geojson",
    "lines": "wheelings.geojson",
    "file": "hazards.geojson",
}


def cases() -> Iterator[Case]:
    """Every broken settings file."""
    yield from _every_key(Settings, ())
    yield from _syntax()
    yield from _values()
    for number, address in enumerate(ADDRESSES):
        for key, name in KEYS.items():
            if key not in {"boundary", "cone", "file"} and number % 4:
                continue  # the same door for all of them: a sample of the others
            text = FIELD.replace(f'{key} = "{name}"', f'{key} = "{address}"', 1)
            yield Case(f"{key} = {address[:40]!r}", {"field.toml": text}, "")
    yield from _special_files()


def _every_key(section: type, path: tuple[str, ...]) -> Iterator[Case]:
    """Yield, for every key there is, a table where a value belongs, and for numbers NaN."""
    hints = get_type_hints(section)
    for each in fields(section):
        inner = next(
            (t for t in (hints[each.name], *get_args(hints[each.name])) if is_dataclass(t)), None
        )
        here = (*path, each.name)
        if inner is not None:
            yield from _every_key(inner, here)
            text = (
                f'[field]\nname = "A"\nboundary = "boundary.geojson"\n[{".".join(here)}]\nzzz = 1\n'
            )
            yield Case(f"unknown key in {'.'.join(here)}", {"field.toml": text}, "field.toml")
            continue
        for value in ("{ a = 1 }", "[[1]]", "nan", "2026-01-01"):
            yield Case(
                f"{'.'.join(here)} = {value}", {"field.toml": _one(here, value)}, "field.toml"
            )


def _one(path: tuple[str, ...], value: str) -> str:
    """Return settings in which one key has another value."""
    held = {
        "field": {"name": '"A"', "boundary": '"boundary.geojson"'},
        "readings": {"cone": '"cone.csv"'},
    }
    held.setdefault(".".join(path[:-1]), {})[path[-1]] = value
    return (
        "\n".join(
            f"[{name}]\n" + "\n".join(f"{k} = {v}" for k, v in keys.items())
            for name, keys in held.items()
        )
        + "\n"
    )


def _syntax() -> Iterator[Case]:
    for name, text in {
        "empty": b"",
        "not utf-8": FIELD.replace("Test", "T\xfcst").encode("latin-1"),
        "no value": FIELD + "name =\n",
        "a key twice": FIELD.replace('name = "Test Piece"', 'name = "a"\nname = "b"'),
        "a section twice": FIELD + "[field]\n",
        "text without quotes": FIELD.replace('"Test Piece"', "Test Piece"),
        "quote not closed": FIELD.replace('"Test Piece"', '"Test Piece'),
        "deep nesting": FIELD + "x = " + "[" * 5000 + "]" * 5000 + "\n",
        "a huge number": FIELD.replace("legs = 7", "legs = " + "9" * 5000),
        "yaml": "field:\n  name: A\n",
        "json": '{"field": {"name": "A"}}',
        "nul": FIELD.replace("Test", "Te\x00st"),
        "no section": 'name = "A"\nboundary = "boundary.geojson"\n',
        "no name": FIELD.replace('name = "Test Piece"\n', "", 1),
        "no boundary": FIELD.replace('boundary = "boundary.geojson"\n', "", 1),
        "an unknown section": FIELD + '[crop]\nname = "x"\n',
        "a list for a section": "[[field]]\n" + FIELD.split("\n", 1)[1],
        "machine a file that is none": 'machine = "m.toml"\n' + FIELD.split("[machine]")[0],
    }.items():
        data = text if isinstance(text, bytes) else text.encode()
        expected = "m.toml" if "none" in name else "field.toml"
        yield Case(f"settings {name}", {"field.toml": data}, expected)


def _values() -> Iterator[Case]:
    for old, new in (
        ("legs = 7", "legs = 0"),
        ("legs = 7", "legs = 7.5"),
        ("legs = 7", 'legs = "7"'),
        ("legs = 7", "legs = 1000"),
        ("legs = 7", "leg = 7"),
        ("leg_spacing_cm = 43", "leg_spacing_cm = 0.43"),
        ("leg_spacing_cm = 43", "leg_spacing_cm = inf"),
        ("leg_spacing_cm = 43", "leg_spacing_cm = 1e400"),
        ("leg_spacing_cm = 43", "leg_spacing = 43"),
        ("assurance = 0.8", "assurance = 80"),
        ("assurance = 0.8", "assurance = 1"),
        ("assurance = 0.8", "assurance = 0"),
        ("assurance = 0.8", "depth_max_cm = 40"),
        ("headland_width_m = 12", "headland_width_m = -12"),
        ("headland_width_m = 12", "headland_width_m = true"),
        ("width_m = 3", "width_m = 300"),
        ("legs = 7", "depth_min_cm = 50\ndepth_max_cm = 40"),
        ("legs = 7", 'point = "sharp"'),
        ("legs = 7", 'frame = "W"'),
        ("lines =", "spacing_m = 24\nlines ="),
        ('lines = "wheelings.geojson"', "spacing_m = 24"),
        ('name = "Test Piece"', 'name = ""'),
        ('name = "Test Piece"', 'name = "A"\nworking_crs = "EPSG:999999"'),
        ('name = "Test Piece"', 'name = "A"\nworking_crs = "EPSG:4326"'),
        ('name = "Test Piece"', 'name = "A"\nworking_crs = "EPSG:27700x"'),
        ('name = "Test Piece"', 'name = "A"\nworking_crs = "EPSG:32660"'),
        ('cone = "cone.csv"', 'cone = "cone.csv"\ncrs = "EPSG:4326"'),
        ('cone = "cone.csv"', 'cone = "cone.csv"\ncrs = "/etc/passwd"'),
        ('cone = "cone.csv"', 'cone = "cone.csv"\nlimit_mpa = 300'),
        ('cone = "cone.csv"', "cone = []"),
        ('cone = "cone.csv"', 'cone = ["cone.csv", "cone.csv"]'),
        ('cone = "cone.csv"\npits = "pits.csv"', ""),
    ):
        assert old in FIELD
        yield Case(f"settings {new!r}", {"field.toml": FIELD.replace(old, new, 1)}, "field.toml")


def _special_files() -> Iterator[Case]:
    for name in ("cone.csv", "boundary.geojson", "hazards.geojson", "field.toml"):
        yield Case(f"{name} a folder", {name: lambda path: path.mkdir()}, name)
        yield Case(f"{name} a pipe", {name: os.mkfifo}, name)
        yield Case(f"{name} a link to itself", {name: lambda path: path.symlink_to(path)}, name)
        yield Case(
            f"{name} a link outside", {name: lambda path: path.symlink_to("/etc/passwd")}, name
        )
        yield Case(f"{name} a device", {name: lambda path: path.symlink_to("/dev/zero")}, name)
        yield Case(f"{name} of a terabyte", {name: _sparse}, name)
        yield Case(f"{name} of nothing", {name: b""}, name)


def _sparse(path: Path) -> None:
    with path.open("wb") as stream:
        stream.truncate(2**40)

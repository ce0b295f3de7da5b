"""The readers that are fuzzed, each called with the bytes of one file."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

from corpus import base, broken_archives, broken_shapes, broken_tables
from readings.books import cells, ods, raw_xlsx, xlsx

from zoning.errors import InputRefused
from zoning.readings.cone import read_cone
from zoning.readings.files import Blob
from zoning.readings.geojson import read_geojson
from zoning.readings.pits import read_pits, read_trials
from zoning.readings.toml_file import read_settings
from zoning.readings.workbook_file import open_book
from zoning.readings.xml_file import parse_xml, read_kml
from zoning.readings.zip_shapefile import unpack_shapefile

KEPT = Path(__file__).parent / "seeds"
"""One zip a target: what took a new branch, begun from the corpus of broken input."""

FOLDER = Path(tempfile.mkdtemp())


def cone(blob: Blob) -> object:
    return read_cone(blob, cone_unit="MPa", crs_given=False, areas=["old clamp"])


def pits(blob: Blob) -> object:
    return read_pits(blob, crs_given=False, areas=["old clamp"])


def settings(blob: Blob) -> object:
    (FOLDER / "field.toml").write_bytes(blob.data or b"#")
    return read_settings(FOLDER)


def xml(blob: Blob) -> object:
    return read_kml(blob, parse_xml(blob), None)


def book(blob: Blob) -> object:
    return open_book(blob)


def packed(blob: Blob) -> object:
    return unpack_shapefile(blob, None, "")


TARGETS: dict[str, tuple[Callable[[Blob], object], list[str | bytes]]] = {
    "cone": (cone, [base.CONE, *broken_tables.OTHER_FILES.values()]),
    "pits": (pits, [base.PITS]),
    "trials": (read_trials, [base.TRIALS]),
    "settings": (settings, [base.FIELD]),
    "geojson": (read_geojson, [base.BOUNDARY, base.HAZARDS, base.AREAS]),
    "xml": (xml, [broken_shapes.KML, broken_shapes.BOMB]),
    "book": (book, [xlsx(cone=cells(base.CONE)), ods(cone=cells(base.CONE)), raw_xlsx("<row/>")]),
    "zip": (packed, [broken_archives.packed(broken_archives.shapefile())]),
}


def seeds(name: str) -> list[bytes]:
    """Return what a fuzzer begins with: the corpus, and what earlier runs kept."""
    begun = [each if isinstance(each, bytes) else each.encode() for each in TARGETS[name][1]]
    if not (KEPT / f"{name}.zip").is_file():
        return begun
    with zipfile.ZipFile(KEPT / f"{name}.zip") as kept:
        return begun + [kept.read(member) for member in sorted(kept.namelist())]


def once(name: str, data: bytes) -> None:
    """Read `data` with the reader `name`; anything but a refusal with words is let through."""
    try:
        TARGETS[name][0](Blob("fuzzed", "file", data))
    except InputRefused as refused:
        if not str(refused).strip():
            raise AssertionError("a refusal without words") from refused

"""One plan in every file: its number in each of them, and what the number is made of."""

from __future__ import annotations

import re
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from types import MappingProxyType

import rasterio

from zoning.errors import Fault
from zoning.outputs.fingerprint import (
    boundary_digest,
    combined,
    hazards_digest,
    settings_digest,
    zones_digest,
)
from zoning.outputs.map_page.page import page_document
from zoning.outputs.plain import read_json
from zoning.outputs.verify.files import DOCUMENT, STORE, ReadBack, fault

_PNG = b"\x89PNG\r\n\x1a\n"
_KEYWORD = re.compile(rb"<pdf:Keywords>([0-9a-f]{64})</pdf:Keywords>")


def fingerprint_faults(read: ReadBack) -> Iterator[Fault]:
    """Say which part of the fingerprint does not follow from the plan's own files."""
    digests = read.document["digests"]
    if combined(digests) != read.plan_id:
        yield fault(DOCUMENT, "plan_id does not follow from the digests beside it.")
    if settings_digest(read.document["settings"]) != digests["settings"]:
        yield fault(DOCUMENT, "The settings are not those that plan_id was made from.")


def store_faults(read: ReadBack) -> Iterator[Fault]:
    """Say which layer of ``plan.gpkg`` is not what the fingerprint was made from."""
    digests, layers = read.document["digests"], read.layers
    boundary = layers["boundary"].geometry.union_all()
    found = {
        "boundary": boundary_digest(boundary, read.working_crs),
        "hazards": hazards_digest(layers["hazards"]),
        "zones": zones_digest(layers["zones"]),
    }
    for name, digest in found.items():
        if digest != digests[name]:
            what = f"The layer {name} is not the one that plan_id was made from."
            yield fault(STORE, what)


def number_faults(name: str, read: ReadBack) -> Iterator[Fault]:
    """Say whether the file `name` carries the number of another plan, or none."""
    number = NUMBERS[name](read)
    if number != read.plan_id:
        shown = f"plan {number[:8]}" if number else "no plan"
        yield fault(name, f"The file belongs to {shown}, not to plan {read.plan_id[:8]}.")


def described_plan(name: str, read: ReadBack) -> str:
    """Return the number of the plan that the description beside a table gives; blank for none."""
    description = f"{name}-metadata.json"
    if description not in _IN_JSON or not (read.folder / description).is_file():
        return ""
    try:
        return _json_number(description, _IN_JSON[description], read)
    except (OSError, ValueError, AttributeError):
        return ""  # what is wrong with the description is told of itself


def _json_number(name: str, member: str, read: ReadBack) -> str:
    return str(read_json(read.folder / name).get(member, ""))


def _raster_number(read: ReadBack) -> str:
    with rasterio.open(read.folder / "pan_surface.tif", driver="GTiff") as dataset:
        return str(dataset.tags().get("plan_id", ""))


def _page_number(read: ReadBack) -> str:
    text = (read.folder / "map.html").read_text(encoding="utf-8")
    return str(page_document(text)["plan"]["id"])


def _store_number(read: ReadBack) -> str:
    layers = ("boundary", "zones", "passes")
    held = {str(value) for name in layers for value in read.layers[name]["plan_id"]}
    return ", ".join(sorted(held))


def _pdf_number(read: ReadBack) -> str:
    """Return the keyword of a PDF that is whole; blank where there is none."""
    data = (read.folder / "operator_sheet.pdf").read_bytes()
    found = _KEYWORD.search(data)
    whole = data.startswith(b"%PDF-") and data.rstrip().endswith(b"%%EOF")
    return found[1].decode() if whole and found else ""


def _png_number(read: ReadBack) -> str:
    return _png_words(read.folder / "plan.png").get("plan_id", "")


_IN_JSON = {"depth_zones.geojson": "plan_id"} | {
    f"{name}.csv-metadata.json": "dc:identifier"
    for name in ("depth_zones", "depth_grid", "depth_passes", "readings_used")
}
NUMBERS: Mapping[str, Callable[[ReadBack], str]] = MappingProxyType(
    {
        **{name: partial(_json_number, name, member) for name, member in _IN_JSON.items()},
        "operator_sheet.pdf": _pdf_number,
        "plan.png": _png_number,
        "pan_surface.tif": _raster_number,
        "map.html": _page_number,
        STORE: _store_number,
    }
)
"""How the number of the plan is found in each file that carries it, by name."""


def _png_words(path: Path) -> dict[str, str]:
    """Return the texts that a PNG carries (PNG, 3rd edition, 5.3 and 11.3.3.2).

    Raises
    ------
    ValueError
        If it is no PNG, is cut short, or a chunk does not match its checksum.
    """
    data = path.read_bytes()
    if not data.startswith(_PNG):
        raise ValueError("it is no PNG")
    words: dict[str, str] = {}
    place, kind = len(_PNG), b""
    while kind != b"IEND":
        length = int.from_bytes(data[place : place + 4], "big")
        kind, body = data[place + 4 : place + 8], data[place + 8 : place + 8 + length]
        check = data[place + 8 + length : place + 12 + length]
        if len(kind) < 4 or check != zlib.crc32(kind + body).to_bytes(4, "big"):
            raise ValueError("it is cut short or damaged")
        if kind == b"tEXt":
            key, _, text = body.partition(b"\0")
            words[key.decode("latin-1")] = text.decode("latin-1")
        place += 12 + length
    return words


def collection_caution_faults(read: ReadBack) -> Iterator[Fault]:
    """Say whether ``depth_zones.geojson`` holds other cautions than ``plan.json``."""
    found = read_json(read.folder / "depth_zones.geojson").get("cautions")
    yield from _caution_faults(read, "depth_zones.geojson", found)


def page_caution_faults(read: ReadBack) -> Iterator[Fault]:
    """Say whether ``map.html`` holds other cautions than ``plan.json``."""
    page = page_document((read.folder / "map.html").read_text(encoding="utf-8"))
    yield from _caution_faults(read, "map.html", page.get("cautions"))


def _caution_faults(read: ReadBack, name: str, found: Sequence[str] | None) -> Iterator[Fault]:
    told = [str(entry["text"]) for entry in read.document["cautions"]]
    if sorted(found or ()) != sorted(told):
        yield fault(name, "The cautions are not those of plan.json.")

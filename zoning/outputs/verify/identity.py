"""One plan in every file: its number in each of them, and what the number is made of."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from types import MappingProxyType

import rasterio
from PIL import Image

from zoning.errors import Fault
from zoning.outputs.csvw import SUFFIX
from zoning.outputs.fingerprint import (
    boundary_digest,
    combined,
    hazards_digest,
    settings_digest,
    short_id,
    zones_digest,
)
from zoning.outputs.map_page.page import page_document
from zoning.outputs.plain import read_json
from zoning.outputs.verify.files import DOCUMENT, STORE, ReadBack, fault
from zoning.outputs.verify.table import TABLES, plan_in_rows
from zoning.outputs.write import KNOWN

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
        shown = f"the number {short_id(number)}" if number else "no number of a plan"
        yield fault(name, f"The file bears {shown} where {short_id(read.plan_id)} belongs.")


def described_plan(name: str, read: ReadBack) -> str:
    """Return the number of the plan that a table or the description beside it gives; or blank."""
    if name in TABLES and (found := plan_in_rows(name, read.folder / name)):
        return found
    description = f"{name}{SUFFIX}"
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
    """Return the text of a PNG whose chunks all match their checksums; blank where it has none."""
    with Image.open(read.folder / "plan.png", formats=("PNG",)) as picture:
        words = dict(picture.info)
        picture.verify()
    return str(words.get("plan_id", ""))


_IN_JSON = {"depth_zones.geojson": "plan_id"} | {
    name: "dc:identifier" for name in sorted(KNOWN) if name.endswith(SUFFIX)
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

"""Read every file of a plan folder back and say what differs, file by file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import Any

import geopandas as gpd

from zoning.errors import Fault
from zoning.model import FieldInputs
from zoning.outputs.fingerprint import (
    boundary_digest,
    hazards_digest,
    readings_digest,
    settings_digest,
    short_id,
)
from zoning.outputs.verify import ground as verify_ground
from zoning.outputs.verify import identity as verify_identity
from zoning.outputs.verify import sheet as verify_sheet
from zoning.outputs.verify import zones as verify_zones
from zoning.outputs.verify.files import (
    AS_PLANNED,
    CHANGED,
    DOCUMENT,
    STORE,
    Comparison,
    ReadBack,
    attempted,
    byte_faults,
    fault,
    is_as_written,
    open_document,
    open_store,
)
from zoning.outputs.verify.table import TABLES, manner_of
from zoning.outputs.write import KNOWN

_LAYERS = ("boundary", "parts", "stations", "insertions", "pits", "hazards", "passes", "zones")
_UNSEEN = "line ends, quotes or decimals"
_COMPARISONS: tuple[tuple[str, Comparison], ...] = (
    (DOCUMENT, verify_identity.fingerprint_faults),
    (STORE, verify_identity.store_faults),
    (STORE, verify_ground.partition_faults),
    (DOCUMENT, verify_zones.document_zone_faults),
    (verify_zones.GEOJSON, verify_zones.collection_faults),
    (verify_zones.TABLE, verify_zones.table_faults),
    (verify_ground.GRID, verify_ground.grid_faults),
    (verify_ground.PASSES, verify_ground.pass_faults),
    (verify_ground.READINGS, verify_ground.reading_faults),
    (verify_ground.RASTER, verify_ground.raster_faults),
    (verify_zones.PAGE, verify_zones.page_faults),
    (verify_sheet.SHEET, verify_sheet.sheet_faults),
    (verify_zones.GEOJSON, verify_identity.collection_caution_faults),
    (verify_zones.PAGE, verify_identity.page_caution_faults),
)


def read_back(folder: Path) -> tuple[ReadBack, tuple[Fault, ...]]:
    """Open the plan in `folder`, compare all its files, and return it with what differs.

    Every file is compared by its hash, by the number of the plan that it carries and by what it
    says. The zones of ``plan.gpkg`` hold the exact outlines and are themselves checked against
    ``plan_id``; what the other files say is compared with them.

    Raises
    ------
    zoning.errors.InputRefused
        If there is no plan in `folder`.
    """
    document = open_document(folder)
    layers, faults = _store(folder)
    read = ReadBack(folder, document, layers)
    first = attempted(DOCUMENT, lambda: _unlisted(document))
    second = attempted(DOCUMENT, lambda: byte_faults(folder, document))
    content = [*faults, *content_faults(read)]
    as_read = {each.file for each in content if each.what.startswith(AS_PLANNED)}
    second = [each for each in second if each.what != CHANGED or each.file not in as_read]
    return read, (*first, *second, *content)


def _unlisted(document: Mapping[str, Any]) -> Iterator[Fault]:
    told = {str(entry["name"]) for entry in document["outputs"]}
    for name in sorted(KNOWN - told - {DOCUMENT}):
        yield fault(DOCUMENT, f"The plan does not list {name}.")


def _store(folder: Path) -> tuple[Mapping[str, gpd.GeoDataFrame], list[Fault]]:
    layers: dict[str, gpd.GeoDataFrame] = {}

    def work() -> Iterator[Fault]:
        layers.update(open_store(folder))
        for name in _LAYERS:
            if name not in layers:
                yield fault(STORE, f"The layer {name} is missing.")

    return layers, attempted(STORE, work)


def content_faults(read: ReadBack) -> Iterator[Fault]:
    """Yield what differs in what the files of `read.folder` say from the layers of the plan.

    Files that are not there are not missed; without the layers nothing can be compared.
    """
    present = {path.name for path in read.folder.iterdir() if path.is_file()}
    if not set(_LAYERS) <= set(read.layers):
        return
    for name in sorted(present & set(verify_identity.NUMBERS)):
        yield from attempted(name, partial(verify_identity.number_faults, name, read))
    for name, compare in _COMPARISONS:
        if name in present:
            yield from attempted(name, partial(_compared, name, compare, read))


def _compared(name: str, compare: Comparison, read: ReadBack) -> Iterator[Fault]:
    """Yield what differs in the file `name`; of the table of another plan only whose it is.

    A table whose every cell is as planned may be written otherwise, as after a spreadsheet.
    """
    other, issued = verify_identity.described_plan(name, read), is_as_written(name, read)
    if other not in ("", read.plan_id) and not issued:
        what = (
            f"This is the file of plan {short_id(other)}, as it says, or the description beside it."
        )
        yield Fault(name, what, f"Put that of plan {short_id(read.plan_id)} in its place.")
        return
    differs = False
    for each in compare(read):
        differs = True
        yield each
    if name in TABLES and not differs:
        manner = manner_of(name, read.folder / name)
        if manner or not issued:
            what = f"{AS_PLANNED} ({', '.join(manner) or _UNSEEN})."
            yield Fault(name, what, "Put the file as issued back, or make the plan again.")


def input_digests(inputs: FieldInputs) -> dict[str, str]:
    """Return the SHA-256 of boundary, readings, settings and hazards of a field, by name."""
    return {
        "boundary": boundary_digest(inputs.boundary, inputs.working_crs),
        "readings": readings_digest(inputs.cone, inputs.pits),
        "settings": settings_digest(asdict(inputs.settings)),
        "hazards": hazards_digest(inputs.hazards),
    }

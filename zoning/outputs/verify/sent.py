"""A file that was sent under any name, compared with the plan's own: the same, or what differs."""

from __future__ import annotations

import math
import re
import shutil
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from types import MappingProxyType
from typing import Any

import numpy as np
import rasterio
import rasterio.transform
import shapely
from scipy.spatial import cKDTree

from zoning.errors import Fault, InputRefused
from zoning.outputs.csvw import SUFFIX
from zoning.outputs.fingerprint import short_id
from zoning.outputs.places import transformed
from zoning.outputs.plain import plain, read_json
from zoning.outputs.raster import BANDS
from zoning.outputs.verify.caps import hazards_passed, passed_faults
from zoning.outputs.verify.files import (
    DOCUMENT,
    STORE,
    ReadBack,
    attempted,
    copied_from,
    fault,
    open_document,
    open_store,
)
from zoning.outputs.verify.folder import content_faults
from zoning.outputs.verify.ground import RASTER, Floats, depth_agrees, lonlat_words, rule
from zoning.outputs.verify.identity import NUMBERS, described_plan
from zoning.outputs.verify.sheet import SHEET
from zoning.outputs.verify.table import TABLES, table_like
from zoning.outputs.verify.zones import GEOJSON, PAGE, zones_passed

_BY_SUFFIX: Mapping[str, str] = MappingProxyType(
    {
        ".tif": RASTER, ".tiff": RASTER, ".gpkg": STORE, ".pdf": SHEET, ".html": PAGE,
        ".htm": PAGE, ".png": "plan.png",
    }
)  # fmt: skip
_TEXT_TABLES = frozenset({".csv", ".txt", ".tsv"})
_NUMBER_IN_NAME = re.compile(r"(?<![0-9a-z])(?=[0-9]*[a-f])[0-9a-f]{8}(?![0-9a-z])")
_DEPTH_BAND = "working_depth_cm"


@dataclass(frozen=True, slots=True)
class Judged:
    """What a sent file is: a line where it is as issued, else what differs."""

    words: str = ""
    faults: tuple[Fault, ...] = ()


def judged(path: Path, read: ReadBack) -> Judged:
    """Compare a file under any name with the file of the plan that it is a copy of.

    Raises
    ------
    zoning.errors.InputRefused
        If there is no such file.
    """
    _refuse_absent(path)
    same = copied_from(path, read.document) or _same_document(path, read)
    if same:
        told = f"{path}: {same} of plan {_own(read)}, byte for byte."
        return Judged(f"{told} {_named_otherwise(path, read)}".rstrip())
    try:
        name = _kind(path)
    except (OSError, ValueError, AttributeError, RecursionError):
        name = ""
    if not name:
        table = path.suffix.lower() in _TEXT_TABLES
        why = ": no table there has its headings" if table else ""
        what = f"The file is like none that a plan holds, so it cannot be compared{why}."
        packed = path.suffix.lower() == ".zip"
        remedy = "Unpack it and name" if packed else "Send"
        return Judged(faults=(Fault(str(path), what, f"{remedy} a file of plan {_own(read)}."),))
    if name == RASTER and _is_one_band(path):
        return _judged_band(path, read)
    return Judged(faults=tuple(_differences(path, name, read)))


def plan_of(path: Path, folder: Path) -> Path:
    """Return the folder of the plan that a sent file is of, at `folder` or anywhere below it.

    It is the one whose file it holds byte for byte, else the one whose number it carries.

    Raises
    ------
    zoning.errors.InputRefused
        If there is no such file, or there are plans below `folder` and it is of none of them.
    """
    _refuse_absent(path)
    if (folder / DOCUMENT).is_file() or not folder.is_dir():
        return folder
    plans = dict(_plans_below(folder))
    same = [home for home, document in plans.items() if copied_from(path, document)]
    named = [home for home, document in plans.items() if carries(path, str(document["plan_id"]))]
    if plans and not (same or named):
        names = ", ".join(f"{home} ({_number_of(document)})" for home, document in plans.items())
        what = f"The file is of none of the {len(plans)} plans below {folder} as they are now."
        raise InputRefused([Fault(str(path), what, f"Name one to see what differs: {names}.")])
    both = [home for home in same if home in named]
    return [*both, *same, *named, folder][0]


def _refuse_absent(path: Path) -> None:
    if not path.is_file():
        what = "There is no such file."
        raise InputRefused([Fault(str(path), what, "Name the file that was sent.")])


def carries(path: Path, plan_id: str) -> bool:
    """Return whether a file holds the number of a plan, whole, or its name the short one."""
    return short_id(plan_id) in path.name or plan_id.encode() in path.read_bytes()


def _plans_below(folder: Path) -> Iterator[tuple[Path, Mapping[str, Any]]]:
    for home in sorted(path.parent for path in folder.rglob(DOCUMENT)):
        with suppress(InputRefused):  # a plan.json of something else
            yield home, open_document(home)


def _number_of(document: Mapping[str, Any]) -> str:
    return short_id(str(document["plan_id"]))


def _own(read: ReadBack) -> str:
    return short_id(read.plan_id)


def _same_document(path: Path, read: ReadBack) -> str:
    own = read.folder / DOCUMENT
    return DOCUMENT if path.read_bytes() == own.read_bytes() else ""


def _kind(path: Path) -> str:
    """Return the name of the file of a plan that `path` is like; blank where there is none."""
    suffix = path.suffix.lower()
    if suffix in _TEXT_TABLES:
        return table_like(path)
    if suffix not in {".json", ".geojson"}:
        return _BY_SUFFIX.get(suffix, "")
    found = read_json(path)
    if found.get("type") == "FeatureCollection":
        return GEOJSON
    description = f"{found.get('url', '')}{SUFFIX}"
    return description if description in NUMBERS else DOCUMENT if "plan_id" in found else ""


def _differences(path: Path, name: str, read: ReadBack) -> Iterator[Fault]:
    """Yield what differs in `path` from the file `name` of the plan; its bytes do at least."""
    with TemporaryDirectory() as apart:
        copy = Path(apart) / name
        shutil.copyfile(path, copy)
        beside = path.with_name(path.name + SUFFIX)
        if name in TABLES and beside.is_file():
            shutil.copyfile(beside, Path(apart) / (name + SUFFIX))
        there = replace(read, folder=Path(apart))
        other = _number(name, there)
        told = [] if other else [one for one in _told(name, there) if one.file in {name, STORE}]
    again = f"Send {name} of plan {_own(read)} as it was issued."
    if other:
        what = f"This is {_a(name)} of plan {short_id(other)}, not of plan {_own(read)}."
        yield Fault(str(path), what, again)
        return
    named = _named_otherwise(path, read)
    if named:
        yield Fault(str(path), named, "")
    *others, last = told or [fault(name, _REST)]
    for each in others:
        yield replace(each, file=str(path), remedy="")
    yield replace(last, file=str(path), remedy=again)


_REST = (
    "What can be compared is as planned, but the file is not as issued: its SHA-256 differs, as "
    "after another program saved it."
)


def _a(name: str) -> str:
    return "the plan.json" if name == DOCUMENT else f"a{'n' if name[0] in 'aeiou' else ''} {name}"


def _told(name: str, there: ReadBack) -> list[Fault]:
    """Return what differs in the one file of the folder of `there`."""
    layers = dict(there.layers)
    if name == STORE:
        found = attempted(STORE, lambda: layers.update(open_store(there.folder)) or ())
        if found:
            return found
        given = plain(layers["zones"][["zone", "depth_cm", "area_ha"]].to_dict("records"))
        deep = attempted(STORE, lambda: zones_passed(STORE, given, there))
        return [*deep, *content_faults(replace(there, layers=layers))]
    return list(content_faults(there))


def _number(name: str, there: ReadBack) -> str:
    """Return the number of another plan that a file carries; blank for its own and for none."""
    numbers = {**NUMBERS, DOCUMENT: _document_number}
    try:
        if name == STORE:
            there = replace(there, layers=open_store(there.folder))
        found = numbers[name](there) if name in numbers else described_plan(name, there)
    except Exception:  # noqa: BLE001 - a damaged file fails in many ways; the comparison tells
        return ""
    return "" if found == there.plan_id else found


def _document_number(there: ReadBack) -> str:
    return str(open_document(there.folder)["plan_id"])


def _named_otherwise(path: Path, read: ReadBack) -> str:
    """Return that the name of a file holds the number of another plan; blank where it does not."""
    found = _NUMBER_IN_NAME.findall(path.name)
    if not found or _own(read) in found:
        return ""
    return f"Its name says plan {', '.join(found)}; this is plan {_own(read)}."


# ---- the working depth cut out of the raster -----------------------------------------------------


def _is_one_band(path: Path) -> bool:
    try:
        with rasterio.open(path, driver="GTiff") as dataset:
            return bool(dataset.count == 1)
    except rasterio.RasterioIOError:
        return False


def _judged_band(path: Path, read: ReadBack) -> Judged:
    """Compare a raster of one band with the working depth, also where it was warped."""
    found = attempted(str(path), lambda: _band_faults(path, read))
    named = _named_otherwise(path, read)
    if not found:
        told = f"{path}: the band {_DEPTH_BAND} of plan {_own(read)}, cell for cell."
        return Judged(f"{told} {named}".rstrip())
    again = f"Cut band {1 + list(BANDS).index(_DEPTH_BAND)} out of {RASTER} again."
    if named:
        found = [Fault(str(path), named, again), *found]
    return Judged(faults=tuple(replace(each, remedy=again) for each in found))


def _band_faults(path: Path, read: ReadBack) -> Iterator[Fault]:
    """Compare each cell with the zones about it, and ask a cell at each place of the plan's raster.

    A warped cell holds the depth of the plan's nearest cell, whose centre lies up to half its
    diagonal off.
    """
    own_m, planned, cell_m = _depth_cells(read.folder / RASTER, read)
    found_m, depth, _ = _depth_cells(path, read)
    centres = np.asarray(shapely.points(found_m), dtype=object)
    within = np.asarray(shapely.dwithin(centres, read.boundary, cell_m), dtype=np.bool_)
    if not within.any():
        yield fault(str(path), "No cell lies in this field: it is of another field.")
        return
    _, nearest = cKDTree(own_m).query(found_m)
    if found_m.shape == own_m.shape and np.allclose(found_m, own_m, rtol=0, atol=1e-3):
        wrong = np.asarray(depth != planned)
    else:
        reach_m = math.hypot(cell_m, cell_m) / 2 + rule("place_tolerance_m")
        wrong = within & ~depth_agrees(centres, depth, read.zones, distance_m=reach_m)
    if wrong.any():
        other = _band_named(depth, nearest, read)
        if other:
            yield fault(str(path), f"Do not work by it: {other}, not the working depth.")
            return
        passed = hazards_passed(centres[wrong], depth[wrong], planned[nearest][wrong], read)
        yield from passed_faults(str(path), passed, "cell")
        yield fault(str(path), _cells_in_words(found_m, depth, planned[nearest], wrong, read))
    if not within.all():
        yield fault(str(path), f"{(~within).sum()} cells lie outside the field.")
    apart_m, _ = cKDTree(found_m).query(own_m)
    if np.max(apart_m) > math.hypot(cell_m, cell_m):
        yield fault(str(path), "Parts of the field have no cell.")


def _band_named(depth: Floats, nearest: Any, read: ReadBack) -> str:
    """Return which other band of the plan's raster most cells are of; blank where of none."""
    with rasterio.open(read.folder / RASTER, driver="GTiff") as dataset:
        bands, nodata = dataset.read(), dataset.nodata
    planned = bands[list(BANDS).index(_DEPTH_BAND)]
    row, column = np.nonzero(np.isfinite(planned) & (planned != nodata))
    alike = [float(np.isclose(band[row, column][nearest], depth).mean()) for band in bands]
    best = int(np.argmax(alike))
    name = list(BANDS)[best]
    other = alike[best] > rule("cells_alike_least") and name != _DEPTH_BAND
    return f"this is band {best + 1}, {name}" if other else ""


def _cells_in_words(
    found_m: Floats, depth: Floats, planned: Floats, wrong: Any, read: ReadBack
) -> str:
    """Return how many cells carry another depth, which, and where the difference is greatest."""
    count = int(wrong.sum())
    some = ", ".join(f"{value:g}" for value in np.unique(depth[wrong])[:6])
    most = int(np.argmax(np.where(wrong, np.abs(depth - planned), -1.0)))
    carry = "carries" if count == 1 else "carry"
    greatest = "" if count == 1 else "the greatest difference is "
    return (
        f"{count} of {len(depth)} cells {carry} another depth than the plan ({some} cm); {greatest}"
        f"at {lonlat_words(found_m[most], read)}: {depth[most]:g} where {planned[most]:g} belongs."
    )


def _depth_cells(path: Path, read: ReadBack) -> tuple[Floats, Floats, float]:
    """Return the centres of the cells that hold a depth [m], the depths [cm], the cell [m]."""
    with rasterio.open(path, driver="GTiff") as dataset:
        band = 1 + list(BANDS).index(_DEPTH_BAND) if dataset.count == len(BANDS) else 1
        depth, nodata, place = dataset.read(band), dataset.nodata, dataset.transform
        crs = dataset.crs.to_wkt()
    row, column = np.nonzero(np.isfinite(depth) & (depth != nodata))
    xy = np.column_stack(rasterio.transform.xy(place, row, column))
    held = depth[row, column].astype(np.float64)
    return transformed(xy, crs, read.working_crs), held, float(place.a)

"""Faults sown into finished plans: every one must be found by reading the plan back.

Each fault changes one file of a plan folder the way a slip, a spreadsheet, a copy or a bad disk
would. Then the hashes of ``plan.json`` are made good again, so that only what the files say can
give the fault away: the bytes alone would find every one of them. `BYTES` holds the faults whose
hashes are left as they are.

    python tests/benchmarks/seeded_faults.py --plans 50 --good 500
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import shutil
import sqlite3
import struct
import sys
import tempfile
import time
import zlib
from collections import Counter
from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from shapely.geometry import mapping, shape

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[2] / "sample_data"))

from invariants.fields import plan_folders

from zoning.errors import InputRefused
from zoning.outputs.map_page.page import data_text, page_document
from zoning.outputs.plan_file import sealed
from zoning.workflow import verify_plan

Fault = Callable[[Path, Path], None]
"""Changes a plan folder; the second folder is another plan of another field."""


def rehash(folder: Path) -> None:
    """Make the hashes in ``plan.json`` those of the files as they are now."""
    path = folder / "plan.json"
    document = json.loads(path.read_text(encoding="utf-8"))
    for entry in document["outputs"]:
        file = folder / entry["name"]
        if file.exists():
            entry["sha256"] = hashlib.sha256(file.read_bytes()).hexdigest()
    path.write_text(json.dumps(sealed(document), indent=2, ensure_ascii=False) + "\n")


# ---- files of JSON ------------------------------------------------------------------------------


def edit_json(name: str, edit: Callable[[Any], None]) -> Fault:
    def work(folder: Path, _other: Path) -> None:
        document = json.loads((folder / name).read_text(encoding="utf-8"))
        edit(document)
        (folder / name).write_text(json.dumps(document, ensure_ascii=False), encoding="utf-8")

    return work


def deepest(features: list[Any]) -> Any:
    return max(features, key=lambda feature: feature["properties"]["depth_cm"])


def each_depth(change: Callable[[float], object]) -> Fault:
    def edit(document: Any) -> None:
        for feature in document["features"]:
            old = feature["properties"]["depth_cm"]
            feature["properties"]["depth_cm"] = change(old) if old else old

    return edit_json("depth_zones.geojson", edit)


def one_property(name: str, value: Callable[[Any], object]) -> Fault:
    def edit(document: Any) -> None:
        properties = deepest(document["features"])["properties"]
        properties[name] = value(properties.get(name))

    return edit_json("depth_zones.geojson", edit)


def swapped_depths(document: Any) -> None:
    features = document["features"]
    one = deepest(features)["properties"]
    two = min(features, key=lambda f: f["properties"]["depth_cm"])["properties"]
    one["depth_cm"], two["depth_cm"] = two["depth_cm"], one["depth_cm"]
    if one["depth_cm"] == two["depth_cm"]:
        one["depth_cm"] += 2.5


def moved(change: Callable[[float, float], list[float]]) -> Fault:
    def walk(value: Any) -> Any:
        if isinstance(value[0], (int, float)):
            return change(value[0], value[1])
        return [walk(inner) for inner in value]

    def edit(document: Any) -> None:
        for feature in document["features"]:
            feature["geometry"]["coordinates"] = walk(feature["geometry"]["coordinates"])

    return edit_json("depth_zones.geojson", edit)


def without_smallest(document: Any) -> None:
    features = document["features"]
    features.remove(min(features, key=lambda feature: feature["properties"]["area_ha"]))


def hull(document: Any) -> None:
    """Fill the holes and bays of the largest zone."""
    one = max(document["features"], key=lambda feature: feature["properties"]["area_ha"])
    one["geometry"] = mapping(shape(one["geometry"]).convex_hull.buffer(1e-6))


def exchanged_outlines(document: Any) -> None:
    first, last = document["features"][0], document["features"][-1]
    first["geometry"], last["geometry"] = last["geometry"], first["geometry"]
    if first is last:
        hull(document)


# ---- tables -------------------------------------------------------------------------------------


def edit_table(name: str, edit: Callable[[list[list[str]]], None]) -> Fault:
    def work(folder: Path, _other: Path) -> None:
        with (folder / name).open(encoding="utf-8", newline="") as stream:
            rows = list(csv.reader(stream))
        edit(rows)
        with (folder / name).open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows(rows)

    return work


def cell(column: str, change: Callable[[str], str], row: int = -1) -> Callable[..., None]:
    def edit(rows: list[list[str]]) -> None:
        at = rows[0].index(column)
        rows[row][at] = change(rows[row][at])

    return edit


def whole_column(column: str, change: Callable[[str], str]) -> Callable[..., None]:
    def edit(rows: list[list[str]]) -> None:
        at = rows[0].index(column)
        for row in rows[1:]:
            row[at] = change(row[at])

    return edit


def deeper(text: str) -> str:
    return f"{float(text) + 2.5:.2f}"


def always(value: object) -> Callable[[Any], Any]:
    return lambda _old: value


def in_inches(text: str) -> str:
    return f"{float(text) / 2.54 + 1:.2f}"


def with_comma(text: str) -> str:
    return text.replace(".", ",")


def a_metre_off(text: str) -> str:
    return f"{float(text) + 1e-5:.8f}"


def other_answer(text: str) -> str:
    return "no" if text == "yes" else "yes"


def first_half(rows: list[list[str]]) -> None:
    del rows[len(rows) // 2 :]


def exchanged_rows(rows: list[list[str]]) -> None:
    rows[1], rows[-1] = rows[-1], rows[1]
    if len(rows) == 2:
        del rows[1]


def shifted_cells(rows: list[list[str]]) -> None:
    for row in rows[1:]:
        row.insert(1, row.pop())


# ---- raster, store, pictures --------------------------------------------------------------------


def edit_raster(edit: Callable[[dict[str, Any], np.ndarray, dict[str, str]], None]) -> Fault:
    def work(folder: Path, _other: Path) -> None:
        path = folder / "pan_surface.tif"
        with rasterio.open(path) as dataset:
            profile, bands, tags = dict(dataset.profile), dataset.read(), dataset.tags()
            names, units = dataset.descriptions, dataset.units
        edit(profile, bands, tags)
        path.unlink()
        with rasterio.open(path, "w", **{**profile, "driver": "GTiff"}) as dataset:
            dataset.write(bands)
            dataset.descriptions, dataset.units = names, units
            dataset.update_tags(**tags)

    return work


def depth_band(change: Callable[[np.ndarray], np.ndarray]) -> Fault:
    def edit(profile: dict[str, Any], bands: np.ndarray, _tags: dict[str, str]) -> None:
        inside = bands[3] != profile["nodata"]
        bands[3][inside] = change(bands[3][inside])

    return edit_raster(edit)


def zero_outside(profile: dict[str, Any], bands: np.ndarray, _tags: dict[str, str]) -> None:
    bands[bands == profile["nodata"]] = 0


def one_cell_east(profile: dict[str, Any], _bands: np.ndarray, _tags: dict[str, str]) -> None:
    profile["transform"] @= rasterio.Affine.translation(1, 0)


def other_zone(profile: dict[str, Any], _bands: np.ndarray, _tags: dict[str, str]) -> None:
    profile["crs"] = "EPSG:32633"


def holes(_profile: dict[str, Any], bands: np.ndarray, _tags: dict[str, str]) -> None:
    rows, columns = np.nonzero(bands[0] != -9999)
    bands[3, rows[: len(rows) // 3], columns[: len(rows) // 3]] = -9999


def other_tag(_profile: dict[str, Any], _bands: np.ndarray, tags: dict[str, str]) -> None:
    tags["plan_id"] = "0" * 64


def sql(*statements: str) -> Fault:
    def work(folder: Path, _other: Path) -> None:
        with closing(sqlite3.connect(folder / "plan.gpkg")) as store:
            names = store.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            for (name,) in names.fetchall():
                store.execute(f'DROP TRIGGER "{name}"')
            for statement in statements:
                store.execute(statement)
            store.commit()

    return work


def moved_boundary(folder: Path, _other: Path) -> None:
    """Move the first corner of the outline by half a metre in ``plan.gpkg``."""
    with closing(sqlite3.connect(folder / "plan.gpkg")) as store:
        for (name,) in store.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'"):
            store.execute(f'DROP TRIGGER "{name}"')
        blob = store.execute("SELECT geom FROM boundary").fetchone()[0]
        at = len(blob) - 16 * 3  # a corner near the end of the last ring
        (x,) = struct.unpack_from("<d", blob, at)
        blob = blob[:at] + struct.pack("<d", x + 0.5) + blob[at + 8 :]
        store.execute("UPDATE boundary SET geom = ?", (blob,))
        store.commit()


def taken_from_other(name: str) -> Fault:
    return lambda folder, other: shutil.copyfile(other / name, folder / name)


def cut(name: str, share: float) -> Fault:
    def work(folder: Path, _other: Path) -> None:
        data = (folder / name).read_bytes()
        (folder / name).write_bytes(data[: int(len(data) * share)])

    return work


def replaced(name: str, old: str, new: str) -> Fault:
    def work(folder: Path, _other: Path) -> None:
        text = (folder / name).read_text(encoding="utf-8")
        if old not in text:
            raise AssertionError(f"{name} holds no {old}")
        (folder / name).write_text(text.replace(old, new, 1), encoding="utf-8")

    return work


def page_depth(folder: Path, _other: Path) -> None:
    path = folder / "map.html"
    text = path.read_text(encoding="utf-8")
    document = page_document(text)
    old = data_text(document)
    max(document["zones"], key=lambda zone: zone["depth_cm"])["depth_cm"] += 2.5
    path.write_text(text.replace(old, data_text(document)), encoding="utf-8")


def page_pass(folder: Path, _other: Path) -> None:
    path = folder / "map.html"
    text = path.read_text(encoding="utf-8")
    document = page_document(text)
    old = data_text(document)
    document["passes"][0]["runs"][0][0] += 2.5
    path.write_text(text.replace(old, data_text(document)), encoding="utf-8")


def relabelled_sheet(folder: Path, other: Path) -> None:
    """Put the sheet of another plan in, this plan's number in its properties."""
    numbers = [
        json.loads((place / "plan.json").read_text(encoding="utf-8"))["plan_id"].encode()
        for place in (other, folder)
    ]
    data = (other / "operator_sheet.pdf").read_bytes()
    (folder / "operator_sheet.pdf").write_bytes(data.replace(*numbers))


def bad_chunk(folder: Path, _other: Path) -> None:
    """Change a byte in the middle of the picture, its checksum left."""
    path = folder / "plan.png"
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 0xFF
    path.write_bytes(bytes(data))


def other_picture_number(folder: Path, _other: Path) -> None:
    path = folder / "plan.png"
    data = path.read_bytes()
    at = data.index(b"tEXt")
    length = int.from_bytes(data[at - 4 : at], "big")
    body = b"tEXtplan_id\0" + b"0" * (length - 8)
    chunk = struct.pack(">I", length) + body + struct.pack(">I", zlib.crc32(body))
    path.write_bytes(data[: at - 4] + chunk + data[at + 8 + length :])


def set_member(*path: str, value: Callable[[Any], object]) -> Fault:
    def edit(document: Any) -> None:
        inner = document
        for key in path[:-1]:
            inner = inner[key]
        inner[path[-1]] = value(inner[path[-1]])

    return edit_json("plan.json", edit)


def setting(*path: str) -> Fault:
    return set_member("settings", *path, value=lambda old: old + 1)


def document_depth(document: Any) -> None:
    max(document["zones"], key=lambda zone: zone["depth_cm"])["depth_cm"] += 2.5


def every_file_deeper(folder: Path, other: Path) -> None:
    """One step deeper, the same in every file that can be edited; plan_id left."""
    for change in (
        each_depth(lambda depth: depth + 2.5),
        edit_table("depth_zones.csv", whole_column("depth_cm", _deeper_if_worked)),
        edit_table("depth_grid.csv", whole_column("depth_cm", _deeper_if_worked)),
        edit_table("depth_passes.csv", whole_column("depth_cm", _deeper_if_worked)),
        depth_band(lambda depth: np.where(depth > 0, depth + 2.5, depth)),
        sql(
            "UPDATE zones SET depth_cm = depth_cm + 2.5 WHERE depth_cm > 0",
            "UPDATE passes SET depth_cm = depth_cm + 2.5 WHERE depth_cm > 0",
        ),
        edit_json("plan.json", _all_document_depths),
    ):
        change(folder, other)


def _deeper_if_worked(text: str) -> str:
    return deeper(text) if float(text) > 0 else text


def _all_document_depths(document: Any) -> None:
    for zone in document["zones"]:
        zone["depth_cm"] += 2.5 if zone["depth_cm"] else 0


ZONES, TABLE, GRID, PASSES = (
    "depth_zones.geojson",
    "depth_zones.csv",
    "depth_grid.csv",
    "depth_passes.csv",
)
READINGS = "readings_used.csv"

FAULTS: Mapping[str, Fault] = {
    "inches in the centimetre column": each_depth(lambda depth: round(depth / 2.54, 2)),
    "millimetres in the centimetre column": each_depth(lambda depth: depth * 10),
    "metres in the centimetre column": each_depth(lambda depth: depth / 100),
    "inches rounded to a step": each_depth(lambda depth: round(depth / 2.54 / 2.5) * 2.5),
    "all depths zero": each_depth(always(0.0)),
    "one step deeper everywhere": each_depth(lambda depth: depth + 2.5),
    "one zone a step deeper": one_property("depth_cm", lambda depth: depth + 2.5),
    "depth as text": one_property("depth_cm", str),
    "depth unknown": one_property("depth_cm", always(None)),
    "depths of two zones swapped": edit_json(ZONES, swapped_depths),
    "word on services changed": one_property("cleared", always("located.")),
    "another pan base": one_property("pan_base_cm", always(12.3)),
    "the smallest zone dropped": edit_json(ZONES, without_smallest),
    "a zone twice": edit_json(ZONES, lambda d: d["features"].append(d["features"][0])),
    "shifted a metre east": moved(lambda x, y: [x + 1.5e-5, y]),
    "shifted five centimetres north": moved(lambda x, y: [x, y + 4.5e-7]),
    "longitude and latitude exchanged": moved(lambda x, y: [y, x]),
    "five decimals": moved(lambda x, y: [round(x, 5), round(y, 5)]),
    "a hole or bay filled": edit_json(ZONES, hull),
    "outlines exchanged": edit_json(ZONES, exchanged_outlines),
    "a caution dropped": edit_json(ZONES, lambda d: d["cautions"].pop()),
    "zones of another plan": taken_from_other(ZONES),
    "zones cut short": cut(ZONES, 0.7),
    "table: a depth in inches": edit_table(TABLE, cell("depth_cm", in_inches)),
    "table: a row dropped": edit_table(TABLE, lambda rows: rows.pop()),
    "table: rows exchanged": edit_table(GRID, exchanged_rows),
    "table: cells shifted": edit_table(TABLE, shifted_cells),
    "table: decimal commas": edit_table(TABLE, whole_column("depth_cm", with_comma)),
    "table: an outline lost": edit_table(TABLE, cell("geometry_wkt", always("POLYGON EMPTY"))),
    "table: cut short": cut(TABLE, 0.9),
    "grid: a place a step deeper": edit_table(GRID, cell("depth_cm", deeper, 1)),
    "grid: a row dropped": edit_table(GRID, lambda rows: rows.pop(1)),
    "grid: shifted": edit_table(GRID, whole_column("lon", lambda t: f"{float(t) + 1e-6:.8f}")),
    "grid: half of it": edit_table(GRID, first_half),
    "passes: a run deeper": edit_table(PASSES, cell("depth_cm", deeper, 1)),
    "passes: a run dropped": edit_table(PASSES, lambda rows: rows.pop()),
    "passes: start and end exchanged": edit_table(PASSES, cell("start_lat", a_metre_off)),
    "raster: a step deeper": depth_band(lambda depth: depth + 2.5),
    "raster: all zero": depth_band(lambda depth: depth * 0 + 20),
    "raster: zero for no data": edit_raster(zero_outside),
    "raster: one cell east": edit_raster(one_cell_east),
    "raster: another zone of UTM": edit_raster(other_zone),
    "raster: cells lost": edit_raster(holes),
    "raster: another plan": edit_raster(other_tag),
    "raster: cut short": cut("pan_surface.tif", 0.5),
    "store: a zone deeper": sql("UPDATE zones SET depth_cm = depth_cm + 2.5 WHERE zone = 1"),
    "store: a zone deleted": sql("DELETE FROM zones WHERE zone = (SELECT max(zone) FROM zones)"),
    "store: a hazard deleted": sql("DELETE FROM hazards WHERE fid = 1"),
    "store: the cover of a drain": sql("UPDATE hazards SET clear_m = 99 WHERE fid = 1"),
    "store: a run deeper": sql("UPDATE passes SET depth_cm = 3 WHERE fid = 1"),
    "store: a station's verdict": sql("UPDATE insertions SET verdict = 'stone' WHERE fid = 1"),
    "store: the outline moved": moved_boundary,
    "store: a layer gone": sql("DROP TABLE parts"),
    "store: an emptied layer": sql("DELETE FROM zones"),
    "store: another plan": taken_from_other("plan.gpkg"),
    "store: cut short": cut("plan.gpkg", 0.5),
    "document: another clearance": setting("depth", "clearance_cm"),
    "document: another machine": setting("machine", "legs"),
    "document: a zone deeper": edit_json("plan.json", document_depth),
    "document: a caution dropped": edit_json("plan.json", lambda d: d["cautions"].pop(0)),
    "document: another number": set_member("plan_id", value=always("0" * 64)),
    "document: another digest": set_member("digests", "readings", value=always("0" * 64)),
    "document: another total": set_member("totals", "zones", value=lambda v: v + 1),
    "document: another field's": taken_from_other("plan.json"),
    "sheet: another plan": taken_from_other("operator_sheet.pdf"),
    "sheet: another plan's under this number": relabelled_sheet,
    "sheet: cut short": cut("operator_sheet.pdf", 0.8),
    "picture: another plan": taken_from_other("plan.png"),
    "picture: another number": other_picture_number,
    "picture: cut short": cut("plan.png", 0.8),
    "picture: a byte changed": bad_chunk,
    "page: a zone deeper": page_depth,
    "page: a run deeper": page_pass,
    "page: another plan": taken_from_other("map.html"),
    "readings: used or not": edit_table(READINGS, cell("used", other_answer, 1)),
    "readings: a row dropped": edit_table(READINGS, lambda rows: rows.pop()),
    "description: another plan": taken_from_other("depth_grid.csv-metadata.json"),
    "the same step deeper in every file": every_file_deeper,
}  # fmt: skip
"""What is sown, by name; the hashes are made good again afterwards."""


def flipped(name: str) -> Fault:
    def work(folder: Path, _other: Path) -> None:
        path = folder / name
        data = bytearray(path.read_bytes())
        data[len(data) * 2 // 3] ^= 0x04
        path.write_bytes(bytes(data))

    return work


BYTES: Mapping[str, Fault] = {
    **{
        f"a bit of {name}": flipped(name)
        for name in (ZONES, TABLE, GRID, PASSES, READINGS, "pan_surface.tif", "plan.gpkg")
    },
    "a bit of the sheet": flipped("operator_sheet.pdf"),
    "a bit of the page": flipped("map.html"),
    "a bit of the description": flipped("depth_zones.csv-metadata.json"),
    "a caution reworded in plan.json": edit_json(
        "plan.json", lambda d: d["cautions"][0].update(text="All is well.")
    ),
    "a file missing": lambda folder, _other: (folder / PASSES).unlink(),
    "a second table put in": lambda folder, _other: (folder / "zones (1).csv").write_text("zone"),
    "line ends changed": replaced(TABLE, "zone,depth_cm", "zone, depth_cm"),
}
"""Faults whose hashes are left as they are."""


def sown(name: str, folder: Path, other: Path, target: Path) -> Path:
    """Copy the plan in `folder` to `target` and sow the fault `name`."""
    shutil.copytree(folder, target)
    if name in FAULTS:
        FAULTS[name](target, other)
        rehash(target)
    else:
        BYTES[name](target, other)
    return target


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--plans", type=int, default=5, help="plans that faults are sown into")
    options.add_argument("--good", type=int, default=20, help="plans left as they are")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--kinds", type=int, default=999, help="kinds sown into every plan")
    given = options.parse_args()
    kinds = [*FAULTS, *BYTES]
    start, missed, tried, alarms = time.monotonic(), Counter[str](), Counter[str](), 0
    with tempfile.TemporaryDirectory() as place:
        before: Path | None = None
        for number, (plan, field) in enumerate(plan_folders(given.seed, given.good, Path(place))):
            found = verify_plan(plan, field).faults
            alarms += bool(found)
            for fault in found:
                print("FALSE ALARM", plan.name, fault, flush=True)
            if before is not None and number <= given.plans:
                for name in [*kinds[: given.kinds], *kinds[given.kinds + number % 4 :: 4]]:
                    if not applies(name, plan):
                        continue
                    tried[name] += 1
                    missed[name] += not caught(name, plan, before, Path(place) / "sown")
                print(f"{number} plans sown, missed: {dict(+missed) or 'none'}", flush=True)
            if before is not None:
                shutil.rmtree(before)
            before = plan
    print(f"{len(tried)} kinds of fault, {min(tried.values(), default=0)} to", end=" ")
    print(f"{max(tried.values(), default=0)} plans each, {tried.total()} sown;", end=" ")
    print(f"missed: {dict(+missed) or 'none'}")
    print(f"{given.good} good plans, false alarms: {alarms}; {time.monotonic() - start:.0f} s")


def applies(name: str, plan: Path) -> bool:
    """Whether there is something to sow the fault into: no hazard, none to delete."""
    if name not in {"store: a hazard deleted", "store: the cover of a drain"}:
        return True
    with closing(sqlite3.connect(plan / "plan.gpkg")) as base:
        return bool(base.execute("SELECT count(*) FROM hazards").fetchone()[0])


def caught(name: str, plan: Path, other: Path, target: Path) -> bool:
    """Sow a fault, say whether it is found, and remove the plan again."""
    try:
        return bool(verify_plan(sown(name, plan, other, target)).faults)
    except InputRefused:
        return True
    finally:
        shutil.rmtree(target)


if __name__ == "__main__":
    main()

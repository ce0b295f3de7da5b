"""Broken and hostile zipped shapefiles and GeoPackages."""

from __future__ import annotations

import io
import sqlite3
import stat
import struct
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from functools import cache
from pathlib import Path

import geopandas as gpd
import shapely
from corpus.base import FIELD, OUTLINE, Case
from readings.small_field import UTM

SHAPE = shapely.Polygon(OUTLINE)
SETTINGS = FIELD.replace('"boundary.geojson"', '"b.bin"', 1)


def boundary(name: str, data: bytes) -> Case:
    """Return a case whose boundary file holds `data`."""
    return Case(name, {"b.bin": data, "field.toml": SETTINGS}, "b.bin")


@cache
def saved(driver: str) -> Mapping[str, bytes]:
    """Return the files that a driver writes for the sound outline, by ending."""
    frame = gpd.GeoDataFrame({"a": [1]}, geometry=[SHAPE], crs="EPSG:4326").to_crs(UTM)
    end = {"ESRI Shapefile": ".shp", "GPKG": ".gpkg", "FlatGeobuf": ".fgb"}[driver]
    with tempfile.TemporaryDirectory() as folder:
        frame.to_file(Path(folder) / f"b{end}", driver=driver)
        return {path.suffix: path.read_bytes() for path in Path(folder).iterdir()}


def packed(members: Mapping[str, bytes], *, store: bool = False) -> bytes:
    stream = io.BytesIO()
    method = zipfile.ZIP_STORED if store else zipfile.ZIP_DEFLATED
    with zipfile.ZipFile(stream, "w", method) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return stream.getvalue()


def shapefile(**changed: bytes | None) -> dict[str, bytes]:
    """Return the members of a sound zip, some with other bytes, ``None`` leaves one out."""
    parts = {f"b{end}": data for end, data in saved("ESRI Shapefile").items()}
    for end, data in changed.items():
        parts.pop(f"b.{end}", None)
        if data is not None:
            parts[f"b.{end}"] = data
    return parts


def cases() -> Iterator[Case]:
    """Every broken archive and store."""
    yield from _zips()
    yield from _shapefiles()
    yield from _stores()
    whole = saved("FlatGeobuf")[".fgb"]
    for number in range(1, 9):
        cut = whole[: 8 + (len(whole) - 8) * number // 9]
        yield boundary(f"flatgeobuf cut at {number}/9", cut)


def _zips() -> Iterator[Case]:
    sound = packed(shapefile())
    for number in range(1, 21):
        yield boundary(f"zip cut at {number}/21", sound[: len(sound) * number // 21])
    for name, members in {
        "empty": {},
        "of text": {"readme.txt": b"hello"},
        "of a geojson": {"boundary.geojson": b"{}"},
        "slip": {"../../evil.shp": b"x", **shapefile()},
        "absolute": {"/etc/evil.shp": b"x", **shapefile()},
        "backslash slip": {"..\\evil.shp": b"x", **shapefile()},
        "drive": {"C:evil.shp": b"x", **shapefile()},
        "zip in zip": {"b.zip": sound, **shapefile()},
        "65 files": {**{f"{i}.txt": b"" for i in range(65)}, **shapefile()},
        "two layers": {**shapefile(), **{k.replace("b.", "c."): v for k, v in shapefile().items()}},
        "twins by case": {**shapefile(), "B.SHP": b"x"},
        "a VRT": {"b.vrt": b"<OGRVRTDataSource/>"},
    }.items():
        yield boundary(f"zip {name}", packed(members))
    yield boundary("zip bomb", packed({**shapefile(), "z.txt": b"\0" * 30_000_000}))
    yield boundary("zip that lies about its size", _lying(sound))
    yield boundary("zip with a link", _linked())
    yield boundary("zip with an entry of no name", _nameless())  # found by fuzzing
    yield boundary("zip encrypted", _flagged(sound))
    yield boundary("zip of an unknown method", _method(sound))
    yield boundary(
        "zip with a broken checksum", _flipped(packed(shapefile(), store=True), b"\x27\x0a")
    )


def _lying(sound: bytes) -> bytes:
    """State an unpacked size of 4 GB in the directory."""
    at = sound.index(b"PK\x01\x02")
    return sound[: at + 24] + struct.pack("<I", 4_000_000_000) + sound[at + 28 :]


def _linked() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, data in shapefile().items():
            info = zipfile.ZipInfo(name)
            if name.endswith(".prj"):
                info.external_attr = (stat.S_IFLNK | 0o777) << 16
            archive.writestr(info, b"/etc/passwd" if name.endswith(".prj") else data)
    return stream.getvalue()


def _nameless() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, data in shapefile().items():
            archive.writestr(name, data)
        info = zipfile.ZipInfo("x")
        info.filename = ""
        archive.writestr(info, b"x")
    return stream.getvalue()


def _flagged(sound: bytes) -> bytes:
    at = sound.index(b"PK\x01\x02") + 8
    return sound[:at] + struct.pack("<H", 1) + sound[at + 2 :]


def _method(sound: bytes) -> bytes:
    at = sound.index(b"PK\x01\x02") + 10
    return sound[:at] + struct.pack("<H", 99) + sound[at + 2 :]


def _flipped(data: bytes, near: bytes) -> bytes:
    at = data.index(near) + 60
    return data[:at] + bytes([data[at] ^ 0xFF]) + data[at + 1 :]


def _shapefiles() -> Iterator[Case]:
    parts = saved("ESRI Shapefile")
    for name, members in {
        "without shp": shapefile(shp=None),
        "without shx": shapefile(shx=None),
        "without prj": shapefile(prj=None),
        "without all but shp": {"b.shp": parts[".shp"]},
        "prj empty": shapefile(prj=b""),
        "prj of words": shapefile(prj=b"the local grid"),
        "prj of an address": shapefile(prj=b"http://127.0.0.1:9/x"),
        "prj of a path": shapefile(prj=b"/etc/passwd"),
        "shp empty": shapefile(shp=b""),
        "shp of text": shapefile(shp=b"hello" * 40),
        "shx of text": shapefile(shx=b"hello" * 40),
        "shx empty": shapefile(shx=b""),
        "shp of null shapes": shapefile(shp=_of_null(parts[".shp"])),
        "shp of absurd parts": shapefile(shp=_parts(parts[".shp"], 2**30)),
        "shp of minus one part": shapefile(shp=_parts(parts[".shp"], 2**32 - 1)),
        "shp of infinite corners": shapefile(shp=_infinite(parts[".shp"])),
    }.items():
        yield boundary(f"shapefile {name}", packed(members))
    shp = parts[".shp"]
    for number in range(1, 16):
        cut = shapefile(shp=shp[: len(shp) * number // 16])
        yield boundary(f"shp cut at {number}/16", packed(cut))


def _of_null(shp: bytes) -> bytes:
    return shp[:108] + struct.pack("<i", 0) + shp[112:]


def _parts(shp: bytes, count: int) -> bytes:
    return shp[:144] + struct.pack("<I", count) + shp[148:]


def _infinite(shp: bytes) -> bytes:
    return shp[:156] + struct.pack("<d", float("inf")) + shp[164:]


def _stores() -> Iterator[Case]:
    whole = saved("GPKG")[".gpkg"]
    for number in range(1, 13):
        yield boundary(f"geopackage cut at {number}/13", whole[: len(whole) * number // 13])
    for name, change in {
        "without a layer": "DELETE FROM gpkg_contents",
        "without contents": "DROP TABLE gpkg_contents",
        "without rows": "DELETE FROM b",
        "of null geometry": "UPDATE b SET geom = NULL",
        "of rubbish geometry": "UPDATE b SET geom = x'00112233445566778899'",
        "of text geometry": "UPDATE b SET geom = 'POLYGON EMPTY'",
        "of a view": "ALTER TABLE b RENAME TO c; CREATE VIEW b AS SELECT * FROM c",
        "of an endless view": "ALTER TABLE b RENAME TO c; CREATE VIEW b AS WITH RECURSIVE "
        "r(fid) AS (SELECT 1 UNION ALL SELECT fid + 1 FROM r) SELECT fid, NULL AS geom FROM r",
        "of an unknown system": "UPDATE gpkg_contents SET srs_id = 999; "
        "UPDATE gpkg_geometry_columns SET srs_id = 999",
        "of no system": "UPDATE gpkg_geometry_columns SET srs_id = -1; "
        "UPDATE gpkg_contents SET srs_id = -1",
    }.items():
        yield boundary(f"geopackage {name}", store(change))
    yield boundary("an sqlite file that is no geopackage", plain_store())
    yield boundary("geopackage of noise", whole[:100] + bytes(range(256)) * (len(whole) // 256))


@cache
def store(script: str) -> bytes:
    """Return a GeoPackage changed by SQL, its triggers dropped."""

    def change(path: Path) -> None:
        path.write_bytes(saved("GPKG")[".gpkg"])
        with closing(sqlite3.connect(path)) as base:
            names = base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            for (name,) in names.fetchall():
                base.execute(f'DROP TRIGGER "{name}"')
            base.executescript(script)
            base.commit()

    return _made(change)


def plain_store() -> bytes:
    def change(path: Path) -> None:
        with closing(sqlite3.connect(path)) as base:
            base.execute("CREATE TABLE a (b)")
            base.commit()

    return _made(change)


def _made(change: Callable[[Path], None]) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "b.gpkg"
        change(path)
        return path.read_bytes()

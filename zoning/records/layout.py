"""The tables of the season record, and what makes them a GeoPackage.

OGC 12-128r18 (GeoPackage 1.3.1): application id ``GPKG`` (clause 1.1.1.1), contents and spatial
reference tables (1.1.2, 1.1.3), geometry columns (2.1.5), binary header of a geometry (2.1.3). The
file's user version is the GeoPackage version; the record's own version stands in
``zoning_record``. Entries are only ever added: triggers refuse to change or delete one.
"""

from __future__ import annotations

import sqlite3
import struct

import shapely
from shapely.geometry.base import BaseGeometry

from zoning.records.entries import BODIES, Body, BodyColumn, body_columns
from zoning.records.rules import rule

APPLICATION_ID = 0x47504B47
GEOPACKAGE_VERSION = 10301
WGS84 = 4326
STAMP = (
    "row_id", "record_id", "version", "recorded_at", "by_whom", "origin", "why",
)  # fmt: skip
ORIGINS = ("file", "page", "plan", "check")
_CRS = (
    'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,'
    'AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,'
    'AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],'
    'AXIS["Latitude",NORTH],AXIS["Longitude",EAST],AUTHORITY["EPSG","4326"]]'
)
_SYSTEM = (
    """CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT)""",
    """CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
  description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id))""",
    """CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id))""",
    """CREATE TABLE zoning_record (
  one INTEGER PRIMARY KEY CHECK (one = 1), format_version INTEGER NOT NULL,
  made_by TEXT NOT NULL, made_at TEXT NOT NULL) STRICT""",
    """CREATE TABLE zoning_heads (
  table_name TEXT PRIMARY KEY, entries INTEGER NOT NULL, head TEXT NOT NULL) STRICT""",
)


def statements() -> list[str]:
    """Return every statement that lays out an empty record, in order."""
    own = [part for kind in BODIES for part in _table(kind)]
    return [*_SYSTEM, *own]


def lay_out(store: sqlite3.Connection, made_by: str, made_at: str) -> None:
    """Lay out an empty record in an empty database."""
    for statement in statements():
        store.execute(statement)
    store.execute(
        "INSERT INTO zoning_record VALUES (1, ?, ?, ?)",
        (int(rule("format_version")), made_by, made_at),
    )
    store.executemany(
        "INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?)",
        [
            ("Undefined cartesian SRS", -1, "NONE", -1, "undefined", None),
            ("Undefined geographic SRS", 0, "NONE", 0, "undefined", None),
            ("WGS 84", WGS84, "EPSG", WGS84, _CRS, "longitude and latitude in degrees"),
        ],
    )
    for kind in BODIES:
        for name, words in ((kind.TABLE, "every version"), (now(kind), "latest versions")):
            _register(store, kind, name, words)
        store.execute("INSERT INTO zoning_heads VALUES (?, 0, '')", (kind.TABLE,))


def now(kind: type[Body]) -> str:
    """Return the name of the view of the latest version of each record."""
    return f"{kind.TABLE}_now"


def columns(kind: type[Body]) -> tuple[str, ...]:
    """Return the columns of a table that its hash is made from: stamp, then body."""
    return (*STAMP, *(column.name for column in body_columns(kind)))


def shape_of(body: Body) -> bytes | None:
    """Return the place of a body as a GeoPackage geometry; ``None`` where it has none."""
    geometry: BaseGeometry
    if type(body).SHAPE == "POINT":
        lon, lat = getattr(body, "lon", None), getattr(body, "lat", None)
        if lon is None or lat is None:
            return None
        geometry = shapely.Point(lon, lat)
    elif type(body).SHAPE:
        geometry = shapely.from_wkt(getattr(body, "geometry_wkt", ""))
    else:
        return None
    # Header: magic, version 0, little-endian without envelope, number of the reference system.
    return b"GP\x00\x01" + struct.pack("<i", WGS84) + bytes(shapely.to_wkb(geometry, byte_order=1))


def _table(kind: type[Body]) -> list[str]:
    name = kind.TABLE
    lines = [
        "fid INTEGER PRIMARY KEY AUTOINCREMENT",
        *(["geom BLOB"] if kind.SHAPE else []),
        "row_id TEXT NOT NULL UNIQUE",
        "record_id TEXT NOT NULL",
        "version INTEGER NOT NULL CHECK (version >= 1)",
        "recorded_at TEXT NOT NULL",
        "by_whom TEXT NOT NULL",
        f"origin TEXT NOT NULL CHECK (origin IN ({_listed(ORIGINS)}))",
        "why TEXT NOT NULL",
        *(_definition(column) for column in body_columns(kind)),
        "row_hash TEXT NOT NULL",
        "UNIQUE (record_id, version)",
    ]
    made = ",\n  ".join(lines)
    by_key = [f"CREATE INDEX {name}_by_key ON {name} ({', '.join(kind.KEY)})"] if kind.KEY else []
    newest = f"SELECT max(version) FROM {name} AS other WHERE other.record_id = {name}.record_id"  # noqa: S608
    refuse = "SELECT RAISE(ABORT, 'entries are kept: correct one on the review page');"
    return [
        f"CREATE TABLE {name} (\n  {made}) STRICT",
        *by_key,
        f"CREATE VIEW {now(kind)} AS SELECT * FROM {name} WHERE version = ({newest})",  # noqa: S608
        f"CREATE TRIGGER {name}_not_changed BEFORE UPDATE ON {name} BEGIN {refuse} END",
        f"CREATE TRIGGER {name}_not_deleted BEFORE DELETE ON {name} BEGIN {refuse} END",
    ]


def _definition(column: BodyColumn) -> str:
    name = column.name
    if column.kind is str:
        rest = ""
        if column.words:
            rest = f" CHECK ({name} IN ({_listed(column.words)}))"
        return f"{name} TEXT NOT NULL{rest}"
    if column.kind is int:
        return f"{name} INTEGER NOT NULL"
    if column.least is None:
        return f"{name} REAL"
    return f"{name} REAL CHECK ({name} BETWEEN {column.least!r} AND {column.most!r})"


def _listed(words: tuple[str, ...]) -> str:
    return ", ".join(f"'{word}'" for word in words)


def _register(store: sqlite3.Connection, kind: type[Body], name: str, words: str) -> None:
    what = "features" if kind.SHAPE else "attributes"
    store.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) "
        "VALUES (?, ?, ?, ?, ?)",
        (name, what, name, f"season record: {words}", WGS84 if kind.SHAPE else None),
    )
    if kind.SHAPE:
        store.execute(
            "INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 0, 0)",
            (name, kind.SHAPE, WGS84),
        )

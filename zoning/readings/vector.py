"""A vector file of any format of the contract, known by its first bytes and never by its name.

GeoJSON and KML are read by this program. GeoPackage, FlatGeobuf, GML and shapefiles go to GDAL, as
a private copy under a fixed name and only after their first bytes (for XML, the root) were
recognised: GDAL itself would open anything, and follow what it points at.
"""

from __future__ import annotations

import sqlite3
import tempfile
import warnings
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from xml.etree.ElementTree import Element

import geopandas as gpd
import pandas as pd
import pyogrio
import shapely
from pyproj import CRS

from zoning.errors import Fault, InputRefused
from zoning.model import Notice
from zoning.readings.features import LAYER_KEY, Feature, Layer, several_layers
from zoning.readings.files import Blob
from zoning.readings.geojson import read_geojson
from zoning.readings.rules import rule, suggest
from zoning.readings.systems import crs_text
from zoning.readings.text_table import limited
from zoning.readings.xml_file import local_name, parse_xml, read_kml
from zoning.readings.zip_shapefile import SHP_MAGIC, unpack_shapefile

FORMATS = "GeoJSON, GeoPackage, zipped shapefile, FlatGeobuf, GML or KML"
_SQLITE = b"SQLite format 3\x00"
_FLATGEOBUF = b"fgb\x03fgb"
_GML_NAMESPACES = (
    "http://www.opengis.net/gml",
    "http://www.opengis.net/wfs",
    "http://ogr.maptools.org/",
)
_GML_MEMBERS = ("featureMember", "featureMembers", "member")
_SQL_STEPS_MAX = 2_000_000


def read_layer(
    blob: Blob, layer: str | None = None, key: str = "", *, may_be_empty: bool = False
) -> Layer:
    """Read the features of one layer.

    Parameters
    ----------
    blob
        The file.
    layer
        Name of the layer wanted in a file of several; ``None`` for the only one.
    key
        The key of ``field.toml`` that names the file, for the message; blank if there is none.
    may_be_empty
        Whether a file without features is sound.

    Raises
    ------
    InputRefused
        If the format is not one of the contract, or the file is broken, empty or names no system.
    """
    found = _read(blob, layer, key)
    if not found.features and may_be_empty:
        return found
    if not found.features:
        raise _refused(blob, "The file holds no features.", "Export it again with its shapes.")
    count = int(shapely.get_num_coordinates([f.geometry for f in found.features]).sum())
    if count > rule("vertices_max"):
        raise _refused(
            blob,
            f"The file has {count} vertices.",
            "Keep one field in a file, or thin its outline.",
        )
    return found


def _read(blob: Blob, layer: str | None, key: str) -> Layer:
    head = blob.data[:512].removeprefix(b"\xef\xbb\xbf").lstrip()
    if blob.data.startswith(_SQLITE):
        return _read_geopackage(blob, layer, key)
    if blob.data.startswith(b"PK\x03\x04"):
        shapefile = unpack_shapefile(blob, layer, key)
        return _with_gdal(
            blob, {f"layer{end}": data for end, data in shapefile.parts.items()}, "layer"
        )
    if blob.data.startswith(_FLATGEOBUF):
        return _without_layers(_with_gdal(blob, {"layer.fgb": blob.data}, None), layer)
    if head.startswith((b"{", b"[", b'"', b"null", b"true", b"false")):
        return _without_layers(read_geojson(blob), layer)
    if blob.data.startswith(SHP_MAGIC):
        what = "This is one part of a shapefile."
        raise _refused(blob, what, "Zip its .shp, .shx, .dbf and .prj files and name the zip.")
    if head.startswith(b"<") or blob.data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _read_xml(blob, layer, key)
    raise _refused(blob, "The format was not recognised.", f"Save it as {FORMATS}.")


def _without_layers(found: Layer, layer: str | None) -> Layer:
    """Return a file that has no layers, and tell it where one was asked for."""
    if layer is None:
        return found
    text = f"{found.file}: the file has no layers, so {LAYER_KEY} = '{layer}' is not used."
    return replace(found, notices=(*found.notices, Notice("note", "layer-not-used", text)))


def _refused(blob: Blob, what: str, remedy: str) -> InputRefused:
    return InputRefused([Fault(blob.name, what, remedy)])


def _read_xml(blob: Blob, layer: str | None, key: str) -> Layer:
    root = parse_xml(blob)
    name = local_name(root.tag)
    if name == "kml":
        return read_kml(blob, root, layer)
    if name == "gpx":
        raise _refused(blob, "GPX holds points and tracks, not areas.", f"Save it as {FORMATS}.")
    if name == "FeatureCollection" and _is_gml(root):
        if any(_points_elsewhere(element) for element in root.iter()):
            raise _refused(blob, "The file points at other files (xlink).", "Export it whole.")
        return _with_gdal(blob, {"layer.gml": blob.data}, _gml_layer(blob, root, layer, key))
    raise _refused(blob, f"XML of the kind '{name[:40]}' is not read.", f"Save it as {FORMATS}.")


def _gml_layer(blob: Blob, root: Element, layer: str | None, key: str) -> str | None:
    """Return the kind of feature that is wanted; ``None`` where the file has no member."""
    members = (e for e in root.iter() if local_name(e.tag) in _GML_MEMBERS)
    names = sorted({local_name(feature.tag) for member in members for feature in member})
    return _chosen(blob, names, layer, key) if names else None


def _is_gml(root: Element) -> bool:
    tags = (str(element.tag) for element in root.iter())
    return any(tag.startswith("{" + space) for tag in tags for space in _GML_NAMESPACES)


def _points_elsewhere(element: Element) -> bool:
    return any(local_name(k) == "href" and not v.startswith("#") for k, v in element.attrib.items())


def _read_geopackage(blob: Blob, layer: str | None, key: str) -> Layer:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "layer.gpkg"
        path.write_bytes(blob.data)
        names = _feature_tables(blob, path)
    return _with_gdal(blob, {"layer.gpkg": blob.data}, _chosen(blob, names, layer, key))


def _feature_tables(blob: Blob, path: Path) -> list[str]:
    """Return the feature layers that are plain tables: a view may run for ever."""
    query = (
        "SELECT c.table_name FROM gpkg_contents c "
        "JOIN sqlite_master m ON lower(m.name) = lower(c.table_name) "
        "WHERE c.data_type = 'features' AND m.type = 'table' "
        "AND m.sql NOT LIKE 'CREATE VIRTUAL%' ORDER BY 1"
    )
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro&immutable=1", uri=True)) as store:
            store.execute("PRAGMA trusted_schema = OFF")
            store.set_progress_handler(lambda: 1, _SQL_STEPS_MAX)
            return [str(row[0]) for row in store.execute(query)]
    except (sqlite3.Error, ValueError) as error:
        raise _refused(blob, "This is no sound GeoPackage.", "Export it again.") from error


def _chosen(blob: Blob, names: Sequence[str], layer: str | None, key: str) -> str:
    if layer is not None:
        if layer not in names:
            raise _refused(
                blob, f"The file has no layer '{layer}'.", suggest(layer, names or ["none"])
            )
        return layer
    if not names:
        raise _refused(
            blob, "The file holds no layer of shapes.", "Export the shapes as a table of features."
        )
    if len(names) > 1:
        raise several_layers(blob.name, names, key)
    return names[0]


def _with_gdal(blob: Blob, parts: Mapping[str, bytes], layer: str | None) -> Layer:
    """Read a private copy; the first of `parts` is the one that is opened."""
    with tempfile.TemporaryDirectory() as folder:
        for name, data in parts.items():
            (Path(folder) / name).write_bytes(data)
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                frame = pyogrio.read_dataframe(
                    Path(folder) / next(iter(parts)), layer=layer, force_2d=True, use_arrow=False
                )
        except (RuntimeError, ValueError, IndexError, OSError, shapely.GEOSException) as error:
            raise _refused(
                blob, "The file is broken or holds no layer.", f"Save it again as {FORMATS}."
            ) from error
    return _layer(blob, frame)


def _layer(blob: Blob, frame: pd.DataFrame) -> Layer:
    if not isinstance(frame, gpd.GeoDataFrame):
        raise _refused(blob, "The layer holds no shapes.", "Export the layer with its geometry.")
    if frame.crs is None:
        raise _refused(
            blob, "The file names no coordinate system.", "Export it again with its system."
        )
    crs = CRS(frame.crs)
    if not (crs.is_projected or crs.is_geographic):
        raise _refused(
            blob,
            f"The system '{crs.name}' is no place on Earth.",
            "Export it again with its system.",
        )
    bare = [
        Fault(blob.name, f"Feature {i} has no geometry.", "Mend or remove the feature.")
        for i, g in enumerate(frame.geometry, start=1)
        if g is None or g.is_empty
    ]
    if bare:
        raise InputRefused(limited(bare))
    told = frame.drop(columns=frame.geometry.name).to_dict("records")
    rows = told or [{} for _ in frame.index]  # older pandas gives no row without columns
    features = tuple(
        Feature(i, geometry, {str(k): v for k, v in row.items()})
        for i, (geometry, row) in enumerate(zip(frame.geometry, rows, strict=True), start=1)
    )
    return Layer(blob.name, features, crs_text(crs), ())

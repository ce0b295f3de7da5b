"""Every format of the contract gives the same shape; what only looks like one is refused."""

from __future__ import annotations

import io
import sqlite3
import zipfile
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import shapely
from pyproj import CRS, Transformer
from readings.small_field import UTM, blob, box, collection, faults_of, feature, open_data

from zoning.errors import InputRefused
from zoning.readings.files import Blob
from zoning.readings.vector import read_layer

SHAPE = shapely.Polygon(box(0, 0, 300, 200), [box(50, 50, 100, 100)])
FRAME = gpd.GeoDataFrame({"area": ["old track"]}, geometry=[SHAPE], crs="EPSG:4326")


def zipped(folder: Path, stem: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for path in folder.glob(f"{stem}.*"):
            archive.write(path, f"sub/{path.name}")
    return stream.getvalue()


def saved(folder: Path, frame: gpd.GeoDataFrame, kind: str) -> Blob:
    if kind == "zip":
        frame.to_file(folder / "f.shp")
        return blob(zipped(folder, "f"), "f.zip")
    drivers = {
        "gpkg": "GPKG",
        "fgb": "FlatGeobuf",
        "gml": "GML",
        "kml": "KML",
        "geojson": "GeoJSON",
    }
    frame.to_file(folder / f"f.{kind}", driver=drivers[kind])
    return blob((folder / f"f.{kind}").read_bytes(), f"f.{kind}")


@pytest.mark.parametrize("kind", ["geojson", "gpkg", "zip", "fgb", "gml", "kml"])
def test_every_format_gives_the_same_polygon_in_degrees(tmp_path: Path, kind: str) -> None:
    layer = read_layer(saved(tmp_path, FRAME, kind))
    assert CRS(layer.crs).is_geographic
    assert shapely.hausdorff_distance(layer.features[0].geometry, SHAPE) < 1e-8
    assert layer.features[0].geometry.area == pytest.approx(SHAPE.area, rel=1e-6)


@pytest.mark.parametrize("kind", ["gpkg", "zip", "fgb", "gml"])
def test_formats_that_carry_a_system_keep_it(tmp_path: Path, kind: str) -> None:
    layer = read_layer(saved(tmp_path, FRAME.to_crs(UTM), kind))
    assert CRS(layer.crs).to_epsg(min_confidence=20) == 32631
    to = Transformer.from_crs(CRS(layer.crs), "OGC:CRS84", always_xy=True)
    xy = shapely.get_coordinates(layer.features[0].geometry)
    lon, lat = to.transform(xy[:, 0], xy[:, 1])
    assert (np.min(lon), np.min(lat)) == pytest.approx(SHAPE.bounds[:2], abs=1e-6)


def test_axis_order_of_gml_3_is_honoured() -> None:
    ring = " ".join(f"{lat} {lon}" for lon, lat in box(0, 0, 300, 200))
    text = f"""<?xml version="1.0"?><ogr:FeatureCollection xmlns:ogr="http://ogr.maptools.org/"
      xmlns:gml="http://www.opengis.net/gml"><gml:featureMember><ogr:f><ogr:geometry>
      <gml:Polygon srsName="urn:ogc:def:crs:EPSG::4326"><gml:exterior><gml:LinearRing>
      <gml:posList>{ring}
      </gml:posList></gml:LinearRing></gml:exterior></gml:Polygon></ogr:geometry></ogr:f></gml:featureMember>
      </ogr:FeatureCollection>"""
    geometry = read_layer(blob(text, "f.gml")).features[0].geometry
    assert geometry.bounds == pytest.approx(SHAPE.bounds, abs=1e-9)


def test_one_of_several_kinds_of_gml_features_must_be_named() -> None:
    ring = " ".join(f"{lon} {lat}" for lon, lat in box(0, 0, 300, 200))
    shape = f"""<gml:Polygon srsName="OGC:CRS84"><gml:exterior><gml:LinearRing><gml:posList>{ring}
      </gml:posList></gml:LinearRing></gml:exterior></gml:Polygon>"""
    members = "".join(
        f"<gml:featureMember><ogr:{n}><ogr:g>{shape}</ogr:g></ogr:{n}></gml:featureMember>"
        for n in ("field", "road")
    )
    text = f"""<ogr:FeatureCollection xmlns:ogr="http://ogr.maptools.org/"
      xmlns:gml="http://www.opengis.net/gml">{members}</ogr:FeatureCollection>"""
    assert "several layers: field, road" in faults_of(lambda: read_layer(blob(text, "f.gml")))[0]
    assert len(read_layer(blob(text, "f.gml"), "road").features) == 1


def test_one_of_several_geopackage_layers_must_be_named(tmp_path: Path) -> None:
    path = tmp_path / "f.gpkg"
    FRAME.to_file(path, layer="fields")
    FRAME.to_file(path, layer="roads")
    data = blob(path.read_bytes(), "f.gpkg")
    assert (
        "several layers: fields, roads. Name one as field.boundary_layer"
        in (faults_of(lambda: read_layer(data, None, "field.boundary"))[0])
    )
    assert "Did you mean 'fields'" in faults_of(lambda: read_layer(data, "field"))[0]
    assert len(read_layer(data, "roads").features) == 1


def test_a_view_is_no_layer(tmp_path: Path) -> None:
    path = tmp_path / "f.gpkg"
    FRAME.to_file(path, layer="fields")
    with sqlite3.connect(path) as store:
        store.execute("ALTER TABLE fields RENAME TO hidden")
        store.execute(
            "CREATE VIEW fields AS WITH RECURSIVE c(x) AS "
            "(SELECT 1 UNION ALL SELECT x FROM c) SELECT * FROM c"
        )
    store.close()
    assert (
        "no layer of shapes" in faults_of(lambda: read_layer(blob(path.read_bytes(), "f.gpkg")))[0]
    )


def test_a_shapefile_without_any_shape_and_a_layer_without_rows(tmp_path: Path) -> None:
    FRAME.iloc[:0].to_file(tmp_path / "e.gpkg", layer="e")
    assert (
        "no features" in faults_of(lambda: read_layer(blob((tmp_path / "e.gpkg").read_bytes())))[0]
    )
    bare = gpd.GeoDataFrame({"a": [1]}, geometry=[None], crs="EPSG:4326")
    bare.to_file(tmp_path / "n.gpkg", layer="n")
    assert (
        "Feature 1 has no geometry"
        in faults_of(lambda: read_layer(blob((tmp_path / "n.gpkg").read_bytes())))[0]
    )


@pytest.mark.parametrize("kind", ["gpkg", "fgb", "kml", "gml", "geojson", "zip"])
def test_a_file_cut_short_is_never_read_in_part(tmp_path: Path, kind: str) -> None:
    several = gpd.GeoDataFrame({"area": list("abc")}, geometry=[SHAPE] * 3, crs="EPSG:4326")
    whole = saved(tmp_path, several, kind)
    for part in np.linspace(0.03, 0.97, 12):
        data = whole.data[: int(part * len(whole.data))]
        try:
            found = read_layer(blob(data, whole.name))
        except InputRefused:
            continue
        assert len(found.features) == 3


@pytest.mark.parametrize(
    "text",
    [
        "<OGRVRTDataSource><SrcDataSource>/vsicurl/http://127.0.0.1:9/x</SrcDataSource></OGRVRTDataSource>",
        "<OGRWFSDataSource><URL>http://127.0.0.1:9/wfs</URL></OGRWFSDataSource>",
        '<FeatureCollection xmlns:gml="http://www.opengis.net/gml"/>',
        """<w:FeatureCollection xmlns:w="http://www.opengis.net/wfs"
           xmlns:x="http://www.w3.org/1999/xlink"><w:m x:href="http://127.0.0.1:9/"/>
           </w:FeatureCollection>""",
        '{"type": "gdal_streamed_alg", "command_line": "gdal vector pipeline ! read /vsicurl/x"}',
        "http://127.0.0.1:9/boundary.geojson",
        "station,lon,lat\nS1,1,52\n",
        b"\x00\x00\x27\x0a" + bytes(200),
        b"II*\x00" + bytes(100),
        b"SQLite format 3\x00" + bytes(4096),
        b"fgb\x03fgb\x00" + bytes(50),
        '<gpx xmlns="http://www.topografix.com/GPX/1/1"/>',
    ],
)
def test_what_gdal_would_follow_or_guess_is_refused(text: str | bytes) -> None:
    assert len(faults_of(lambda: read_layer(blob(text, "boundary.geojson")))) == 1


def test_too_many_vertices(monkeypatch: pytest.MonkeyPatch) -> None:
    limits = {"vertices_max": 4.0}
    monkeypatch.setattr("zoning.readings.vector.rule", lambda name: limits[name])
    data = blob(collection(feature("Polygon", [box(0, 0, 300, 200)])))
    assert "5 vertices" in faults_of(lambda: read_layer(data))[0]


# cases of the PDOK geopackage-validator, EUPL-1.2
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("test_broken_geopackage", "no sound GeoPackage"),
        ("test_geometry_null", "no geometry"),
        ("test_layerfeature", "no features"),
        ("test_allcorrect_with_indexes_and_fks", "several layers"),
    ],
)
def test_odd_geopackages(name: str, said: str) -> None:
    path = open_data("malformed", "geopackage", f"{name}.gpkg")
    assert said in faults_of(lambda: read_layer(blob(path.read_bytes(), path.name)))[0]


def test_a_sound_geopackage_beside_a_view_is_read() -> None:
    path = open_data("malformed", "geopackage", "test_db_views.gpkg")
    layer = read_layer(blob(path.read_bytes(), path.name))
    assert [f.geometry.geom_type for f in layer.features] == ["Polygon"]
    assert CRS(layer.crs).to_epsg() == 28992


@pytest.mark.parametrize("kind", ["geojson", "fgb"])
def test_a_layer_asked_of_a_file_without_layers_is_told(tmp_path: Path, kind: str) -> None:
    whole = saved(tmp_path, FRAME, kind)
    assert [n.code for n in read_layer(whole).notices if n.code == "layer-not-used"] == []
    told = read_layer(whole, "fields", "field.boundary").notices
    assert ["fields" in n.text for n in told if n.code == "layer-not-used"] == [True]

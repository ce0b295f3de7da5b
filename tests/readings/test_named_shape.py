"""The field of a farm's file that bears the name of the field."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path

import geopandas as gpd
import pytest
from readings.small_field import BOUNDARY, FIELD, Folder, box, codes, collection, feature
from shapely import Polygon

from zoning.readings import read_field
from zoning.readings.features import Feature, Layer
from zoning.readings.named_shape import named_shape

FIELDS = {"Moosfeld": 700, "test  PIECE": 0, "Brühl": 1400}
SHAPES = [box(x, 0, x + 300, 200) for x in FIELDS.values()]


def layer(*properties: dict[str, object]) -> Layer:
    features = [Feature(i, Polygon(), each) for i, each in enumerate(properties, start=1)]
    return Layer("hof.gpkg", tuple(features), "OGC:CRS84", ())


def taken(found: Layer) -> list[int]:
    return [feature.number for feature in found.features]


def frame() -> gpd.GeoDataFrame:
    shapes = [Polygon(shape) for shape in SHAPES]
    return gpd.GeoDataFrame({"NAME": list(FIELDS)}, geometry=shapes, crs="OGC:CRS84")


def by_driver(driver: str, name: str) -> Callable[[Path], bytes]:
    def write(folder: Path) -> bytes:
        frame().to_file(folder / name, driver=driver, layer="f")
        return (folder / name).read_bytes()

    return write


def shapefile(folder: Path) -> bytes:
    frame().to_crs("EPSG:32631").to_file(folder / "f.shp", encoding="utf-8")
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for path in sorted(folder.glob("f.*")):
            archive.write(path, path.name)
    return stream.getvalue()


def kml(_: Path) -> bytes:
    ring = "<Polygon><outerBoundaryIs><LinearRing><coordinates>{}</coordinates></LinearRing></outerBoundaryIs></Polygon>"  # noqa: E501
    marks = "".join(
        f"<Placemark><name>{name}</name>{ring.format(_line(shape))}</Placemark>"
        for name, shape in zip(FIELDS, SHAPES, strict=True)
    )
    head = '<kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
    return f"{head}{marks}</Document></kml>".encode()


def _line(shape: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x},{y}" for x, y in shape)


@pytest.mark.parametrize(
    ("name", "write"),
    [
        ("hof.gpkg", by_driver("GPKG", "hof.gpkg")),
        ("hof.fgb", by_driver("FlatGeobuf", "hof.fgb")),
        ("hof.geojson", by_driver("GeoJSON", "hof.geojson")),
        ("hof.gml", by_driver("GML", "hof.gml")),
        ("hof.zip", shapefile),
        ("hof.kml", kml),
    ],
)
def test_the_shape_of_that_name_is_the_field_in_every_format(
    folder: Folder, tmp_path: Path, name: str, write: Callable[[Path], bytes]
) -> None:
    made = tmp_path / "made"
    made.mkdir()
    where = folder(FIELD.replace("boundary.geojson", name), boundary__geojson=BOUNDARY)
    (where / name).write_bytes(write(made))
    farm, alone = read_field(where), read_field(folder())
    assert farm.boundary.equals_exact(alone.boundary, 0.001)
    assert codes(farm) == {"boundary-by-name"}
    (told,) = [notice.text for notice in farm.notices]
    assert "of its 3 shapes the one whose" in told
    assert "is 'Test Piece' is planned." in told
    assert "Left out: " in told
    assert all(other in told for other in ("Moosfeld", "Brühl"))


def test_one_shape_is_the_field_whatever_its_name() -> None:
    one = layer({"NAME": "a"})
    assert named_shape(one, "b") is one
    assert named_shape(one, "a") is one


def test_no_shape_or_every_shape_of_the_name_changes_nothing() -> None:
    for farm in (layer({"n": "a"}, {"n": "b"}), layer({"farm": "x"}, {"farm": "x"}), layer({}, {})):
        assert named_shape(farm, "x") is farm


def test_a_field_of_two_shapes_is_taken_whole() -> None:
    found = named_shape(layer({"n": "x"}, {"n": "y"}, {"n": " X "}), "x")
    assert taken(found) == [1, 3]
    (notice,) = found.notices
    assert "the 2 whose n is 'x' are planned. Left out: y." in notice.text


def test_the_attribute_that_fewest_share_counts_and_two_that_differ_choose_nothing() -> None:
    farm = layer({"owner": "x", "n": "y"}, {"owner": "x", "n": "x"}, {"owner": "z", "n": None})
    assert taken(named_shape(farm, "x")) == [2]
    assert "Left out: y, shape 3." in named_shape(farm, "x").notices[0].text
    unclear = layer({"n": "x", "m": "y"}, {"n": "y", "m": "x"}, {"n": 1})
    assert named_shape(unclear, "x") is unclear


def test_a_number_is_no_name() -> None:
    farm = layer({"n": 7}, {"n": 8})
    assert named_shape(farm, "7") is farm


def test_shapes_left_out_are_not_judged(folder: Folder) -> None:
    field = feature("Polygon", [box(0, 0, 300, 200)], NAME="Test Piece")
    crossed = feature(
        "Polygon", [[*box(0, 0, 9, 9)[:2], *box(0, 0, 9, 9)[3:1:-1], box(0, 0, 9, 9)[0]]]
    )
    point = feature("Point", box(0, 0, 9, 9)[0], NAME="yard")
    inputs = read_field(folder(boundary__geojson=collection(field, crossed, point)))
    assert inputs.boundary.equals_exact(read_field(folder()).boundary, 0.001)

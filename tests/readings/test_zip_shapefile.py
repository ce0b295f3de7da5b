"""Zipped shapefiles, sound and hostile."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import geopandas as gpd
import pytest
import shapely
from readings.small_field import UTM, blob, faults_of, open_data

from zoning.readings.zip_shapefile import unpack_shapefile


@pytest.fixture(scope="module")
def parts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    folder = tmp_path_factory.mktemp("shp")
    gpd.GeoDataFrame(
        {"a": [1]}, geometry=[shapely.box(312000, 5784000, 312300, 5784200)], crs=UTM
    ).to_file(folder / "f.shp")
    return {path.suffix: path.read_bytes() for path in Path(folder).glob("f.*")}


def packed(members: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return stream.getvalue()


def unpack(members: dict[str, bytes], layer: str | None = None) -> object:
    return unpack_shapefile(blob(packed(members), "b.zip"), layer, "field.boundary")


@pytest.mark.parametrize("folder", ["", "sub/", "a/b/"])
def test_the_folder_inside_does_not_matter(parts: dict[str, bytes], folder: str) -> None:
    found = unpack_shapefile(
        blob(
            packed(
                {f"{folder}Field{e.upper()}": d for e, d in parts.items()}
                | {"__MACOSX/._Field.shp": b"x"}
            )
        ),
        None,
        "",
    )
    assert found.layer == "Field"
    assert found.parts[".shp"] == parts[".shp"]


def test_one_of_several_layers_must_be_named(parts: dict[str, bytes]) -> None:
    both = {f"{n}{e}": d for n in ("one", "two") for e, d in parts.items()}
    assert (
        "several layers: one, two. Name one as field.boundary_layer"
        in faults_of(lambda: unpack(both))[0]
    )
    assert "Did you mean 'two'" in faults_of(lambda: unpack(both, "tow"))[0]
    assert unpack_shapefile(blob(packed(both)), "two", "").layer == "two"


def test_a_zipped_kml_is_to_be_unpacked() -> None:
    said = faults_of(lambda: unpack({"doc.kml": b"<kml/>"}))[0]
    assert said.endswith("The zip holds no .shp file but doc.kml. Unpack it and name doc.kml.")


def test_missing_parts_are_named(parts: dict[str, bytes]) -> None:
    for end, said in (
        (".prj", "coordinate system is unknown"),
        (".shx", "no .shx"),
        (".shp", "no .shp"),
    ):
        members = {f"f{e}": d for e, d in parts.items() if e != end}
        assert said in faults_of(lambda members=members: unpack(members))[0]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"../evil.txt": b"x"}, "leaves its folder"),
        ({"/evil.txt": b"x"}, "leaves its folder"),
        ({"inner.zip": b"x"}, "an archive itself"),
        ({"F.SHP": b"x"}, "stands twice"),
        ({"f.prj": b"http://127.0.0.1:9/prj"}, "names no coordinate system"),
        ({"f.shp": b"not a shapefile" * 20}, "is no shapefile"),
        ({"zeros.bin": bytes(30_000_000)}, "would unpack to"),
        ({f"n{i}.txt": b"x" for i in range(80)}, "The zip holds"),
    ],
)
def test_unsafe_or_broken_zips_are_refused(
    parts: dict[str, bytes], change: dict[str, bytes], said: str
) -> None:
    members = {f"f{e}": d for e, d in parts.items()} | change
    assert said in faults_of(lambda: unpack(members))[0]


def test_a_link_in_a_zip_is_refused(parts: dict[str, bytes]) -> None:
    stream = io.BytesIO(packed({f"f{e}": d for e, d in parts.items()}))
    with zipfile.ZipFile(stream, "a") as archive:
        info = zipfile.ZipInfo("f.cpx")
        info.external_attr = 0o120777 << 16
        archive.writestr(info, "/etc/passwd")
    assert "is a link" in faults_of(lambda: unpack_shapefile(blob(stream.getvalue()), None, ""))[0]


def test_a_shapefile_cut_short_is_refused_at_every_length(parts: dict[str, bytes]) -> None:
    for length in range(4, len(parts[".shp"]), 8):
        members = {f"f{e}": d for e, d in parts.items()} | {"f.shp": parts[".shp"][:length]}
        assert len(faults_of(lambda members=members: unpack(members))) == 1


def test_a_zip_cut_short_is_refused_at_every_length(parts: dict[str, bytes]) -> None:
    whole = packed({f"f{e}": d for e, d in parts.items()})
    for length in range(4, len(whole), 31):
        assert len(faults_of(lambda n=length: unpack_shapefile(blob(whole[:n]), None, ""))) == 1


# cases of pyshp (MIT licence), Fiona (BSD) and pyogrio (MIT licence)
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("blockgroups", "no .prj"),
        ("empty_zipfile", "no .shp"),
        ("testopenfilegdb.gdb", "holds 198 files"),
    ],
)
def test_real_zips_that_are_refused(name: str, said: str) -> None:
    path = open_data("malformed", "shapefile", f"{name}.zip")
    assert said in faults_of(lambda: unpack_shapefile(blob(path.read_bytes()), None, ""))[0]

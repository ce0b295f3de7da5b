"""A photo is decoded, made smaller, encoded again; where it was taken goes unless it is kept."""

from __future__ import annotations

import hashlib
import io
import struct
import zlib
from pathlib import Path

import pytest
from PIL import ExifTags, Image

from zoning.errors import InputRefused
from zoning.records import keep_photo, known_photo, photo_file

PLACE = {
    ExifTags.GPS.GPSLatitudeRef: "N",
    ExifTags.GPS.GPSLatitude: (52.0, 43.0, 6.0),
    ExifTags.GPS.GPSLongitudeRef: "E",
    ExifTags.GPS.GPSLongitude: (0.0, 48.0, 30.0),
}


def picture(size: tuple[int, int] = (80, 60), kind: str = "JPEG", **tags: str) -> bytes:
    image = Image.linear_gradient("L").resize(size).convert("RGB")
    exif = Image.Exif()
    if kind == "JPEG":
        exif[ExifTags.Base.Make] = "Invented"
        exif[ExifTags.Base.Orientation] = int(tags.get("turned", "1"))
        exif.get_ifd(ExifTags.IFD.GPSInfo).update(PLACE)
    stream = io.BytesIO()
    image.save(stream, kind, exif=exif)
    return stream.getvalue()


def tags_of(data: bytes) -> tuple[dict[int, object], dict[int, object]]:
    with Image.open(io.BytesIO(data)) as image:
        exif = image.getexif()
        return dict(exif), dict(exif.get_ifd(ExifTags.IFD.GPSInfo))


def test_nothing_of_the_photos_own_data_is_kept(tmp_path: Path) -> None:
    kept = keep_photo(tmp_path, "pit.jpg", picture(), keep_location=False)
    data = (tmp_path / kept.path).read_bytes()
    assert hashlib.sha256(data).hexdigest() == kept.sha256
    assert tags_of(data) == ({}, {})
    assert b"Invented" not in data
    assert not kept.location_kept


def test_the_place_is_kept_on_purpose_and_nothing_else(tmp_path: Path) -> None:
    kept = keep_photo(tmp_path, "pit.jpg", picture(), keep_location=True)
    base, place = tags_of((tmp_path / kept.path).read_bytes())
    assert set(base) == {ExifTags.Base.GPSInfo}
    assert place[ExifTags.GPS.GPSLatitude] == (52.0, 43.0, 6.0)
    assert kept.location_kept


def test_a_photo_without_a_place_has_none_to_keep(tmp_path: Path) -> None:
    assert not keep_photo(tmp_path, "p", picture(kind="PNG"), keep_location=True).location_kept


def test_a_turned_photo_stands_upright_and_a_large_one_is_made_smaller(tmp_path: Path) -> None:
    turned = keep_photo(tmp_path, "p", picture((80, 60), turned="6"), keep_location=False)
    assert (turned.width, turned.height) == (60, 80)
    large = keep_photo(tmp_path, "p", picture((4000, 3000)), keep_location=False)
    assert (large.width, large.height) == (2400, 1800)


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "JPEG"])
def test_each_kind_becomes_a_jpeg_the_same_every_time(tmp_path: Path, kind: str) -> None:
    one = keep_photo(tmp_path, "p", picture(kind=kind), keep_location=False)
    assert one == keep_photo(tmp_path, "p", picture(kind=kind), keep_location=False)
    assert (tmp_path / one.path).read_bytes()[:3] == b"\xff\xd8\xff"
    assert [p.name for p in (tmp_path / "photos").iterdir()] == [f"{one.sha256}.jpg"]


def bomb() -> bytes:
    """A PNG of 30 000 by 30 000 dots in a few hundred bytes."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        )

    head = struct.pack(">IIBBBBB", 30_000, 30_000, 8, 0, 0, 0, 0)
    rows = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "empty"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no picture"),
        (b"GIF89a" + b"\0" * 40, "no picture"),
        (b"%PDF-1.7", "no picture"),
        (picture()[:300], "picture"),
        (bomb(), "more than 110 million dots"),
        (b"\xff\xd8\xff" + b"\0" * 20_000_001, "larger than 20 MB"),
    ],
    ids=["empty", "svg", "gif", "pdf", "torn", "bomb", "large"],
)
def test_what_is_no_fit_photo_is_refused_and_leaves_nothing(
    tmp_path: Path, data: bytes, told: str
) -> None:
    with pytest.raises(InputRefused, match=told):
        keep_photo(tmp_path, "pit.jpg", data, keep_location=False)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "name",
    [
        "../secret.jpg",
        "/etc/passwd",
        "records.gpkg",
        "a\0.jpg",
        "",
        "link.jpg",
        "photos",
        "gone.jpg",
    ],
)
def test_no_name_leads_out_of_the_folder(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "field"
    (folder / "photos").mkdir(parents=True)
    (folder / "records.gpkg").write_bytes(b"x")
    (tmp_path / "secret.jpg").write_bytes(picture())
    (folder / "link.jpg").symlink_to(tmp_path / "secret.jpg")
    assert known_photo(folder, name) is None
    digest = hashlib.sha256(picture()).hexdigest()
    assert photo_file(folder, name, digest) is None


def test_a_photo_is_found_under_its_name_or_in_the_folder_of_photos(tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "p1.jpg").write_bytes(picture())
    found = known_photo(tmp_path, "p1.jpg")
    assert found is not None
    assert found.path == "photos/p1.jpg"
    assert photo_file(tmp_path, "p1.jpg", found.sha256) == picture()  # taken along into photos/
    (tmp_path / "p1.jpg").write_bytes(picture((70, 50)))
    first = known_photo(tmp_path, "p1.jpg")
    assert first is not None
    assert first.path == "p1.jpg"
    assert photo_file(tmp_path, "p1.jpg", found.sha256) == picture()


def test_a_photo_that_was_changed_is_not_shown(tmp_path: Path) -> None:
    (tmp_path / "p1.jpg").write_bytes(picture())
    found = known_photo(tmp_path, "p1.jpg")
    assert found is not None
    assert photo_file(tmp_path, "p1.jpg", found.sha256) == picture()
    (tmp_path / "p1.jpg").write_bytes(picture((70, 50)))
    assert photo_file(tmp_path, "p1.jpg", found.sha256) is None

"""Backdrops made by rasterio, photographs by their first bytes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin
from shapely import MultiPolygon, box

from zoning.errors import InputRefused
from zoning.readings.pictures import read_backdrop, read_photos

CRS = "EPSG:32631"
FIELD = MultiPolygon([box(400_000, 5_800_000, 400_200, 5_800_100)])


def write_picture(
    path: Path, *, west: float = 399_000, dot_m: float = 1.0, kind: str = "uint8"
) -> None:
    colours = np.zeros((3, 2200, 2200), dtype=kind)
    colours[0] = (np.arange(2200) % 251)[None, :]
    place = from_origin(west, 5_801_100, dot_m, dot_m)
    profile = {"driver": "GTiff", "width": 2200, "height": 2200, "count": 3, "dtype": kind}
    with rasterio.open(path, "w", crs=CRS, transform=place, **profile) as picture:
        picture.write(colours)


def test_only_the_ground_about_the_field_is_kept_in_its_place(tmp_path: Path) -> None:
    write_picture(tmp_path / "photo.tif")
    backdrop = read_backdrop(tmp_path, "photo.tif", FIELD, CRS)
    assert backdrop.rgb.shape == (220, 320, 3)  # 100 by 200 m and 60 m about it
    assert backdrop.affine == (1.0, 0.0, 399_940.0, 0.0, -1.0, 5_800_160.0)
    assert backdrop.rgb[0, :, 0].tolist() == [(940 + i) % 251 for i in range(320)]
    assert backdrop.shown.all()


def test_a_fine_picture_is_thinned(tmp_path: Path) -> None:
    write_picture(tmp_path / "fine.tif", west=399_900, dot_m=0.1)
    near = MultiPolygon([box(399_910, 5_800_890, 400_110, 5_801_090)])
    backdrop = read_backdrop(tmp_path, "fine.tif", near, CRS)
    assert max(backdrop.rgb.shape) <= 2000
    assert backdrop.affine[0] == pytest.approx(backdrop.rgb.shape[1] ** -1 * 220, rel=0.01)


@pytest.mark.parametrize(
    ("spoil", "word"),
    [
        (lambda path: path.write_bytes(b"<VRTDataset/>"), "not a TIFF"),
        (lambda path: path.write_bytes(b"II*\x00" + b"\x00" * 40), "cannot be read"),
        (lambda path: write_picture(path, west=700_000), "does not show the field"),
        (lambda path: write_picture(path, kind="uint16"), "8 bits"),
    ],
)
def test_what_is_no_picture_of_the_field_is_refused(tmp_path: Path, spoil, word: str) -> None:
    spoil(tmp_path / "photo.tif")
    with pytest.raises(InputRefused, match=word):
        read_backdrop(tmp_path, "photo.tif", FIELD, CRS)


def test_photographs_are_told_by_their_first_bytes(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"\xff\xd8\xff\xe0rest")
    (tmp_path / "b.png").write_bytes(b"\x89PNG\r\n\x1a\nrest")
    (tmp_path / "c.jpg").write_bytes(b"<svg/>")
    photos = read_photos(tmp_path, ["b.png", "a.jpg", "c.jpg", "gone.jpg", "../out.jpg", ""])
    assert [(p.name, p.media_type) for p in photos] == [
        ("a.jpg", "image/jpeg"),
        ("b.png", "image/png"),
    ]

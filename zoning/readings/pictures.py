"""Pictures of the user's own: the GeoTIFF under the map page, the photographs of pits."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np
import rasterio
from pyproj import CRS, Transformer
from rasterio.enums import Resampling
from rasterio.windows import Window, from_bounds
from shapely import MultiPolygon

from zoning.errors import Fault, InputRefused
from zoning.model.pictures import Backdrop, Photo
from zoning.readings.files import inside, read_file
from zoning.readings.rules import rule

_TIFF = (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")
_PHOTOS = {b"\xff\xd8\xff": "image/jpeg", b"\x89PNG\r\n\x1a\n": "image/png"}


def read_backdrop(folder: Path, name: str, boundary: MultiPolygon, crs: str) -> Backdrop:
    """Read the part of a GeoTIFF about the field as red, green and blue, no larger than needed.

    Parameters
    ----------
    folder, name
        The field folder and the file in it.
    boundary, crs
        Outline of the field and its CRS.

    Raises
    ------
    InputRefused
        If the file is no GeoTIFF picture of eight bits with a CRS that shows the field.
    """
    path = inside(folder, name, "backdrop")
    with path.open("rb") as stream:
        if stream.read(4) not in _TIFF:
            raise _refused(name, "is not a TIFF picture.", "Save the picture as GeoTIFF.")
    try:
        with rasterio.open(path, driver="GTiff") as picture:
            return _picture(picture, name, boundary, crs)
    except (rasterio.errors.RasterioError, ValueError) as error:
        raise _refused(name, "cannot be read.", "Save the picture as GeoTIFF again.") from error


def _picture(
    picture: rasterio.DatasetReader, name: str, boundary: MultiPolygon, crs: str
) -> Backdrop:
    if picture.crs is None or any(kind != "uint8" for kind in picture.dtypes):
        raise _refused(
            name,
            "has no coordinate system, or is not of 8 bits a colour.",
            "Save it as an 8-bit GeoTIFF with its coordinate system.",
        )
    window = _window(picture, boundary, crs)
    if window is None:
        raise _refused(name, "does not show the field.", "Give a picture of this field.")
    most = int(rule("backdrop_most_px"))
    shrink = max(1.0, window.width / most, window.height / most)
    shape = max(1, round(window.height / shrink)), max(1, round(window.width / shrink))
    bands = [1, 2, 3] if picture.count >= 3 else [1, 1, 1]
    colours = picture.read(
        bands, window=window, out_shape=(3, *shape), resampling=Resampling.average
    )
    shown = picture.dataset_mask(window=window, out_shape=shape) > 0
    place = picture.window_transform(window)
    across, down = window.width / shape[1], window.height / shape[0]
    affine = (
        place.a * across, place.b * down, place.c, place.d * across, place.e * down, place.f
    )  # fmt: skip
    return Backdrop(name, np.moveaxis(colours, 0, -1), shown, picture.crs.to_wkt(), affine)


def _window(picture: rasterio.DatasetReader, boundary: MultiPolygon, crs: str) -> Window | None:
    """Return the dots about the field with a margin, ``None`` where there are none."""
    to_picture = Transformer.from_crs(CRS(crs), CRS(picture.crs.to_wkt()), always_xy=True)
    around = boundary.buffer(rule("backdrop_margin_m")).bounds
    try:
        window = from_bounds(*to_picture.transform_bounds(*around), picture.transform)
        whole = Window(0, 0, picture.width, picture.height)
        return window.intersection(whole).round_offsets().round_lengths()
    except rasterio.errors.WindowError:
        return None


def read_photos(folder: Path, names: Iterable[str]) -> tuple[Photo, ...]:
    """Return the photographs that are there, small enough, and truly JPEG or PNG, by name."""
    photos = []
    for name in sorted(set(names) - {""}):
        try:
            content = read_file(folder, name, "photo", rule("photo_max_mb")).data
        except InputRefused:
            continue  # told as missing by the reader of the pits
        kind = next((kind for start, kind in _PHOTOS.items() if content.startswith(start)), None)
        if kind is not None:
            photos.append(Photo(name, kind, content))
    return tuple(photos)


def _refused(name: str, what: str, remedy: str) -> InputRefused:
    return InputRefused([Fault(name, f"The backdrop {what}", remedy)])

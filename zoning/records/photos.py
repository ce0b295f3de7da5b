"""Photographs: taken in with care, kept under the hash of their bytes.

A photo is decoded and encoded again, so that the file kept holds a picture and nothing else; where
it was taken is left out unless it is kept on purpose.
"""

from __future__ import annotations

import hashlib
import io
import os
import threading
import warnings
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from zoning.errors import Fault, InputRefused, OutputFailed
from zoning.records.rules import rule

FOLDER = "photos"
_FORMATS = ("JPEG", "PNG", "WEBP")
_MEDIA = {"JPEG": "image/jpeg", "MPO": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}
_SUFFIXES = (".jpg", ".jpeg", ".png", ".webp")
_ONE_AT_A_TIME = threading.Lock()


@dataclass(frozen=True, slots=True)
class KeptPhoto:
    """A photo that lies in the field folder: where, its hash and its size."""

    path: str
    sha256: str
    media_type: str
    width: int
    height: int
    bytes: int
    location_kept: bool


def keep_photo(folder: Path, name: str, data: bytes, *, keep_location: bool) -> KeptPhoto:
    """Encode a photo again as JPEG and keep it in ``photos/`` of the field folder.

    Parameters
    ----------
    folder
        The field folder.
    name
        What the user calls the file; only for messages.
    data
        The bytes given.
    keep_location
        Whether the place in the photo's own data is kept; nothing else of that data ever is.

    Raises
    ------
    InputRefused
        If the file is no picture, too large, or made to fill the memory.
    OutputFailed
        If it cannot be written.
    """
    if not data:
        raise _refused(name, "The photo is empty.", "Choose the photo again.")
    if len(data) > rule("photo_upload_mb") * 1e6:
        most = f"{rule('photo_upload_mb'):g} MB"
        raise _refused(name, f"The photo is larger than {most}.", "Choose a smaller picture size.")
    with _ONE_AT_A_TIME:
        picture, place = _decoded(name, data)
        kept = _encoded(picture, place if keep_location else None)
    digest = hashlib.sha256(kept).hexdigest()
    path = f"{FOLDER}/{digest}.jpg"
    _write(folder / path, kept)
    return KeptPhoto(
        path, digest, "image/jpeg", *picture.size, len(kept), keep_location and place is not None
    )


def known_photo(folder: Path, name: str) -> KeptPhoto | None:
    """Return the facts of a photo that lies in the field folder; ``None`` if it is no such thing.

    It is looked for under its name in the folder and then in ``photos/``. The file is left as it
    is.
    """
    where = next((own for own in places_of(name) if inside(folder, own) is not None), name)
    path = inside(folder, where)
    if path is None or path.stat().st_size > rule("photo_upload_mb") * 1e6:
        return None
    data = path.read_bytes()
    try:
        with Image.open(io.BytesIO(data), formats=_FORMATS) as picture:
            width, height, kind = picture.width, picture.height, str(picture.format)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return None
    digest = hashlib.sha256(data).hexdigest()
    media = _MEDIA[kind]
    return KeptPhoto(where, digest, media, width, height, len(data), location_kept=True)


def places_of(name: str) -> tuple[str, str]:
    """Return where in the field folder a photo of this name may lie."""
    return name, f"{FOLDER}/{name}"


def photo_file(folder: Path, path: str, sha256: str) -> bytes | None:
    """Return the bytes of a kept photo; ``None`` where the file is gone, changed or elsewhere.

    One that was taken along into ``photos/`` is found there.
    """
    found = [inside(folder, own) for own in places_of(path)]
    every = (file.read_bytes() for file in found if file is not None)
    return next((data for data in every if hashlib.sha256(data).hexdigest() == sha256), None)


def inside(folder: Path, name: str) -> Path | None:
    """Return the picture file `name` of the folder; ``None`` if it leaves the folder or is none.

    The record itself can never be named: opening it beside SQLite would drop SQLite's locks.
    """
    plain = "\x00" not in name and not Path(name).is_absolute()
    if not plain or not name.lower().endswith(_SUFFIXES):
        return None
    root = folder.resolve()
    try:
        path = (root / name).resolve(strict=True)
    except (OSError, RuntimeError):
        return None
    held = path.is_relative_to(root) and path.suffix.lower() in _SUFFIXES and path.is_file()
    return path if held else None


def _decoded(name: str, data: bytes) -> tuple[Image.Image, dict[int, object] | None]:
    side = int(rule("photo_side_px"))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            picture = Image.open(io.BytesIO(data), formats=_FORMATS)
        if picture.width * picture.height > rule("photo_pixels_most"):
            raise _too_many(name)
        place = dict(picture.getexif().get_ifd(ExifTags.IFD.GPSInfo)) or None
        picture.draft("RGB", (side, side))
        turned = ImageOps.exif_transpose(picture).convert("RGB")
        turned.thumbnail((side, side))
    except UnidentifiedImageError as fault:
        remedy = (
            "Give a JPEG, PNG or WebP picture. If a phone made it, set the camera to the most "
            "compatible format."
        )
        raise _refused(name, "The file is no picture that is known here.", remedy) from fault
    except Image.DecompressionBombError as fault:
        raise _too_many(name) from fault
    except (OSError, ValueError, SyntaxError, MemoryError) as fault:
        raise _refused(
            name, "The picture is damaged.", "Take it again or choose another."
        ) from fault
    return turned, place


def _encoded(picture: Image.Image, place: dict[int, object] | None) -> bytes:
    bare = Image.new("RGB", picture.size)
    bare.paste(picture)
    exif = Image.Exif()
    if place is not None:
        exif.get_ifd(ExifTags.IFD.GPSInfo).update(place)
    stream = io.BytesIO()
    bare.save(stream, "JPEG", quality=int(rule("photo_quality")), optimize=True, exif=exif)
    return stream.getvalue()


def _write(path: Path, data: bytes) -> None:
    """Write whole or not at all, on the disk when this returns."""
    if path.is_file():
        return
    new = path.with_name(f".{path.name}.new")
    try:
        path.parent.mkdir(exist_ok=True)
        with new.open("wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        new.replace(path)
        _sync_names(path.parent)
    except OSError as fault:
        with suppress(OSError):
            new.unlink(missing_ok=True)
        raise OutputFailed(
            f"The photo could not be kept: {fault.strerror or fault}. Nothing was saved."
        ) from fault


def _sync_names(folder: Path) -> None:
    if os.name == "posix":  # Windows keeps names by itself and cannot open a folder
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _too_many(name: str) -> InputRefused:
    most = f"{rule('photo_pixels_most') / 1e6:g} million"
    return _refused(name, f"The photo has more than {most} dots.", "Choose a smaller picture size.")


def _refused(name: str, what: str, remedy: str) -> InputRefused:
    return InputRefused([Fault(name or "photo", what, remedy)])

"""A zipped shapefile unpacked in memory, within limits, whatever folder it sits in."""

from __future__ import annotations

import io
import stat
import struct
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath

from zoning.errors import Fault, InputRefused
from zoning.readings.files import Blob
from zoning.readings.rules import MB, rule, suggest
from zoning.readings.systems import named_crs

_PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg")
_NEEDED = (".shx", ".prj")
SHP_MAGIC = b"\x00\x00\x27\x0a"


@dataclass(frozen=True, slots=True)
class Shapefile:
    """The parts of one shapefile: ending (``.shp`` ...) to bytes."""

    layer: str
    parts: Mapping[str, bytes]


def unpack_shapefile(blob: Blob, layer: str | None, key: str) -> Shapefile:
    """Return the one shapefile of a zip, or the one named `layer`.

    Parameters
    ----------
    blob
        The zip file.
    layer
        Name of the shapefile without its ending; ``None`` where the zip holds one only.
    key
        The key of ``field.toml`` that chooses a layer, for the message; blank if there is none.

    Raises
    ------
    InputRefused
        If the zip is broken, too large once unpacked, unsafe, or holds no or several shapefiles.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(blob.data)) as archive:
            members = _members(blob, archive)
            stem = _chosen(blob, members, layer, key)
            parts = {
                end: archive.read(members[stem + end]) for end in _PARTS if stem + end in members
            }
    except (
        zipfile.BadZipFile,
        zlib.error,
        struct.error,
        NotImplementedError,
        RuntimeError,
        ValueError,
        EOFError,
        OSError,
    ) as error:
        raise _refused(blob, "The zip file is broken.", "Pack the shapefile again.") from error
    _check_parts(blob, parts)
    return Shapefile(PurePosixPath(members[stem + ".shp"].filename).stem, parts)


def _refused(blob: Blob, what: str, remedy: str) -> InputRefused:
    return InputRefused([Fault(blob.name, what, remedy)])


def _members(blob: Blob, archive: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
    """Return the files of a zip by lower-case name after checking every entry."""
    entries = [info for info in archive.infolist() if not info.filename.endswith("/")]
    _check_sizes(blob, entries)
    members: dict[str, zipfile.ZipInfo] = {}
    for info in entries:
        trouble = _trouble(info)
        if trouble is not None:
            raise _refused(
                blob, f"The entry '{info.filename[:60]}' {trouble}.", "Pack the shapefile alone."
            )
        if info.filename.startswith("__MACOSX/"):
            continue
        if info.filename.lower() in members:
            raise _refused(
                blob, f"The entry '{info.filename[:60]}' stands twice.", "Pack the shapefile again."
            )
        members[info.filename.lower()] = info
    return members


def _check_sizes(blob: Blob, entries: list[zipfile.ZipInfo]) -> None:
    unpacked = sum(info.file_size for info in entries)
    packed = max(1, sum(info.compress_size for info in entries))
    if len(entries) > rule("zip_entries_max"):
        raise _refused(blob, f"The zip holds {len(entries)} files.", "Pack one shapefile alone.")
    if unpacked > rule("zip_unpacked_max_mb") * MB or unpacked / packed > rule("zip_ratio_max"):
        raise _refused(
            blob, f"The zip would unpack to {unpacked / MB:.1f} MB.", "Pack one field alone."
        )


def _trouble(info: zipfile.ZipInfo) -> str | None:
    if not info.filename:
        return "has no name"
    path = PurePosixPath(info.filename)
    if path.is_absolute() or ".." in path.parts or "\\" in info.filename or ":" in info.filename:
        return "leaves its folder"
    if info.flag_bits & 1:
        return "is encrypted"
    if stat.S_ISLNK(info.external_attr >> 16):
        return "is a link"
    if path.suffix.lower() in {".zip", ".gz", ".7z", ".tar", ".rar"}:
        return "is an archive itself"
    return None


def _chosen(blob: Blob, members: Mapping[str, zipfile.ZipInfo], layer: str | None, key: str) -> str:
    """Return the lower-case path, without ending, of the shapefile that is wanted."""
    stems = sorted(name[:-4] for name in members if name.endswith(".shp"))
    if not stems:
        held = ", ".join(sorted(PurePosixPath(name).name for name in members)[:6]) or "nothing"
        kml = next((info.filename for name, info in members.items() if name.endswith(".kml")), "")
        remedy = f"Unpack it and name {kml}." if kml else "Zip .shp, .shx, .dbf and .prj together."
        raise _refused(blob, f"The zip holds no .shp file but {held}.", remedy)
    names = {stem: PurePosixPath(members[stem + ".shp"].filename).stem for stem in stems}
    if layer is not None:
        found = [
            stem
            for stem, name in names.items()
            if layer in {name, stem, members[stem + ".shp"].filename}
        ]
        if len(found) != 1:
            raise _refused(
                blob, f"The zip holds no one layer '{layer}'.", suggest(layer, names.values())
            )
        return found[0]
    if len(stems) > 1:
        listed = ", ".join(names.values())
        remedy = f"Name one as {key}." if key else "Zip the one that is meant alone."
        raise _refused(blob, f"The zip holds several layers: {listed}.", remedy)
    return stems[0]


def _check_parts(blob: Blob, parts: Mapping[str, bytes]) -> None:
    for end in _NEEDED:
        if end not in parts:
            reason = (
                "so its coordinate system is unknown"
                if end == ".prj"
                else "so its shapes cannot be found"
            )
            raise _refused(
                blob,
                f"The zip holds no {end} file, {reason}.",
                f"Add the {end} file of the same name to the zip.",
            )
    shp = parts[".shp"]
    if not shp.startswith(SHP_MAGIC) or len(shp) < 100:
        raise _refused(blob, "The .shp file is no shapefile.", "Export the shapefile again.")
    if int.from_bytes(shp[24:28], "big") * 2 > len(shp):
        raise _refused(blob, "The .shp file is cut short.", "Export the shapefile again.")
    if named_crs(parts[".prj"].decode("utf-8", "replace")) is None:
        raise _refused(
            blob, "The .prj file names no coordinate system.", "Export the shapefile again."
        )

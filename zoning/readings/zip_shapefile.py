"""A zipped shapefile unpacked in memory, within limits, whatever folder it sits in."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath

from zoning.errors import Fault, InputRefused
from zoning.readings.archive import Limits, opened
from zoning.readings.features import several_layers
from zoning.readings.files import Blob
from zoning.readings.rules import rule, suggest
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
        The key of ``field.toml`` that names the file, for the message; blank if there is none.

    Raises
    ------
    InputRefused
        If the zip is broken, too large once unpacked, unsafe, or holds no or several shapefiles.
    """
    with opened(blob, _limits()) as archive:
        stem = _chosen(blob, archive.members, layer, key)
        members = archive.members
        parts = {end: archive.read(stem + end) for end in _PARTS if stem + end in members}
    _check_parts(blob, parts)
    return Shapefile(PurePosixPath(members[stem + ".shp"].filename).stem, parts)


def _refused(blob: Blob, what: str, remedy: str) -> InputRefused:
    return InputRefused([Fault(blob.name, what, remedy)])


def _limits() -> Limits:
    return Limits(
        entries=rule("zip_entries_max"),
        unpacked_mb=rule("zip_unpacked_max_mb"),
        ratio=rule("zip_ratio_max"),
        what="The zip",
        again="Pack the shapefile again.",
        alone="Pack one shapefile alone.",
    )


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
        raise several_layers(blob.name, names.values(), key)
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

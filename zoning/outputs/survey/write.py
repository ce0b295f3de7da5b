"""Write a survey: every file of it, or none, and never over a form that was filled in."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from zoning.errors import OutputFailed
from zoning.model import Survey
from zoning.outputs.plain import read_json
from zoning.outputs.publish import check_target, staged
from zoning.outputs.survey.file import survey_json
from zoning.outputs.survey.places import stations_geojson, stations_gpx
from zoning.outputs.survey.sheet import form_pdf, map_png
from zoning.outputs.survey.tables import pit_form_csv, stations_csv

SURVEY_MARK = "survey.json"
Maker = Callable[[Survey], bytes]

SURVEY_FILES: Mapping[str, Maker] = MappingProxyType(
    {
        "stations.csv": stations_csv,
        "stations.geojson": stations_geojson,
        "stations.gpx": stations_gpx,
        "pit_form.csv": pit_form_csv,
        "field_form.pdf": form_pdf,
        "survey.png": map_png,
    }
)
"""The files of a survey by name, but for the one that lists the others."""


def write_survey(
    survey: Survey, folder: Path, *, progress: Callable[[str], None] | None = None
) -> tuple[Path, ...]:
    """Write `survey` to `folder`, whole or not at all.

    Parameters
    ----------
    survey
        The survey.
    folder
        Folder to make or replace.
    progress
        Called with the name of each file before it is written.

    Raises
    ------
    OutputFailed
        If the folder holds anything but a survey or a form that was filled in, or if a file could
        not be written or did not read back as written; the folder is then as before.
    """
    refuse_filled_in(folder)
    files: dict[str, bytes] = {}
    for name, make in SURVEY_FILES.items():
        if progress is not None:
            progress(name)
        files[name] = make(survey)
    files[SURVEY_MARK] = survey_json(survey, files)
    with staged(folder, set(files), SURVEY_MARK) as new:
        for name, data in files.items():
            (new / name).write_bytes(data)
            if (new / name).read_bytes() != data:
                raise OutputFailed(f"{name} did not read back as written. No file is changed.")
    return tuple(folder / name for name in files)


def refuse_filled_in(folder: Path) -> None:
    """Refuse a folder with anything but a survey as it was written.

    Raises
    ------
    OutputFailed
        If a file of an earlier survey has been changed since: it may hold readings.
    """
    check_target(folder, {*SURVEY_FILES, SURVEY_MARK}, SURVEY_MARK)
    mark = folder / SURVEY_MARK
    if not mark.exists():
        return
    changed = [
        name
        for name, sha256 in _hashes(mark).items()
        if (folder / name).is_file() and _sha256(folder / name) != sha256
    ]
    if changed:
        raise OutputFailed(
            f"{folder} holds {', '.join(changed)} changed since it was written: it may have been "
            "filled in. Move it into the field folder, or name another folder with --out."
        )


def _hashes(mark: Path) -> dict[str, str]:
    try:
        found = read_json(mark)["outputs"]
        return {name: str(found[name]) for name in SURVEY_FILES if name in found}
    except (ValueError, KeyError, TypeError) as fault:
        raise OutputFailed(
            f"{mark} cannot be read, so it cannot be told whether a form beside it was filled in. "
            "Move the folder elsewhere."
        ) from fault


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()

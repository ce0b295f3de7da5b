"""Write a plan: every file of the contract, or none."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from pathlib import Path
from types import MappingProxyType

import pandas as pd
import shapely

from zoning.errors import OutputFailed
from zoning.model import Plan
from zoning.outputs.columns import table_schema
from zoning.outputs.csvw import SUFFIX, description
from zoning.outputs.fingerprint import combined
from zoning.outputs.geojson import check_areas, check_depths, check_zones, write_zones, zone_areas
from zoning.outputs.geopackage import check_geopackage, write_geopackage
from zoning.outputs.map_page.page import check_map, write_map
from zoning.outputs.plain import write_text
from zoning.outputs.plan_file import check_plan_file, plan_digests, write_plan_file
from zoning.outputs.publish import MARK, check_target, staged
from zoning.outputs.raster import check_raster, write_raster
from zoning.outputs.reading_rows import reading_rows
from zoning.outputs.rows import grid_rows, pass_rows, zone_rows
from zoning.outputs.sheet.pages import (
    begin_pages,
    check_picture,
    check_sheet,
    write_picture,
    write_sheet,
)
from zoning.outputs.tables import check_table, write_table

Step = Callable[[Plan, Path], None]
Rows = Callable[[Plan], pd.DataFrame]


@dataclass(frozen=True, slots=True)
class Output:
    """One file of a plan: how it is written, and how it is read back and compared.

    Parameters
    ----------
    write
        Writes the file at the path given.
    check
        Reads it back; raises `OutputFailed` where it differs from the plan.
    begin
        Begins in the background what `write` will wait for; called before any file is written.
    """

    write: Step
    check: Step
    begin: Callable[[Plan], None] | None = None


def write_plan(
    plan: Plan,
    folder: Path,
    *,
    writers: Mapping[str, Output] | None = None,
    progress: Callable[[str], None] | None = None,
) -> tuple[Path, ...]:
    """Write `plan` to `folder`, whole or not at all.

    Every file is written beside the folder, closed, read back, compared with the plan, and flushed
    to the disk; then the new folder takes the place of the old one.

    Parameters
    ----------
    plan
        The plan.
    folder
        Folder to make or replace. A folder that holds anything but a plan is refused.
    writers
        Files to write, by name, in order; `WRITERS` where not given.
    progress
        Called with the name of each file before it is written.

    Returns
    -------
    tuple of Path
        The files, in the order of `writers`.

    Raises
    ------
    OutputFailed
        If anything could not be written or did not read back as written; the folder is as before.
    """
    outputs = WRITERS if writers is None else writers
    plan = replace(plan)  # a plan of its own: nothing kept of an earlier writing is taken for it
    if combined(plan_digests(plan)) != plan.plan_id:
        raise OutputFailed("The fingerprint does not belong to this plan; nothing is written.")
    with staged(folder, {*KNOWN, *outputs}) as new:
        for name, output in outputs.items():
            if output.begin is not None:
                with _told(name):
                    output.begin(plan)
        for name, output in outputs.items():
            if progress is not None:
                progress(name)
            with _told(name):
                output.write(plan, new / name)
                output.check(plan, new / name)
        surplus = sorted({path.name for path in new.iterdir()} ^ set(outputs))
        if surplus:
            raise OutputFailed(f"Writing left or lost {', '.join(surplus)}.")
    return tuple(folder / name for name in outputs)


def refuse_foreign(folder: Path) -> tuple[str, ...]:
    """Refuse a folder that `write_plan` would refuse; to be called before long work.

    What other programs made from the files of an earlier plan, and what goes with them, is
    returned.
    """
    return check_target(folder, KNOWN)


@contextmanager
def _told(name: str) -> Iterator[None]:
    """Tell any fault as one of the file `name`."""
    try:
        yield
    except OutputFailed:
        raise
    except Exception as fault:
        # Drivers fail in many ways, and a damaged file may read back as anything.
        why = " ".join(str(fault).split()).rstrip(".")
        raise OutputFailed(f"{name} was not written: {why}. No file is changed.") from fault


def _zone_table(plan: Plan) -> pd.DataFrame:
    outlines = shapely.to_wkt(list(zone_areas(plan)), rounding_precision=8, trim=False)
    return zone_rows(plan).assign(geometry_wkt=list(outlines))


def _check_zone_table(rows: Rows, plan: Plan, path: Path) -> None:
    check_table(rows(plan), table_schema("depth_zones"), path)
    frame = pd.read_csv(path, keep_default_na=False)
    check_depths(plan, [float(depth) for depth in frame["depth_cm"]], path.name)
    check_areas(plan, list(shapely.from_wkt(frame["geometry_wkt"].tolist())), path.name)


def _write_table(rows: Rows, schema: str, plan: Plan, path: Path) -> None:
    write_table(rows(plan), table_schema(schema), path)


def _check_table(rows: Rows, schema: str, plan: Plan, path: Path) -> None:
    check_table(rows(plan), table_schema(schema), path)


def _description(rows: Rows, name: str, plan: Plan) -> str:
    return description(table_schema(name), set(rows(plan).columns), f"{name}.csv", plan.plan_id)


def _write_description(rows: Rows, name: str, plan: Plan, path: Path) -> None:
    write_text(path, _description(rows, name, plan))


def _check_description(rows: Rows, name: str, plan: Plan, path: Path) -> None:
    if path.read_text(encoding="utf-8") != _description(rows, name, plan):
        raise OutputFailed(f"{path.name} did not read back as written.")


_TABLES: Mapping[str, Rows] = {
    "depth_zones": _zone_table,
    "depth_grid": grid_rows,
    "depth_passes": pass_rows,
    "readings_used": reading_rows,
}


def _table_outputs() -> dict[str, Output]:
    outputs = {}
    for name, made in _TABLES.items():
        # The last is kept, so that reading a table back does not work its rows out again.
        rows = lru_cache(maxsize=1)(made)
        check = partial(_check_table, rows, name)
        if name == "depth_zones":
            check = partial(_check_zone_table, rows)
        outputs[f"{name}.csv"] = Output(partial(_write_table, rows, name), check)
        outputs[f"{name}.csv{SUFFIX}"] = Output(
            partial(_write_description, rows, name), partial(_check_description, rows, name)
        )
    return outputs


WRITERS: Mapping[str, Output] = MappingProxyType(
    {
        "depth_zones.geojson": Output(write_zones, check_zones),
        **_table_outputs(),
        "pan_surface.tif": Output(write_raster, check_raster),
        "plan.gpkg": Output(write_geopackage, check_geopackage),
        "operator_sheet.pdf": Output(write_sheet, check_sheet, begin_pages),
        "plan.png": Output(write_picture, check_picture),
        "map.html": Output(write_map, check_map),
        # Last, because it lists the others with their hashes.
        MARK: Output(write_plan_file, check_plan_file),
    }
)
"""Every file that `write_plan` writes, by name, in the order of writing."""

KNOWN = frozenset(WRITERS)
"""Names of all files of the contract: what a plan folder may hold."""

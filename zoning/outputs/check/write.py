"""Write a check: every file of the contract, or none."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from zoning.errors import OutputFailed
from zoning.model.check import Check
from zoning.outputs.check.file import MARK, geojson_text, verify_check_file, write_check_file
from zoning.outputs.check.page import check_page
from zoning.outputs.check.rows import check_zone_rows
from zoning.outputs.columns import table_schema
from zoning.outputs.csvw import description
from zoning.outputs.plain import write_text
from zoning.outputs.publish import check_target, staged
from zoning.outputs.tables import check_table, write_table

CSV = "check.csv"


def _csv(check: Check, path: Path) -> None:
    rows, schema = check_zone_rows(check), table_schema("check_zones")
    write_table(rows, schema, path)
    check_table(rows, schema, path)


def _text(make: Callable[[Check], str]) -> Callable[[Check, Path], None]:
    def write(check: Check, path: Path) -> None:
        text = make(check)
        write_text(path, text)
        if path.read_text(encoding="utf-8") != text:
            raise OutputFailed(f"{path.name} did not read back as written.")

    return write


def _description(check: Check) -> str:
    schema = table_schema("check_zones")
    return description(schema, {column.name for column in schema.columns}, CSV, check.plan_id)


def _document(check: Check, path: Path) -> None:
    write_check_file(check, path)
    verify_check_file(check, path)


CHECK_WRITERS: Mapping[str, Callable[[Check, Path], None]] = MappingProxyType(
    {
        CSV: _csv,
        f"{CSV}-metadata.json": _text(_description),
        "check.geojson": _text(geojson_text),
        "map.html": _text(check_page),
        # Last, because it lists the others with their hashes.
        MARK: _document,
    }
)
"""Every file of a check, by name, in the order of writing; each is read back and compared."""


def refuse_foreign_check(folder: Path) -> None:
    """Refuse a folder that `write_check` would refuse; to be called before long work."""
    check_target(folder, set(CHECK_WRITERS), MARK)


def write_check(
    check: Check, folder: Path, *, progress: Callable[[str], None] | None = None
) -> tuple[Path, ...]:
    """Write `check` to `folder`, whole or not at all, and return the paths.

    Raises
    ------
    OutputFailed
        If anything could not be written or did not read back as written; the folder is as before.
    """
    with staged(folder, set(CHECK_WRITERS), MARK) as new:
        for name, write in CHECK_WRITERS.items():
            if progress is not None:
                progress(name)
            _write_one(check, new / name, write)
    return tuple(folder / name for name in CHECK_WRITERS)


def _write_one(check: Check, path: Path, write: Callable[[Check, Path], None]) -> None:
    try:
        write(check, path)
    except OutputFailed:
        raise
    except Exception as fault:
        # Drivers fail in many ways, and a damaged file may read back as anything.
        why = " ".join(str(fault).split()).rstrip(".")
        raise OutputFailed(f"{path.name} was not written: {why}. No file is changed.") from fault

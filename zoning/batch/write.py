"""The tables of a batch and their page: ``batch.csv, .parquet, .geojson`` and ``batch.html``.

Each is written beside its place, flushed and renamed, so that it is always whole. The parquet file
is GeoParquet 1.1 with the outlines as WKB in longitude and latitude.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Sequence
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pandas as pd
import shapely

from zoning.batch.job import Outcome, PlanFacts
from zoning.batch.overview import overview_html
from zoning.batch.remote import is_address
from zoning.errors import OutputFailed
from zoning.outputs.columns import table_schema
from zoning.outputs.places import decimals
from zoning.outputs.plain import write_text
from zoning.outputs.tables import check_table, write_table

TABLE = "batch"
NAMES = ("batch.csv", "batch.parquet", "batch.geojson", "batch.html")
_FACTS = tuple(f.name for f in fields(PlanFacts) if f.name != "outline_wkb")


def check_batch_target(folder: Path) -> None:
    """Refuse a folder whose ``batch.csv`` is not one of ours, before any work is done.

    Raises
    ------
    OutputFailed
        If a file that is not the table of a batch would be lost.
    """
    path = folder / NAMES[0]
    if folder.exists() and not folder.is_dir():
        raise OutputFailed(f"{folder} is not a folder. Name another with --out.")
    others = [name for name in NAMES if (folder / name).exists()]
    if not others:
        return
    header = ",".join(column.name for column in table_schema(TABLE).columns)
    try:
        found = path.read_text(encoding="utf-8").partition("\n")[0].strip()
    except (OSError, UnicodeDecodeError):
        found = ""
    if not set(found.split(",")) >= {"field", "status", "error"}:
        raise OutputFailed(
            f"{folder} holds {others[0]}, which is not the table of a batch ({header}). "
            "Move it elsewhere or name another folder with --out."
        )


def write_batch(outcomes: Sequence[Outcome], folder: Path) -> tuple[Path, ...]:
    """Write the tables of `outcomes` and their page into `folder` and return the paths.

    Raises
    ------
    zoning.errors.OutputFailed
        If a file cannot be written or does not read back.
    """
    frame = frame_of(outcomes, folder)
    outlines = [o.facts.outline_wkb if o.facts is not None else None for o in outcomes]
    makers: dict[str, Callable[[Path], None]] = {
        "batch.csv": lambda path: _write_csv(frame, path),
        "batch.parquet": lambda path: _write_parquet(frame, outlines, path),
        "batch.geojson": lambda path: _write_geojson(frame, outlines, path),
        "batch.html": lambda path: _write_overview(frame, outlines, path),
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, make in makers.items():
            _publish(folder / name, make)
    except OSError as fault:
        raise OutputFailed(
            f"{folder}: the tables could not be written: {fault.strerror or fault}."
        ) from fault
    return tuple(folder / name for name in makers)


def frame_of(outcomes: Sequence[Outcome], folder: Path) -> pd.DataFrame:
    """Return a row an outcome, with the columns of ``shared/schemas/batch.schema.json``."""
    rows = [_row(outcome, folder) for outcome in outcomes]
    columns = [column.name for column in table_schema(TABLE).columns]
    return pd.DataFrame(rows, columns=columns, dtype=object)


def _row(outcome: Outcome, folder: Path) -> dict[str, object]:
    facts = {} if outcome.facts is None else asdict(outcome.facts)
    return {
        "field": outcome.field,
        "status": outcome.status,
        **{name: facts.get(name) for name in _FACTS},
        "map": _link(outcome, folder),
        "seconds": outcome.seconds,
        "peak_memory_mb": outcome.peak_memory_mb,
        "error": outcome.error,
    }


def _link(outcome: Outcome, folder: Path) -> str:
    """Return where the map page of the plan lies, relative to `folder`; empty without a plan."""
    if outcome.facts is None:
        return ""
    if is_address(outcome.field):
        return f"{outcome.field}/plan/map.html"
    page = Path(outcome.field).resolve() / "plan" / "map.html"
    try:
        return quote(Path(os.path.relpath(page, folder.resolve())).as_posix())
    except ValueError:  # another drive
        return page.as_uri()


def _publish(path: Path, make: Callable[[Path], None]) -> None:
    new = path.with_name(f".{path.name}.zoning-new")
    try:
        make(new)
        with new.open("rb+") as stream:
            os.fsync(stream.fileno())
        new.replace(path)
    finally:
        new.unlink(missing_ok=True)


def _write_csv(frame: pd.DataFrame, path: Path) -> None:
    schema = table_schema(TABLE)
    write_table(frame, schema, path)
    check_table(frame, schema, path)


def _write_parquet(frame: pd.DataFrame, outlines: Sequence[bytes | None], path: Path) -> None:
    import fastparquet  # noqa: PLC0415 - a worker never needs it

    typed = pd.DataFrame(index=frame.index)
    for column in table_schema(TABLE).columns:
        values = frame[column.name]
        if column.kind == "string":
            typed[column.name] = values.map(_text).astype(object)
        elif column.kind == "integer":
            typed[column.name] = values.astype("Int64")
        else:
            typed[column.name] = values.astype("float64")
    typed["geometry"] = pd.Series(list(outlines), index=frame.index, dtype=object)
    encoding = {
        name: "bytes" if name == "geometry" else "utf8"
        for name in typed.columns
        if typed[name].dtype == object
    }
    fastparquet.write(
        str(path), typed, object_encoding=encoding, write_index=False, stats=True,
        custom_metadata={"geo": json.dumps(_geo(outlines), sort_keys=True)},
    )  # fmt: skip
    if fastparquet.ParquetFile(str(path)).count() != len(frame):
        raise OutputFailed(f"{path.name} did not read back with the rows that were written.")


def _text(value: object) -> str:
    return "" if value is None else str(value)


def _geo(outlines: Sequence[bytes | None]) -> dict[str, Any]:
    """Return the metadata of GeoParquet 1.1: coordinates are longitude, latitude (OGC:CRS84)."""
    shapes = shapely.from_wkb([outline for outline in outlines if outline is not None])
    column: dict[str, Any] = {
        "encoding": "WKB",
        "geometry_types": sorted({shape.geom_type for shape in shapes}),
        "orientation": "counterclockwise",
    }
    if len(shapes):
        column["bbox"] = [float(v) for v in shapely.total_bounds(shapes)]
    return {"version": "1.1.0", "primary_column": "geometry", "columns": {"geometry": column}}


def _write_geojson(frame: pd.DataFrame, outlines: Sequence[bytes | None], path: Path) -> None:
    features = []
    for row, outline in zip(frame.to_dict("records"), outlines, strict=True):
        shape = None
        if outline is not None:
            shape = _rounded(json.loads(shapely.to_geojson(shapely.from_wkb(outline))))
        properties = {str(k): None if pd.isna(v) else v for k, v in row.items()}
        features.append({"type": "Feature", "properties": properties, "geometry": shape})
    lines = ",\n".join(json.dumps(f, ensure_ascii=False, allow_nan=False) for f in features)
    text = '{"type": "FeatureCollection", "features": [\n' + lines + "\n]}\n"
    path.write_bytes(text.encode("utf-8"))
    if len(json.loads(path.read_text(encoding="utf-8"))["features"]) != len(frame):
        raise OutputFailed(f"{path.name} did not read back with the rows that were written.")


def _write_overview(frame: pd.DataFrame, outlines: Sequence[bytes | None], path: Path) -> None:
    rows = [{str(k): v for k, v in row.items()} for row in frame.to_dict("records")]
    text = overview_html(rows, outlines)
    write_text(path, text)
    if path.read_text(encoding="utf-8") != text:
        raise OutputFailed(f"{path.name} did not read back as written.")


def _rounded(shape: Any) -> Any:
    if isinstance(shape, dict):
        return {key: _rounded(value) for key, value in shape.items()}
    if isinstance(shape, list):
        return [_rounded(value) for value in shape]
    return round(shape, decimals()) + 0.0 if isinstance(shape, float) else shape

"""Taking the record along: everything as CSV, the pits as a field's files, the file itself."""

from __future__ import annotations

import csv
import io
import tempfile
import zipfile
from pathlib import Path

from flask import Flask, Response, render_template

from zoning.outputs.tables import guarded
from zoning.records import BODIES, Pit, copy_record, table_text
from zoning.review.desk import Desk
from zoning.review.forms import shown

PIT_COLUMNS = (
    "pit", "date", "phase", "lon", "lat", "part", "pan", "pan_top_cm", "pan_base_cm",
    "structure_score", "moisture", "loosened_at_leg_cm", "loosened_between_cm", "speed_km_h",
    "photo", "note",
)  # fmt: skip


def register(app: Flask, desk: Desk) -> None:
    """Add the downloads to `app`."""

    @app.get("/export")
    def export() -> str:
        counts = [(kind.TABLE, len(desk.record.everything(kind))) for kind in BODIES]
        named = [file.name for file in desk.inputs.files if file.role == "pits"]
        return render_template("export.html", counts=counts, named=named)

    @app.get("/export/pits.csv")
    def pits_file() -> Response:
        return _sent(pits_csv(desk).encode("utf-8"), "pits.csv", "text/csv")

    @app.get("/export/record.zip")
    def rows_file() -> Response:
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
            for kind in BODIES:
                text = table_text(kind, desk.record.everything(kind))
                packed.writestr(f"record/{kind.TABLE}.csv", text.encode("utf-8"))
        return _sent(stream.getvalue(), "record.zip", "application/zip")

    @app.get("/export/records.gpkg")
    def record_file() -> Response:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "records.gpkg"
            copy_record(desk.record, path)
            data = path.read_bytes()
        return _sent(data, "records.gpkg", "application/geopackage+sqlite3")


def pits_csv(desk: Desk) -> str:
    """Return the standing pits of the season as ``pits.csv`` of a field folder."""
    entries = desk.record.latest(Pit, season=desk.season, withdrawn="")
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(PIT_COLUMNS)
    for pit in sorted((e.body for e in entries), key=lambda p: (p.phase != "before", p.pit)):
        writer.writerow([_cell(getattr(pit, name)) for name in PIT_COLUMNS])
    return stream.getvalue()


def _cell(value: object) -> str:
    return guarded(value) if isinstance(value, str) else shown(value)


def _sent(data: bytes, name: str, media_type: str) -> Response:
    answer = Response(data, mimetype=media_type)
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer

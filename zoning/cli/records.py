"""``zoning records``: the season record as open CSV and back, and whether it is sound."""

from __future__ import annotations

from pathlib import Path

import click

from zoning.cli.guard import refusing
from zoning.outputs.fingerprint import short_id


@click.group("records", epilog="Example: zoning records export my_field --out rows")
def command() -> None:
    """Check the season record of a field, write it as open CSV, or read it back.

    The record is the file records.gpkg in the field folder: pits, stations, photos, trial runs,
    plans, checks and reviews, every version of each. zoning plan, check and review write to it;
    nothing in it is ever changed or deleted.
    """


@command.command(
    "export",
    short_help="Write the record as open CSV.",
    epilog="Example: zoning records export my_field --out rows",
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="A new folder; default FOLDER/record.")
@click.option("--rescue", is_flag=True, help="From a damaged record: every row that still reads.")
@refusing
def export(*, folder: Path, out: Path | None, rescue: bool) -> None:
    """Write every version of every entry of FOLDER's record as CSV, one table a file."""
    from zoning import records
    from zoning.errors import printable

    tables = records.rescued(folder) if rescue else records.everything(folder)
    target = out if out is not None else folder / "record"
    records.export_folder(tables, target)
    count = sum(len(entries) for entries in tables.values())
    click.echo(f"{_rows(count)} in {len(tables)} tables written to {target}")
    paths = {entry.body.path for entry in tables[records.Photo]}
    own = sorted(path for path in paths if not path.startswith(f"{records.PHOTOS}/"))
    beside = [records.PHOTOS] if len(own) < len(paths) else []
    if paths:
        told = printable(", ".join(str(folder / path) for path in (*beside, *own)))
        click.echo(f"Photos are files of their own: take {told} along too.")


@command.command(
    "import",
    short_help="Add the rows of an export.",
    epilog="Example: zoning records import my_field rows",
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.argument("rows", type=click.Path(path_type=Path))
@refusing
def bring_in(*, folder: Path, rows: Path) -> None:
    """Add the rows of an export in ROWS to FOLDER's record; rows that it holds are passed over."""
    from zoning import records

    added = records.import_folder(records.open_record(folder), rows)
    click.echo(f"{_rows(added)} added to {folder / records.NAME}")


@command.command(
    "check",
    short_help="Check every row of the record.",
    epilog="Example: zoning records check my_field",
)
@click.argument("folder", type=click.Path(path_type=Path))
@refusing
def check(*, folder: Path) -> None:
    """Check structure, every row and every photo of FOLDER's record; nothing is changed.

    Pits that a check names and the record does not hold are told.
    """
    from zoning import records
    from zoning.errors import printable

    record = records.open_record(folder, begin=False)
    for kind in records.BODIES:
        click.echo(f"{kind.TABLE}: {_rows(len(record.everything(kind)))}, sound")
    photos = [entry.body for entry in record.latest(records.Photo, withdrawn="")]
    for photo in photos:
        if records.photo_file(folder, photo.path, photo.sha256) is None:
            click.echo(f"{folder / photo.path} is gone or was changed: put a copy back.")
    for judged, names in records.pits_not_held(record):
        told = f"The check kept on {judged.recorded_at[:10]} (plan {short_id(judged.body.plan_id)})"
        click.echo(
            printable(
                f"{told} names pits that the record does not hold: {', '.join(names)}. {_AGAIN}"
            )
        )


_AGAIN = "Run 'zoning check' again while pits.csv has them, or enter them on the review page."


def _rows(count: int) -> str:
    return f"{count} row{'' if count == 1 else 's'}"

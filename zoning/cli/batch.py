"""``zoning batch``: many field folders in, a plan each and three tables out."""

from __future__ import annotations

from pathlib import Path

import click

from zoning.cli.guard import refusing

SOME_FAILED = 3


@click.command(
    "batch",
    epilog="Example: zoning batch farm_a 'farm_b/*' more_fields.txt --out season_2026",
)
@click.argument("fields", nargs=-1, required=True, metavar="FOLDER...")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path(),
    help="Folder for the tables batch.* of all fields; default: here.",
)
@click.option(
    "--by", default="", metavar="NAME", help="Who gives the plans out, for the season records."
)
@click.option("--again", is_flag=True, help="Plan anew what is planned from the same inputs.")
@click.option(
    "--processes",
    type=click.IntRange(1, 256),
    metavar="N",
    help="Fields at work at once on this machine; default 2.",
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="A cluster instead: address of its dask scheduler, such as tcp://10.0.0.5:8786.",
)
@click.option("--share-covariance", is_flag=True, help="Let fields of one farm help each other.")
@click.option("--quiet", is_flag=True, help="Print nothing but faults.")
@refusing
def command(
    *,
    fields: tuple[str, ...],
    out: Path,
    by: str,
    again: bool,
    processes: int | None,
    scheduler: str | None,
    share_covariance: bool,
    quiet: bool,
) -> None:
    """Plan every field of each FOLDER, and say in tables what became of each.

    FOLDER is a field folder, a folder with field folders below it, a pattern in quotes, a text file
    that names one of these a line, or an address such as s3://bucket/farm, of any kind that the
    library fsspec knows. A field that fails is listed and stops no other. A plan made from the same
    inputs by the same version is kept, so a batch that was interrupted goes on where it stopped.

    Each plan is given out, as with zoning plan: it stands in FOLDER/plan and in the season record,
    FOLDER/records.gpkg. That of a field behind an address is sent there and stands in no record.

    With --share-covariance the fields that stand in the same folder, a farm, lend each other what
    they say of how the pan varies and how deep it lies in each part; fields with few stations gain.

    Exit status: 0 all fields have a plan, 1 the command is refused, 2 wrong usage, 3 some fields
    have none.
    """
    from zoning import batch
    from zoning.cli.batch_progress import account, shown

    batch.check_batch_target(out)
    found = batch.find_fields(fields)
    jobs = batch.jobs_for(found, again=again, by_whom=by)
    engine = batch.engine_for(scheduler, processes)
    if share_covariance:
        jobs = batch.with_shared_priors(jobs, engine)
    with shown(len(jobs), quiet=quiet) as heard:
        outcomes = batch.run_batch(jobs, engine, heard=heard)
    written = batch.write_batch(outcomes, out)
    if not quiet:
        click.echo(account(outcomes, written))
    if any(outcome.status not in batch.DONE for outcome in outcomes):
        raise click.exceptions.Exit(SOME_FAILED)

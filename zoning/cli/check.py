"""``zoning check``: pits dug behind the machine in, a judgement of the work out."""

from __future__ import annotations

from pathlib import Path

import click

from zoning.cli.guard import refusing

_DRAFT = "A draft: not kept in the season record, since it was written elsewhere than FOLDER/check."


@click.command("check", epilog="Example: zoning check my_field --plan my_field/plan")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--plan",
    "plan_folder",
    type=click.Path(path_type=Path),
    help="The plan that was worked to; default FOLDER/plan.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="Where to write; default FOLDER/check."
)
@click.option("--quiet", is_flag=True, help="Print nothing but faults.")
@refusing
def command(*, folder: Path, plan_folder: Path | None, out: Path | None, quiet: bool) -> None:
    """Judge the work on FOLDER by the pits of phase 'after' and the cone readings taken after it.

    Says for each zone and depth whether the pan was passed at the leg and between legs, how sure
    that is, how many more pits are needed and where, and what to change, the least costly first.
    A pit needs its place, phase 'after', loosened_at_leg_cm, loosened_between_cm and speed_km_h.
    Trial runs (trials.csv) give the ridge, the ground left unloosened between two legs, that the
    next plan allows for.

    A check in FOLDER/check is kept in the season record, the file FOLDER/records.gpkg. One written
    elsewhere is a draft.
    """
    from zoning import workflow
    from zoning.cli.check_summary import check_summary
    from zoning.cli.progress import steps_shown
    from zoning.errors import printable
    from zoning.workflow.season_dates import future_notices

    target = out if out is not None else folder / "check"
    draft = target.resolve() != (folder / "check").resolve()
    with steps_shown(quiet=quiet) as progress:
        workflow.check_check_target(target)
        check = workflow.check_work(folder, plan_folder, progress=progress)
        written = workflow.write_check(check, target, progress=progress)
        told = future_notices(check.inputs)
        if not draft:
            from zoning.workflow.records import record_check

            progress("keeping the check in the season record")
            told = record_check(folder, check)
    if not quiet:
        click.echo(check_summary(check, written, target))
        if draft:
            click.echo(_DRAFT)
    for notice in told:
        click.echo(printable(f"{notice.level.capitalize()}: {notice.text}"), err=True)

"""``zoning plan``: a field folder in, a plan folder out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from zoning.cli.guard import refusing

if TYPE_CHECKING:
    from zoning.model import Notice


@click.command(
    "plan",
    epilog="Example: zoning plan sample_data/teasel_piece --out teasel_plan",
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Where to write; default FOLDER/plan.")
@click.option(
    "--by", default="", metavar="NAME", help="Who gives the plan out, for the season record."
)
@click.option("--quiet", is_flag=True, help="Print nothing but faults.")
@refusing
def command(*, folder: Path, out: Path | None, by: str, quiet: bool) -> None:
    """Turn the readings and the boundary in FOLDER into working depths, zones and passes.

    FOLDER holds field.toml and the files it names. A zone is ground worked at one depth, a pass one
    run of the machine across the field. The plan is written whole or not at all; an earlier plan in
    the same place is replaced only when the new one is complete.

    A plan in FOLDER/plan, or any plan with --by, is given out: it is kept in the season record,
    the file FOLDER/records.gpkg. One written elsewhere without --by is a draft.
    """
    from zoning import workflow
    from zoning.cli.progress import steps_shown
    from zoning.cli.summary import summary
    from zoning.errors import printable
    from zoning.workflow.season_dates import future_notices

    target = out if out is not None else folder / "plan"
    with steps_shown(quiet=quiet) as progress:
        beside = workflow.check_target(target)
        inputs = workflow.read_field(folder, progress=progress)
        plan = workflow.make_plan(inputs, progress=progress)
        written = workflow.write_plan(plan, target, progress=progress)
        told: tuple[Notice, ...] = future_notices(plan)
        if by or target.resolve() == (folder / "plan").resolve():
            from zoning.workflow.records import record_plan

            progress("keeping the plan in the season record")
            told = record_plan(folder, plan, trials=inputs.trials, by_whom=by)
    if not quiet:
        click.echo(summary(plan, written, target))
        if beside:
            names = printable(", ".join(beside))
            click.echo(f"Gone with the earlier plan, whose files another program read: {names}")
    for notice in told:
        click.echo(printable(f"{notice.level.capitalize()}: {notice.text}"), err=True)

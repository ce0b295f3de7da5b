"""``zoning verify``: a plan folder read back and compared."""

from __future__ import annotations

from pathlib import Path

import click

from zoning.cli.guard import refusing
from zoning.outputs.fingerprint import short_id


@click.command(
    "verify",
    epilog="Example: zoning verify teasel_plan --sent stick/depth_grid_1a2b3c4d.csv",
)
@click.argument("plan_folder", type=click.Path(path_type=Path))
@click.option(
    "--field", type=click.Path(path_type=Path), help="Compare with this field folder too."
)
@click.option(
    "--sent",
    type=click.Path(path_type=Path),
    multiple=True,
    metavar="FILE",
    help="Compare this copy of a file of the plan, whatever its name; may be given again.",
)
@click.option("--quiet", is_flag=True, help="Print nothing but faults.")
@refusing
def command(*, plan_folder: Path, field: Path | None, sent: tuple[Path, ...], quiet: bool) -> None:
    """Read every file of the plan in PLAN_FOLDER back and say what differs.

    Each file is compared with its hash (the check sum of its bytes that plan.json keeps), with the
    number of the plan, and zone by zone and place by place with the others; the depths are held
    against the steps of the machine and the hazards.
    With --field the plan is held against the field folder as it is now, and with --sent a file that
    was sent, or came back, against the plan's own: is it the same, which cells differ, which plan
    is it of. Where PLAN_FOLDER is a farm, the plan that the file is of is looked for below it.
    Nothing is written.
    """
    from zoning import workflow
    from zoning.cli.progress import steps_shown
    from zoning.errors import InputRefused, printable

    with steps_shown(quiet=quiet) as progress:
        verified = workflow.verify_plan(plan_folder, field, sent=sent, progress=progress)
    if not quiet:
        if not verified.faults:
            click.echo(
                f"Plan {short_id(verified.plan_id)} of {verified.field}: {verified.files} files "
                f"and {verified.zones} zones agree with each other and with the number of the plan."
            )
        for note in verified.notes:
            click.echo(printable(note))
    if verified.faults:
        raise InputRefused(verified.faults)

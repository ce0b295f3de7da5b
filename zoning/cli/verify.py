"""``zoning verify``: a plan folder read back and compared."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from zoning.cli.guard import refusing
from zoning.outputs.fingerprint import short_id

if TYPE_CHECKING:
    from zoning.errors import Fault
    from zoning.model.verified import Verified


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
    is it of. Where PLAN_FOLDER is a farm, the plan that each file is of is looked for below it.
    Nothing is written.
    """
    from zoning import workflow
    from zoning.cli.progress import steps_shown
    from zoning.errors import ZoningError, printable

    with steps_shown(quiet=quiet) as progress:
        plans, lost = workflow.verify_plans(plan_folder, field, sent=sent, progress=progress)
    if not quiet:
        for line in _told(plans):
            click.echo(printable(line))
    refused = list(_refused(plans, lost))
    if refused:
        raise ZoningError("\n".join(refused))


def _told(plans: Sequence[Verified]) -> Iterator[str]:
    """Yield what agrees and what is noted, plan by plan; a plan that differs is headed among more.

    What is not cleared comes last of each.
    """
    for plan in plans:
        if not plan.faults:
            yield (
                f"{_head(plan)}: {plan.files} files and {plan.zones} zones agree with each other "
                "and with the number of the plan."
            )
        elif len(plans) > 1:
            yield f"{_head(plan)}:"
        yield from plan.notes
        if plan.not_cleared:
            yield plan.not_cleared


def _refused(plans: Sequence[Verified], lost: Sequence[Fault]) -> Iterator[str]:
    """Yield which files are of no plan, then what differs, headed by the plan among several."""
    yield from map(str, lost)
    for plan in plans:
        if plan.faults and len(plans) > 1:
            yield f"{_head(plan)}:"
        yield from map(str, plan.faults)


def _head(plan: Verified) -> str:
    return f"Plan {short_id(plan.plan_id)} of {plan.field}"

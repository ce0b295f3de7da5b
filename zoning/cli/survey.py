"""``zoning survey``: where to probe and dig, first or next."""

from __future__ import annotations

from pathlib import Path

import click

from zoning.cli.guard import refusing


@click.command(
    "survey",
    epilog="Example: zoning survey sample_data/teasel_piece --stations 12 --out teasel_survey",
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--stations", type=click.IntRange(1, 1000), metavar="N", help="How many stations to propose."
)
@click.option(
    "--precision",
    type=click.FloatRange(0.1, 20),
    metavar="CM",
    help="As many as give the mean pan base to within so many centimetres.",
)
@click.option(
    "--station-cost",
    type=click.FloatRange(0, min_open=True),
    metavar="MONEY",
    help="Leave out stations worth less than this, in the currency of [costs].",
)
@click.option(
    "--seed",
    type=click.IntRange(0, 2**31),
    metavar="N",
    default=1,
    show_default=True,
    help="Another number draws other places as good; the same one the same places.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="Where to write; default FOLDER/survey."
)
@click.option("--quiet", is_flag=True, help="Print nothing but faults.")
@refusing
def command(
    *,
    folder: Path,
    stations: int | None,
    precision: float | None,
    station_cost: float | None,
    seed: int,
    out: Path | None,
    quiet: bool,
) -> None:
    """Say where to probe and dig in the field of FOLDER.

    Without readings the stations are spread over the parts of the field. With readings they go
    where one more station is expected to improve the plan most. The forms that are written can be
    filled in and read back.
    """
    if (stations is None) == (precision is None):
        raise click.UsageError(
            "Say how many, as --stations 20, or how precise, as --precision 2: one of them."
        )
    from zoning import workflow
    from zoning.cli.progress import steps_shown
    from zoning.cli.survey_summary import survey_summary

    target = out if out is not None else folder / "survey"
    wish = workflow.Wish(stations, precision, station_cost, seed)
    with steps_shown(quiet=quiet) as progress:
        workflow.check_survey_target(target)
        inputs = workflow.read_for_survey(folder, progress=progress)
        proposed = workflow.propose_stations(inputs, wish, progress=progress)
        written = workflow.write_survey(proposed, target, progress=progress)
    if not quiet:
        click.echo(survey_summary(proposed, written, target))

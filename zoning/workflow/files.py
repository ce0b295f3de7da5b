"""From a folder to inputs, from a plan to a folder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from zoning import outputs, readings
from zoning.model import FieldInputs, Plan
from zoning.workflow.issued import after_notices
from zoning.workflow.progress import Progress, silent
from zoning.workflow.season_dates import season_notices, season_of
from zoning.workflow.standing import runs_left, standing_stops


def read_field(folder: str | Path, *, progress: Progress = silent) -> FieldInputs:
    """Read and check a field folder; what its season record tells with a plan comes with it.

    Parameters
    ----------
    folder
        Folder with ``field.toml`` and the files it names.
    progress
        Called with the name of each step.

    Raises
    ------
    zoning.errors.InputRefused
        With every fault of the files.
    """
    progress("reading the field folder")
    inputs = readings.read_field(Path(folder))
    stops = standing_stops(Path(folder), season_of(inputs))
    told = (
        *stops,
        *runs_left(Path(folder), inputs),
        *after_notices(inputs.pits, trial_runs=not inputs.trials.empty),
        *season_notices(inputs),
    )
    return replace(inputs, notices=(*inputs.notices, *told))


def check_target(folder: str | Path) -> tuple[str, ...]:
    """Refuse a folder that holds anything but a plan, before any work is done.

    Returns
    -------
    tuple of str
        Files that other programs made from those of an earlier plan; they go with it.

    Raises
    ------
    zoning.errors.OutputFailed
        If the folder is not empty and not a plan.
    """
    return outputs.refuse_foreign(Path(folder))


def write_plan(plan: Plan, folder: str | Path, *, progress: Progress = silent) -> tuple[Path, ...]:
    """Write every file of `plan` into `folder`, whole or not at all, and return their paths.

    Raises
    ------
    zoning.errors.OutputFailed
        If a file cannot be written or does not read back as written; an earlier plan stays.
    """
    return outputs.write_plan(plan, Path(folder), progress=lambda name: progress(f"writing {name}"))

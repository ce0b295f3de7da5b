"""Plan one field and say what became of it, whatever happens.

The task gives the same files however often it runs: a plan folder appears whole or not at all, and
the same inputs give the same bytes. So a worker may die in the middle and another begin again.
"""

from __future__ import annotations

import traceback
from dataclasses import dataclass
from pathlib import Path

from zoning import workflow
from zoning.batch.job import Job, Outcome, Status
from zoning.batch.kept import facts_of, up_to_date
from zoning.batch.measure import Meter
from zoning.batch.remote import copied_here, is_address
from zoning.contracts import program_version
from zoning.errors import OutputFailed, ZoningError, printable
from zoning.model import Notice
from zoning.outputs.typeset import forget_pages
from zoning.workflow.records import is_given_out, record_plan, why_not_kept
from zoning.workflow.season_dates import future_notices


def plan_field(job: Job) -> Outcome:
    """Do what `job` asks and return what became of its field; no fault of a field is raised."""
    here = program_version()
    if here != job.version:
        what = f"The worker has version {here}, the batch {job.version}: install the same."
        return Outcome(job.field, "failed", what)
    meter = Meter()
    try:
        if is_address(job.field):
            return _planned_elsewhere(job, meter)
        return _planned(job, Path(job.field), meter)
    except OutputFailed as fault:
        return _without_plan(job, "failed", str(fault), meter)
    except ZoningError as refusal:
        return _without_plan(job, "refused", str(refusal), meter)
    except Exception as fault:  # noqa: BLE001 - one field must never stop the others
        where = traceback.extract_tb(fault.__traceback__)[-1]
        told = f"{type(fault).__name__} at {Path(where.filename).name}:{where.lineno}: {fault}"
        return _without_plan(job, "failed", told, meter)


def _planned(job: Job, folder: Path, meter: Meter) -> Outcome:
    if job.purpose == "evidence":
        return _evidence(job, folder)
    target = folder / "plan"
    if not job.again and up_to_date(folder, job):
        facts = facts_of(target)
        given_out = is_given_out(folder, facts.plan_id, job.by_whom)
        told = () if given_out else why_not_kept(folder, workflow.read_field(folder))
        if given_out or told:  # planned anew it would be kept no more than now
            return Outcome(job.field, "kept", facts=facts, told=_lines(told))
    made = make(job, folder, given_out=True)
    return Outcome(
        job.field, "planned", "", facts_of(target), meter.seconds(), meter.peak_memory_mb(),
        gone=made.gone, told=made.told,
    )  # fmt: skip


def _planned_elsewhere(job: Job, meter: Meter) -> Outcome:
    with copied_here(job.field) as copy:
        if job.purpose == "evidence":
            return _evidence(job, copy.folder)
        if not job.again and up_to_date(copy.folder, job, copy.left_there):
            return Outcome(job.field, "kept", facts=facts_of(copy.folder / "plan"))
        made = make(job, copy.folder, given_out=False)
        copy.send_plan()
        facts = facts_of(copy.folder / "plan")
    return Outcome(
        job.field, "planned", "", facts, meter.seconds(), meter.peak_memory_mb(), told=made.told
    )


def _evidence(job: Job, folder: Path) -> Outcome:
    found = workflow.evidence_of(workflow.read_field(folder))
    return Outcome(job.field, "planned", evidence=found)


@dataclass(frozen=True, slots=True)
class Made:
    """What a new plan took with it, and what must be told: fields as of `Outcome`."""

    gone: tuple[str, ...]
    told: tuple[str, ...]


def make(job: Job, folder: Path, *, given_out: bool) -> Made:
    """Plan the field of `job`, which is in `folder`, into ``folder/plan``.

    A plan that is `given_out` is kept in the season record of `folder`; a record that cannot be
    written is told and costs no plan.
    """
    target = folder / "plan"
    beside = workflow.check_target(target)
    inputs = workflow.read_field(folder)
    plan = workflow.make_plan(inputs, shared=job.shared)
    workflow.write_plan(plan, target)
    forget_pages()  # no page of this field is of use to the next
    told = future_notices(plan)
    if given_out:
        told = record_plan(folder, plan, trials=inputs.trials, by_whom=job.by_whom)
    return Made(beside, _lines(told))


def _lines(told: tuple[Notice, ...]) -> tuple[str, ...]:
    return tuple(f"{each.level.capitalize()}: {each.text}" for each in told)


def _without_plan(job: Job, status: Status, why: str, meter: Meter) -> Outcome:
    told = " | ".join(line.strip() for line in printable(why).splitlines() if line.strip())
    if not is_address(job.field) and (Path(job.field) / "plan").exists():
        told += " | The folder plan is of an earlier run and does not belong to this outcome."
    return Outcome(job.field, status, told, None, meter.seconds(), meter.peak_memory_mb())

"""A batch from fields to outcomes, whatever plans them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from zoning.batch.job import Job, Outcome
from zoning.contracts import program_version

Engine = Callable[[Sequence[Job]], Iterator[Outcome]]


def jobs_for(fields: Iterable[str], *, again: bool = False, by_whom: str = "") -> tuple[Job, ...]:
    """Return a job for each field, of this program's version; see `Job`."""
    here = program_version()
    return tuple(Job(field, here, again, by_whom=by_whom) for field in fields)


def run_batch(
    jobs: Sequence[Job], engine: Engine, *, heard: Callable[[Outcome], None] | None = None
) -> tuple[Outcome, ...]:
    """Plan every job and return the outcomes, a field each, sorted by field.

    Parameters
    ----------
    jobs
        Fields to plan.
    engine
        Plans them and yields each outcome as it comes: `on_this_machine` or `on_cluster`.
    heard
        Called with each outcome as it comes.

    Notes
    -----
    Interrupted from the keyboard, the fields that were not finished are listed as ``not_done``;
    what was finished is on the disk, and the same batch goes on from there.
    """
    outcomes = {job.field: Outcome(job.field, "not_done", NOT_DONE) for job in jobs}
    coming = engine(jobs)
    try:
        for outcome in coming:
            outcomes[outcome.field] = outcome
            if heard is not None:
                heard(outcome)
    except KeyboardInterrupt:
        pass
    finally:
        close = getattr(coming, "close", None)
        if close is not None:
            close()
    return tuple(outcomes[field] for field in sorted(outcomes))


NOT_DONE = "The batch was stopped before this field was planned; run it again to go on."

"""Fields planned by the workers of a dask cluster that exists already.

What a cluster may lose, and what is done about it:

- a worker: the scheduler gives its field to another. Every worker holds one field at a time, so the
  fields that were on a lost worker are few; one that lost two is tried once more alone, where a
  third lost worker can have no other cause, and is then set aside;
- the scheduler: only fields in flight are lost, because each plan is written by its worker as soon
  as it is made. The scheduler is waited for and what is left is handed in again;
- this program: the same batch started again keeps what is planned.

Whoever can reach a scheduler can run code on it and on its workers: it belongs on loopback, inside
a closed network, or behind TLS (``tls://``).
"""

from __future__ import annotations

import logging
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from importlib import import_module
from typing import Any

from zoning.batch.job import Job, Outcome
from zoning.batch.late import Watch
from zoning.batch.pool import Limits, too_long
from zoning.batch.rules import rule
from zoning.batch.worker import plan_alone
from zoning.errors import Fault, InputRefused

Client = Any  # of dask.distributed, which is imported where a cluster is named
Future = Any
Work = Callable[[Job], Outcome]

_PAUSE_S = 1.0


class SchedulerLost(Exception):
    """The scheduler went away; what was not finished must be handed in again."""


def on_cluster(
    jobs: Sequence[Job],
    *,
    scheduler: str,
    wait_s: float | None = None,
    limits: Limits | None = None,
    work: Work | None = None,
) -> Iterator[Outcome]:
    """Plan `jobs` on the workers of `scheduler` and yield each outcome as it comes.

    Parameters
    ----------
    jobs
        Fields to plan; each worker must reach them under the same path or address.
    scheduler
        Address, such as ``tcp://10.0.0.5:8786``.
    wait_s
        Time that a scheduler, or its first worker, is waited for [s].
    limits
        What a field may cost; `Limits.usual` where not given.
    work
        What a worker does with a job; `zoning.batch.worker.plan_alone` where not given.

    Raises
    ------
    zoning.errors.InputRefused
        If the extra ``cluster`` is missing, the scheduler does not answer at the start, or its
        workers have more than one thread.
    """
    patience = rule("scheduler_wait_s") if wait_s is None else wait_s
    allowed = limits if limits is not None else Limits.usual()
    left = {job.field: job for job in jobs}
    suspects: set[str] = set()
    started = False
    while left:
        try:
            with _quiet(), _connected(scheduler, patience) as client:
                started = True
                for outcome in _all_through(client, left, suspects, allowed, work or plan_alone):
                    del left[outcome.field]
                    yield outcome
        except SchedulerLost as lost:
            if not started:
                raise InputRefused(
                    [Fault(scheduler, f"{lost}", "Start the scheduler and its workers first.")]
                ) from lost
            if str(lost):
                yield from [Outcome(name, "not_done", str(lost)) for name in sorted(left)]
                return


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the tracebacks of a lost connection off the screen: losing one is provided for."""
    log = logging.getLogger("distributed")
    before = log.level
    log.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        log.setLevel(before)


def _all_through(
    client: Client, left: dict[str, Job], suspects: set[str], limits: Limits, work: Work
) -> Iterator[Outcome]:
    """Yield the outcomes of all of `left`; those that lost workers last, one at a time."""
    allowed = _set_allowed_failures(client, max(0, limits.strikes - 2))
    try:
        first = [job for name, job in left.items() if name not in suspects]
        for outcome in _through(client, first, limits, work, alone=False):
            if outcome.status == "set_aside":
                suspects.add(outcome.field)
            else:
                yield outcome
        if suspects:
            _set_allowed_failures(client, 0)
            alone = [left[name] for name in sorted(suspects)]
            yield from _through(client, alone, limits, work, alone=True)
    finally:
        if allowed is not None and client.status == "running":
            _set_allowed_failures(client, allowed)


def _through(
    client: Client, jobs: Iterable[Job], limits: Limits, work: Work, *, alone: bool
) -> Iterator[Outcome]:
    """Yield the outcomes of `jobs`, with as many in flight as there are workers, or one."""
    distributed = import_module("distributed")
    waiting, running = deque(jobs), dict[Any, Job]()
    coming = distributed.as_completed(loop=client.loop, raise_errors=False)
    with Watch(client, limits.seconds) as watch:
        while waiting or running:
            room = 1 if alone else max(1, len(client.nthreads()))
            while waiting and len(running) < room:
                job = waiting.popleft()
                future = client.submit(work, job, pure=False, retries=0)
                running[future.key] = job
                coming.add(future)
                watch.begin(future)
            future = next(coming)
            job = running.pop(future.key)
            late = watch.end(future)
            yield too_long(job, limits.seconds) if late else _outcome(job, future, limits.strikes)
            future.release()


def _outcome(job: Job, future: Future, strikes: int) -> Outcome:
    if future.status == "finished":
        try:
            outcome: Outcome = future.result()
        except Exception as lost:
            raise SchedulerLost from lost  # the result was on a worker that is gone
        return outcome
    fault = future.exception() if future.status == "error" else None
    if fault is None:
        raise SchedulerLost
    if type(fault).__name__ == "KilledWorker":
        what = f"It ended its worker {strikes} times, at last alone on the cluster"
        return Outcome(job.field, "set_aside", f"{what}: too little memory, or a damaged file?")
    return Outcome(job.field, "failed", f"{type(fault).__name__}: {fault}")


def _connected(scheduler: str, wait_s: float) -> Client:
    """Return a client of `scheduler` with at least one worker, waited for up to `wait_s`."""
    try:
        distributed = import_module("distributed")
    except ImportError as missing:
        what = "dask.distributed is not installed here."
        remedy = "Install it: pip install 'compaction-zoning[cluster]'."
        raise InputRefused([Fault("--scheduler", what, remedy)]) from missing
    until = time.monotonic() + wait_s
    while True:
        left_s = max(1.0, until - time.monotonic())
        try:
            client = distributed.Client(scheduler, timeout=left_s, set_as_default=False)
            return _with_workers(client, left_s)
        except (OSError, TimeoutError, ValueError) as fault:
            if time.monotonic() >= until:
                what = f"The scheduler {scheduler} did not answer with a worker in {wait_s:g} s"
                raise SchedulerLost(f"{what} ({type(fault).__name__}).") from fault
            time.sleep(_PAUSE_S)


def _with_workers(client: Client, wait_s: float) -> Client:
    """Return `client` once it has a worker, and close it if it gets none of the right kind."""
    try:
        client.wait_for_workers(1, timeout=wait_s)
        _check_threads(client)
    except BaseException:
        client.close()
        raise
    return client


def _check_threads(client: Client) -> None:
    if any(threads != 1 for threads in client.nthreads().values()):
        what = "A worker has more than one thread; the map libraries are not made for that."
        raise InputRefused([Fault("--scheduler", what, "Start workers with --nthreads 1.")])


def _set_allowed_failures(client: Client, count: int) -> int | None:
    """Set how many lost workers a task survives, and return what was set before."""

    def change(dask_scheduler: Any) -> int:
        before: int = dask_scheduler.allowed_failures
        dask_scheduler.allowed_failures = count
        return before

    try:
        return int(client.run_on_scheduler(change))
    except (OSError, TimeoutError) as lost:
        raise SchedulerLost from lost

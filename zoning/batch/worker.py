"""What a worker process does: one field after another, one thread each.

This module loads nothing numerical, so that the number of threads is set before anything is.
"""

from __future__ import annotations

import os
import signal
from multiprocessing.connection import Connection

from zoning.batch.job import Job, Outcome
from zoning.lazy import collect_seldom

ONE_THREAD = dict.fromkeys(
    (
        "OMP_NUM_THREADS",
        "OPENBLAS_NUM_THREADS",
        "MKL_NUM_THREADS",
        "RAYON_NUM_THREADS",
        "GDAL_NUM_THREADS",
    ),
    "1",
)


def plan_alone(job: Job) -> Outcome:
    """Plan one field in this process with one thread; see `zoning.batch.task.plan_field`.

    A worker of a cluster is told by its own program to use one thread of linear algebra, and here
    the rest: whatever takes a number of threads from these names takes it when it is first used.
    """
    os.environ.update(ONE_THREAD)
    from zoning.batch.task import plan_field  # noqa: PLC0415 - after the threads are set

    return plan_field(job)


def serve(jobs: Connection) -> None:
    """Plan what comes through `jobs` and send what became of it, until ``None`` comes."""
    os.environ.update(ONE_THREAD)  # before the first job, which may bring arrays along
    collect_seldom()
    # An interrupt from the keyboard reaches every process; the one that gives the jobs decides.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        while (job := jobs.recv()) is not None:
            jobs.send(plan_alone(job))
    except (EOFError, BrokenPipeError):
        return  # whoever gave the jobs is gone; every plan finished is on the disk

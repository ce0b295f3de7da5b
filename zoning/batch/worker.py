"""What a worker process does: one field after another, one thread each.

This module loads nothing numerical, so that the number of threads is set before anything is.
"""

from __future__ import annotations

import os
import signal
from multiprocessing.connection import Connection

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


def serve(jobs: Connection) -> None:
    """Plan what comes through `jobs` and send what became of it, until ``None`` comes."""
    os.environ.update(ONE_THREAD)
    # An interrupt from the keyboard reaches every process; the one that gives the jobs decides.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from zoning.batch.task import plan_field  # noqa: PLC0415 - after the threads are set

    try:
        while (job := jobs.recv()) is not None:
            jobs.send(plan_field(job))
    except (EOFError, BrokenPipeError):
        return  # whoever gave the jobs is gone; every plan finished is on the disk

"""Many fields: one office on one machine, a region on a cluster.

Names are loaded when they are first used: a worker process sets its number of threads before any
numerical library is loaded.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from zoning.lazy import loader

if TYPE_CHECKING:
    from zoning.batch.engines import engine_for
    from zoning.batch.farms import with_shared_priors
    from zoning.batch.find import find_fields
    from zoning.batch.job import DONE, Job, Outcome
    from zoning.batch.pool import Limits, on_this_machine
    from zoning.batch.run import jobs_for, run_batch
    from zoning.batch.task import plan_field
    from zoning.batch.write import check_batch_target, write_batch

_HOMES = {
    "DONE": "job",
    "Job": "job",
    "Limits": "pool",
    "Outcome": "job",
    "check_batch_target": "write",
    "engine_for": "engines",
    "find_fields": "find",
    "jobs_for": "run",
    "on_this_machine": "pool",
    "plan_field": "task",
    "run_batch": "run",
    "with_shared_priors": "farms",
    "write_batch": "write",
}

__all__ = [
    "DONE",
    "Job",
    "Limits",
    "Outcome",
    "check_batch_target",
    "engine_for",
    "find_fields",
    "jobs_for",
    "on_this_machine",
    "plan_field",
    "run_batch",
    "with_shared_priors",
    "write_batch",
]

__getattr__ = loader(__name__, _HOMES)

"""A batch from jobs to outcomes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from importlib.metadata import version

import pytest

from zoning.batch import Job, Outcome, jobs_for, run_batch
from zoning.batch.engines import engine_for
from zoning.batch.pool import on_this_machine
from zoning.batch.rules import rule
from zoning.errors import InputRefused


def backwards(jobs: Sequence[Job]) -> Iterator[Outcome]:
    for job in reversed(jobs):
        yield Outcome(job.field, "planned")


def test_outcomes_are_sorted_whatever_the_order_they_come_in() -> None:
    heard: list[str] = []
    found = run_batch(jobs_for("bca"), backwards, heard=lambda o: heard.append(o.field))
    assert [o.field for o in found] == ["a", "b", "c"]
    assert heard == ["a", "c", "b"]


def test_a_job_carries_the_version_and_whether_to_plan_again() -> None:
    (job,) = jobs_for(["a"], again=True)
    assert (job.version, job.again, job.purpose) == (version("compaction-zoning"), True, "plan")


def test_an_interrupt_keeps_what_is_done_names_the_rest_and_ends_the_workers() -> None:
    ended = []

    def interrupted(jobs: Sequence[Job]) -> Iterator[Outcome]:
        try:
            yield Outcome(jobs[0].field, "planned")
            raise KeyboardInterrupt
        finally:
            ended.append(True)

    found = run_batch(jobs_for("ab"), interrupted)
    assert [o.status for o in found] == ["planned", "not_done"]
    assert "again" in found[1].error
    assert ended == [True]


def test_an_interrupt_while_listening_ends_the_workers_too() -> None:
    ended = []

    def engine(jobs: Sequence[Job]) -> Iterator[Outcome]:
        try:
            for job in jobs:
                yield Outcome(job.field, "planned")
        finally:
            ended.append(True)

    def stop(_outcome: Outcome) -> None:
        raise KeyboardInterrupt

    found = run_batch(jobs_for("ab"), engine, heard=stop)
    assert [o.status for o in found] == ["planned", "not_done"]
    assert ended == [True]


def test_processes_of_this_machine_unless_a_scheduler_is_named() -> None:
    usual = engine_for(None, None)
    assert isinstance(usual, partial)
    assert (usual.func, usual.keywords) == (on_this_machine, {"processes": rule("processes")})
    assert engine_for(None, 7).keywords == {"processes": 7}
    assert engine_for("tcp://x:1", None).keywords == {"scheduler": "tcp://x:1"}
    with pytest.raises(InputRefused):
        engine_for("tcp://x:1", 7)

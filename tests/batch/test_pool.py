"""Worker processes: outcomes of all jobs, whatever a field does to its worker."""

from __future__ import annotations

import os
import signal
import time
from collections import Counter
from multiprocessing.connection import Connection
from pathlib import Path

import pytest

from zoning.batch import Job, Limits, Outcome, on_this_machine

QUICK = Limits(strikes=3, seconds=30.0)


def serve_toys(line: Connection) -> None:
    """Do what the name of the field says, and leave a trace of each start."""
    try:
        while (job := line.recv()) is not None:
            path = Path(job.field)
            path.parent.joinpath("starts").open("a").write(path.name + "\n")
            if path.name.startswith("deadly"):
                os.kill(os.getpid(), signal.SIGKILL)
            if path.name.startswith("frail") and not path.exists():
                path.touch()
                os._exit(7)
            if path.name.startswith("endless"):
                time.sleep(60)
            line.send(Outcome(job.field, "planned", str(os.getpid())))
    except (EOFError, BrokenPipeError):
        return


def run(folder: Path, names: list[str], processes: int, limits: Limits = QUICK) -> list[Outcome]:
    jobs = [Job(str(folder / name), "0") for name in names]
    return list(on_this_machine(jobs, processes=processes, limits=limits, work=serve_toys))


@pytest.mark.parametrize("processes", [1, 2, 5])
def test_every_job_has_one_outcome(tmp_path: Path, processes: int) -> None:
    names = ["a", "b", "c"]
    found = run(tmp_path, names, processes)
    assert sorted(Path(o.field).name for o in found) == names
    assert {o.status for o in found} == {"planned"}
    assert len({o.error for o in found}) <= processes


def test_a_deadly_field_is_set_aside_after_three_workers_and_stops_no_other(
    tmp_path: Path,
) -> None:
    found = run(tmp_path, ["a", "deadly", "b", "c"], 2)
    status = {Path(o.field).name: o.status for o in found}
    assert status == {"a": "planned", "b": "planned", "c": "planned", "deadly": "set_aside"}
    starts = Counter((tmp_path / "starts").read_text().split())
    assert starts == {"a": 1, "b": 1, "c": 1, "deadly": 3}


def test_a_field_whose_worker_died_once_is_planned_by_the_next(tmp_path: Path) -> None:
    found = run(tmp_path, ["frail"], 1)
    assert [o.status for o in found] == ["planned"]


def test_a_field_without_end_is_ended_and_named(tmp_path: Path) -> None:
    found = run(tmp_path, ["endless", "a"], 1, Limits(3, 5.0))
    status = {Path(o.field).name: o.status for o in found}
    assert status == {"endless": "failed", "a": "planned"}


def test_no_job_no_outcome(tmp_path: Path) -> None:
    assert run(tmp_path, [], 2) == []

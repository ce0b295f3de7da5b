"""A scheduler and workers of dask as processes of their own, on loopback; some are killed."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from zoning.batch import Job, Limits, Outcome
from zoning.errors import InputRefused

pytest.importorskip("distributed", reason="the extra `cluster` is not installed")

from zoning.batch.cluster import on_cluster

WAIT_S = 60.0


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Cluster:
    """A scheduler and its workers."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, free_port()
        self.address = f"tcp://127.0.0.1:{self.port}"
        self.scheduler: subprocess.Popen | None = None
        self.workers: list[subprocess.Popen] = []

    def start_scheduler(self) -> None:
        self.scheduler = self._start(
            "dask_scheduler", "--host", "127.0.0.1", "--port", str(self.port), "--no-dashboard",
            "--dashboard-address", "127.0.0.1:0",
        )  # fmt: skip

    def start_worker(self, threads: int = 1) -> None:
        """Start a worker under a nanny, which replaces it when it dies."""
        self.workers.append(
            self._start(
                "dask_worker",
                self.address,
                "--host",
                "127.0.0.1",
                "--nthreads",
                str(threads),
                "--no-dashboard",
                "--dashboard-address",
                "127.0.0.1:0",
                "--death-timeout",
                "60",
                "--local-directory",
                str(self.folder / "dask"),
            )
        )

    def _start(self, program: str, *args: str) -> subprocess.Popen:
        code = f"from distributed.cli.{program} import main; main()"
        with (self.folder / "cluster.log").open("a") as log:
            return subprocess.Popen(
                [sys.executable, "-c", code, *args], stdout=log, stderr=log, start_new_session=True
            )

    def stop(self) -> None:
        for process in [*self.workers, self.scheduler]:
            if process is not None:
                with suppress(ProcessLookupError):
                    os.killpg(process.pid, signal.SIGKILL)  # a session of its own, nannies included
                process.wait(20)


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    made = Cluster(tmp_path)
    made.start_scheduler()
    made.start_worker()
    made.start_worker()
    yield made
    made.stop()


def toy() -> Callable[[Job], Outcome]:
    """Return what workers do here; a nested function travels to them as code."""

    def work(job: Job) -> Outcome:
        path = Path(job.field)
        with path.parent.joinpath("starts").open("a") as starts:
            starts.write(path.name + "\n")
        if path.name.startswith("deadly"):
            os.kill(os.getpid(), signal.SIGKILL)
        time.sleep(600.0 if path.name.startswith("slow") else 0.2)
        if path.name.startswith("wrong"):
            raise ArithmeticError("no such thing")
        return Outcome(job.field, "planned", str(os.getpid()))

    return work


def jobs(folder: Path, names: list[str]) -> list[Job]:
    return [Job(str(folder / name), "0") for name in names]


def run(cluster: Cluster, names: list[str], limits: Limits | None = None) -> Iterator[Outcome]:
    return on_cluster(
        jobs(cluster.folder, names),
        scheduler=cluster.address,
        wait_s=WAIT_S,
        limits=limits,
        work=toy(),
    )


def statuses(outcomes: list[Outcome]) -> dict[str, str]:
    return {Path(o.field).name: o.status for o in outcomes}


def test_a_deadly_field_is_set_aside_after_three_workers_and_stops_no_other(
    cluster: Cluster,
) -> None:
    names = ["a", "b", "deadly", "wrong", "c", "d"]
    found = statuses(list(run(cluster, names)))
    expected = dict.fromkeys("abcd", "planned")
    assert found == {**expected, "deadly": "set_aside", "wrong": "failed"}
    starts = Counter((cluster.folder / "starts").read_text().split())
    assert starts["deadly"] == 3


def test_a_field_that_takes_too_long_is_ended_once_and_its_worker_replaced(
    cluster: Cluster,
) -> None:
    names = ["a", "slow", "b", "slower", "c"]
    outcomes = list(run(cluster, names, Limits(strikes=3, seconds=3.0)))
    slow = dict.fromkeys(["slow", "slower"], "failed")
    assert statuses(outcomes) == {**dict.fromkeys("abc", "planned"), **slow}
    told = {o.error for o in outcomes if o.status == "failed"}
    assert told == {"It took longer than 0.05 minutes and was ended."}
    starts = Counter((cluster.folder / "starts").read_text().split())
    assert (starts["slow"], starts["slower"]) == (1, 1)
    assert statuses(list(run(cluster, ["d", "e"]))) == dict.fromkeys("de", "planned")


def test_a_scheduler_that_is_killed_and_comes_back_costs_only_fields_in_flight(
    cluster: Cluster,
) -> None:
    names = [f"f{number:02d}" for number in range(20)]
    outcomes = []
    for outcome in run(cluster, names):
        outcomes.append(outcome)
        if len(outcomes) == 6:
            cluster.scheduler.kill()
            cluster.scheduler.wait()
            cluster.start_scheduler()
            cluster.start_worker()
    assert statuses(outcomes) == dict.fromkeys(names, "planned")
    assert len(outcomes) == len(names)
    starts = Counter((cluster.folder / "starts").read_text().split())
    assert sum(starts.values()) <= len(names) + 4  # two in flight, two more handed in meanwhile


def test_only_loopback_listens(cluster: Cluster) -> None:
    list(run(cluster, ["a"]))
    listed = subprocess.run(["ss", "-ltnp"], capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("ss is not installed")
    mine = {str(p.pid) for p in [cluster.scheduler, *cluster.workers]}
    lines = [
        line for line in listed.stdout.splitlines() if any(f"pid={pid}," in line for pid in mine)
    ]
    assert lines
    assert [line for line in lines if "127.0.0.1:" not in line.split()[3]] == []


def test_no_scheduler_is_refused_with_a_remedy(tmp_path: Path) -> None:
    nowhere = f"tcp://127.0.0.1:{free_port()}"
    with pytest.raises(InputRefused, match="Start the scheduler"):
        list(on_cluster(jobs(tmp_path, ["a"]), scheduler=nowhere, wait_s=1.0, work=toy()))


def test_workers_with_several_threads_are_refused(tmp_path: Path) -> None:
    cluster = Cluster(tmp_path)
    cluster.start_scheduler()
    cluster.start_worker(threads=2)
    try:
        with pytest.raises(InputRefused, match="nthreads 1"):
            list(run(cluster, ["a"]))
    finally:
        cluster.stop()

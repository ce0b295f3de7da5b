"""What a field costs in a batch: time, efficiency of two processes, memory, overhead of an engine.

``python tests/benchmarks/batch_speed.py make FOLDER 200`` makes simulated fields of 10 ha with 40
stations; ``... run FOLDER`` plans them all with one process and with two, and prints fields a
minute, the efficiency of the second process, bytes in and out, and memory along the way;
``... overhead FOLDER`` sends fields that take no work through both engines.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import time
from collections.abc import Iterator, Sequence
from multiprocessing.connection import Connection
from pathlib import Path

import numpy as np
from distributed import LocalCluster

sys.path.insert(0, str(Path(__file__).parents[2] / "sample_data"))

from simulate import simulate

from zoning.batch import Job, Outcome, find_fields, jobs_for, on_this_machine
from zoning.batch.cluster import on_cluster

AREA_HA, STATIONS, PITS = 10.0, 40, 4


def make(folder: Path, count: int) -> None:
    """Write `count` field folders, not one that is there already."""
    for seed in range(count):
        target = folder / f"field_{seed:04d}"
        if not (target / "field.toml").exists():
            sim = simulate(seed, area_ha=AREA_HA, stations=STATIONS, pits=PITS)
            sim.write(target)


def size(folder: Path) -> int:
    """Return the bytes of the plain files in `folder`."""
    return sum(path.stat().st_size for path in folder.iterdir() if path.is_file())


def timed(jobs: Sequence[Job], processes: int) -> tuple[float, float, list[Outcome]]:
    """Return wall time [s], processor time of the workers [s] and the outcomes."""
    start, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    outcomes = list(on_this_machine(jobs, processes=processes))
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - start, used, outcomes


def run(folder: Path, counts: Sequence[int], most: int | None) -> None:
    """Plan the fields of `folder` with each number of processes, and print what it took."""
    fields = find_fields([str(folder)])[:most]
    print(f"{len(fields)} fields, load before {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores")
    for processes in counts:
        wall, used, outcomes = timed(jobs_for(fields, again=True), processes)
        planned = [o for o in outcomes if o.status == "planned"]
        memory = np.array([o.peak_memory_mb for o in planned], float)
        fifth = max(1, len(memory) // 5)
        print(
            f"{processes} processes: {len(planned)} planned, {wall:.1f} s, "
            f"{60 * len(planned) / wall:.1f} fields a minute, "
            f"{used / len(fields):.2f} s of processor a field, busy {used / wall:.2f} cores\n"
            f"  peak memory a field [MB]: first fifth {np.median(memory[:fifth]):.0f}, "
            f"last fifth {np.median(memory[-fifth:]):.0f}, most {memory.max():.0f}"
        )
        for outcome in outcomes:
            if outcome.status != "planned":
                print(f"  {outcome.field}: {outcome.error}")
    paths = [Path(f) for f in fields if (Path(f) / "plan").exists()]
    print(f"bytes in a field: {np.mean([size(p) for p in paths]):.0f}")
    print(f"bytes out a field: {np.mean([size(p / 'plan') for p in paths]):.0f}")
    start = time.perf_counter()
    kept = list(on_this_machine(jobs_for(fields), processes=2))
    wall = time.perf_counter() - start
    print(f"all again, kept: {sum(o.status == 'kept' for o in kept)} in {wall:.1f} s")


def idle(line: Connection) -> None:
    """Answer every job at once."""
    while (job := line.recv()) is not None:
        line.send(Outcome(job.field, "planned"))


def overhead(count: int) -> None:
    """Print what each engine takes for a field that takes no work."""
    jobs = [Job(f"/none/{number}", "0") for number in range(count)]

    def nothing(job: Job) -> Outcome:
        return Outcome(job.field, "planned")

    def here() -> Iterator[Outcome]:
        return on_this_machine(jobs, processes=2, work=idle)

    print(f"pool of 2: {per_field_ms(here(), count):.2f} ms a field")
    with LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
    ) as cluster:
        coming = on_cluster(jobs, scheduler=cluster.scheduler_address, work=nothing)
        print(f"dask, 2 workers: {per_field_ms(coming, count):.2f} ms a field")


def per_field_ms(coming: Iterator[Outcome], count: int) -> float:
    """Return the time a field over the second half, when all workers are up [ms]."""
    for _ in range(count // 2):
        next(coming)
    start = time.perf_counter()
    left = sum(1 for _ in coming)
    return 1e3 * (time.perf_counter() - start) / left


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("make", "run", "overhead"))
    parser.add_argument("folder", type=Path, nargs="?", default=Path("/tmp/zoning_fields"))  # noqa: S108
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--processes", type=int, nargs="+", default=[1, 2])
    parser.add_argument("--most", type=int)
    given = parser.parse_args()
    if given.what == "make":
        make(given.folder, given.count)
    elif given.what == "run":
        run(given.folder, given.processes, given.most)
    else:
        overhead(given.count)

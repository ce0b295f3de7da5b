"""Three workers on loopback: one is killed, then the scheduler, and no field is lost.

``python tests/benchmarks/batch_cluster.py FOLDER``, with the field folders that ``batch_speed.py
make`` wrote. The fields are planned by one process first and by the cluster then, with ``zoning
batch`` as a user calls it; the plans must have the same bytes.
"""

from __future__ import annotations

import argparse
import hashlib
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path

import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[1] / "batch"))

from test_cluster import Cluster

WORKERS = 3


def digests(folder: Path) -> dict[str, str]:
    """Return the SHA-256 of every file of every plan below `folder`."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.glob("*/plan/*"))
    }


def copied(source: Path, target: Path, count: int) -> Path:
    """Copy `count` field folders without their plans."""
    for field in sorted(path for path in source.iterdir() if path.is_dir())[:count]:
        shutil.copytree(field, target / field.name, ignore=shutil.ignore_patterns("plan"))
    return target


def batch(folder: Path, out: Path, *more: str) -> tuple[int, float]:
    """Run ``zoning batch`` and return exit status and time [s]."""
    start = time.perf_counter()
    done = subprocess.run(["zoning", "batch", str(folder), "--out", str(out), *more], check=False)
    return done.returncode, time.perf_counter() - start


def planned(folder: Path) -> int:
    """Return how many fields have a plan."""
    return len(list(folder.glob("*/plan/plan.json")))


def disturb(cluster: Cluster, folder: Path, count: int) -> None:
    """Kill a worker after a quarter of the fields, the scheduler after half; start both anew."""
    while planned(folder) < count // 4:
        time.sleep(0.1)
    cluster.workers[0].kill()
    print(f"a worker killed after {planned(folder)} fields", flush=True)
    while planned(folder) < count // 2:
        time.sleep(0.1)
    cluster.scheduler.kill()
    cluster.scheduler.wait()
    print(f"the scheduler killed after {planned(folder)} fields", flush=True)
    cluster.start_scheduler()
    for _ in range(WORKERS):
        cluster.start_worker()


def main() -> None:
    """Run the show."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=24)
    parser.add_argument("--work", type=Path, default=Path("/tmp/zoning_cluster"))  # noqa: S108
    given = parser.parse_args()
    shutil.rmtree(given.work, ignore_errors=True)
    serial = copied(given.folder, given.work / "serial", given.count)
    spread = copied(given.folder, given.work / "cluster", given.count)
    status, seconds = batch(serial, given.work / "out_serial", "--processes", "1")
    print(f"one process: status {status}, {seconds:.1f} s", flush=True)
    cluster = Cluster(given.work)
    cluster.start_scheduler()
    for _ in range(WORKERS):
        cluster.start_worker()
    troublemaker = threading.Thread(target=disturb, args=(cluster, spread, given.count))
    troublemaker.start()
    try:
        out = given.work / "out_cluster"
        status, seconds = batch(spread, out, "--scheduler", cluster.address)
    finally:
        troublemaker.join()
        cluster.stop()
    rows = pd.read_csv(given.work / "out_cluster" / "batch.csv")
    print(f"cluster: status {status}, {seconds:.1f} s, {dict(rows['status'].value_counts())}")
    one, other = digests(serial), digests(spread)
    different = [name for name in one if other.get(name) != one[name]]
    print(f"{len(one)} files, {len(different)} different {different[:5]}")


if __name__ == "__main__":
    main()

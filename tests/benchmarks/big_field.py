"""Time and memory of the plan of a large field: ``python tests/benchmarks/big_field.py``.

Simulates a field of 100 ha with 200 stations, then reads, plans and writes it in a process of its
own, whose peak memory is what the plan took and nothing else.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "sample_data"))

from simulate import simulate

MOST_SECONDS = 30.0
MOST_GB = 1.5


def run_plan(folder: Path) -> None:
    """Read, plan and write the folder; print the seconds of each and the peak memory [GB]."""
    start = time.perf_counter()
    from zoning import make_plan, read_field, write_plan  # noqa: PLC0415  (its time is shown)

    marks = [("import", time.perf_counter())]
    inputs = read_field(folder)
    marks.append(("read", time.perf_counter()))

    def note(step: str) -> None:
        print(f"  {time.perf_counter() - start:6.1f} s  {step}", flush=True)

    plan = make_plan(inputs, progress=note)
    marks.append(("plan", time.perf_counter()))
    planned_gb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    write_plan(plan, folder / "plan")
    marks.append(("write", time.perf_counter()))
    peak_gb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    before = start
    for name, at in marks:
        print(f"{name:<8}{at - before:8.1f} s")
        before = at
    seconds = marks[2][1] - marks[0][1]
    print(f"read and plan {seconds:.1f} s, all {marks[-1][1] - start:.1f} s")
    print(f"peak {planned_gb:.2f} GB after the plan, {peak_gb:.2f} GB after writing")
    print(f"raster {plan.grid.shape}, cell {plan.grid.cell_m} m, {len(plan.zones)} zones")
    met = seconds <= MOST_SECONDS and peak_gb <= MOST_GB
    print(f"targets {MOST_SECONDS:g} s and {MOST_GB:g} GB: {'met' if met else 'MISSED'}")


def main() -> int:
    """Make the field and run its plan; return the exit status of the plan."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--area-ha", type=float, default=100.0)
    parser.add_argument("--stations", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--folder", type=Path, help="plan this field folder instead")
    given = parser.parse_args()
    if given.folder:
        run_plan(given.folder)
        return 0
    with tempfile.TemporaryDirectory() as scratch:
        sim = simulate(given.seed, area_ha=given.area_ha, stations=given.stations)
        folder = sim.write(Path(scratch) / "big")
        shape = f"{sim.boundary.area / 1e4:.0f} ha, {sim.cone['station'].nunique()} stations"
        print(f"{shape}, {len(sim.cone)} cone readings", flush=True)
        return subprocess.run(
            [sys.executable, __file__, "--folder", str(folder)], check=False
        ).returncode


if __name__ == "__main__":
    sys.exit(main())

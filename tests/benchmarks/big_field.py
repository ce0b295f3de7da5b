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


def peak_gb() -> float:
    """Return the most memory this process has held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2


def run_plan(folder: Path) -> int:
    """Read, plan and write the folder; print seconds and peak memory; return 1 if over a target."""
    start = time.perf_counter()
    from zoning import make_plan, read_field, write_plan  # noqa: PLC0415  (its time is shown)

    def note(step: str) -> None:
        print(f"{time.perf_counter() - start:8.1f} s {peak_gb():5.2f} GB  {step}", flush=True)

    note("imported")
    plan = make_plan(read_field(folder), progress=note)
    planned_s = time.perf_counter() - start
    print(f"raster {plan.grid.shape}, cell {plan.grid.cell_m} m, {len(plan.zones)} zones")
    print(f"import, read and plan {planned_s:.1f} s, peak {peak_gb():.2f} GB", flush=True)
    write_plan(plan, folder / "plan", progress=note)
    print(f"with writing {time.perf_counter() - start:.1f} s, peak {peak_gb():.2f} GB")
    met = planned_s <= MOST_SECONDS and peak_gb() <= MOST_GB
    print(f"targets {MOST_SECONDS:g} s to plan, {MOST_GB:g} GB: {'met' if met else 'MISSED'}")
    return 0 if met else 1


def main() -> int:
    """Make the field and run its plan; return the exit status of the plan."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--area-ha", type=float, default=100.0)
    parser.add_argument("--stations", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--folder", type=Path, help="plan this field folder instead")
    given = parser.parse_args()
    if given.folder:
        return run_plan(given.folder)
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

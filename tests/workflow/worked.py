"""The sample field with its plan, worked slowly or fast, as a folder to check."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "sample_data" / "teasel_piece"
sys.path.insert(0, str(ROOT / "sample_data"))


def planned_folder(plan_folder: Path, folder: Path) -> Path:
    """Copy the sample field and its plan into `folder`."""
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("truth", "plan", "records*"))
    shutil.copytree(plan_folder, folder / "plan")
    return folder


def worked_folder(plan_folder: Path, folder: Path, passage: str, seed: int = 1) -> Path:
    """Copy the sample field and its plan, and add what is found after a pass."""
    from make_teasel_piece import SCENARIO, SEED  # noqa: PLC0415
    from simulate import simulate  # noqa: PLC0415
    from simulate_after import PASSAGES, work  # noqa: PLC0415

    planned_folder(plan_folder, folder)
    work(simulate(SEED, scenario=SCENARIO, named=True), folder, PASSAGES[passage], seed)
    return folder

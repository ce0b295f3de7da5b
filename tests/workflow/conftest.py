"""The sample field planned once, and a copy of its folder to spoil."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import zoning
from zoning.model import FieldInputs, Plan

SAMPLE = Path(__file__).parents[2] / "sample_data" / "teasel_piece"


@pytest.fixture(autouse=True)
def _late_day(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a test dates is of the past, whatever the clock says."""
    monkeypatch.setattr("zoning.workflow.season_dates.today", lambda: "2099-12-31")


@pytest.fixture(scope="session")
def sample_inputs() -> FieldInputs:
    return zoning.read_field(SAMPLE)


@pytest.fixture(scope="session")
def sample_plan(sample_inputs: FieldInputs) -> Plan:
    return zoning.make_plan(sample_inputs)


@pytest.fixture(scope="session")
def plan_folder(sample_plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of the sample field's plan."""
    folder = tmp_path_factory.mktemp("sample") / "plan"
    zoning.write_plan(sample_plan, folder)
    return folder


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """Return a copy of the sample field's folder."""
    folder = tmp_path / "field"
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("truth", "plan", "records*"))
    return folder

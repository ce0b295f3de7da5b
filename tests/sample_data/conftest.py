from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "sample_data"))

from simulate import Simulated, simulate


@pytest.fixture(scope="session")
def fields() -> list[Simulated]:
    return [simulate(seed) for seed in range(5)]


@pytest.fixture(scope="session")
def samples() -> Path:
    return Path(__file__).parents[2] / "sample_data"

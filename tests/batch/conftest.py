"""Small field folders, made once."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from zoning.cli import main

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "sample_data"))


@pytest.fixture(scope="session")
def seeds(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with two small simulated fields, ``one`` and ``two``."""
    from simulate import simulate  # noqa: PLC0415 - from sample_data

    folder = tmp_path_factory.mktemp("seeds")
    for number, name in enumerate(("one", "two")):
        simulate(number, area_ha=1.5, stations=12, pits=1).write(folder / name)
    return folder


@pytest.fixture
def farm(seeds: Path, tmp_path: Path) -> Path:
    """Return a fresh copy of the two fields."""
    shutil.copytree(seeds, tmp_path / "farm")
    return tmp_path / "farm"


@pytest.fixture(scope="session")
def planned(seeds: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the two fields, planned by ``zoning batch``, with the tables in ``out``."""
    root = tmp_path_factory.mktemp("planned")
    shutil.copytree(seeds, root / "farm")
    ran = CliRunner().invoke(main, ["batch", str(root / "farm"), "--out", str(root / "out")])
    assert ran.exit_code == 0, ran.output
    return root


@pytest.fixture
def spoil() -> Callable[[Path], None]:
    """Return a function that makes a field folder one that is refused."""

    def spoiled(folder: Path) -> None:
        text = (folder / "field.toml").read_text(encoding="utf-8")
        (folder / "field.toml").write_text(text.replace("season", "seeson"), encoding="utf-8")

    return spoiled

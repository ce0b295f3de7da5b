"""A record in an empty folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from zoning.records import Record, open_record


@pytest.fixture
def record(tmp_path: Path) -> Record:
    folder = tmp_path / "field"
    folder.mkdir()
    return open_record(folder)

"""A small invented field written to a folder, changed file by file in the tests."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from readings.small_field import BOUNDARY, CONE, FIELD, Folder

from zoning.errors import InputRefused
from zoning.readings import read_field


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """Write a field folder: ``field_toml`` and files by name, text or bytes."""

    def write(field_toml: str = FIELD, **files: str | bytes) -> Path:
        named = {"boundary.geojson": BOUNDARY, "cone.csv": CONE}
        named.update({key.replace("__", "."): value for key, value in files.items()})
        for name, value in {"field.toml": field_toml, **named}.items():
            data = value if isinstance(value, bytes) else value.encode("utf-8")
            (tmp_path / name).write_bytes(data)
        return tmp_path

    return write


@pytest.fixture
def refusal() -> Callable[[Path], list[str]]:
    """Read a folder that must be refused; return its faults as text."""

    def read(path: Path) -> list[str]:
        with pytest.raises(InputRefused) as caught:
            read_field(path)
        return [str(fault) for fault in caught.value.faults]

    return read

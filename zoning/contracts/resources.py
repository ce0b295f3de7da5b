"""Where the project's schemas and tables lie, in a wheel as in a checkout; which version it is."""

from __future__ import annotations

from importlib.metadata import version
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

DISTRIBUTION = "compaction-zoning"


def program_version() -> str:
    """Return the version of the program as it is installed."""
    return version(DISTRIBUTION)


def shared(*parts: str) -> Traversable:
    """Return the file or folder `parts` of the project's ``shared`` folder."""
    packed = files("zoning").joinpath("shared")
    root: Traversable = packed if packed.is_dir() else Path(__file__).parents[2] / "shared"
    return root.joinpath(*parts)

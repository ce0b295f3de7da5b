"""Where the project's schemas and tables lie, in a wheel as in a checkout."""

from __future__ import annotations

from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path


def shared(*parts: str) -> Traversable:
    """Return the file or folder `parts` of the project's ``shared`` folder."""
    packed = files("zoning").joinpath("shared")
    root: Traversable = packed if packed.is_dir() else Path(__file__).parents[2] / "shared"
    return root.joinpath(*parts)

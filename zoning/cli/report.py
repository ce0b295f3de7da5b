"""The report of an internal fault: what a maintainer needs, in a file the user can send."""

from __future__ import annotations

import hashlib
import os
import platform
import sys
import tempfile
import traceback
from contextlib import suppress
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

_LIBRARIES = (
    "compaction-zoning", "numpy", "pandas", "scipy", "shapely", "geopandas", "pyogrio", "pyproj",
    "rasterio", "scikit-learn", "typst",
)  # fmt: skip


def write_report(fault: BaseException) -> Path | None:
    """Write a report of `fault` and return its path.

    It holds the versions, the command line and the traceback, and nothing of the user's files. It
    goes into the current folder; where that cannot be written, into the temporary folder; ``None``
    where nothing can be written at all.
    """
    text = report_text(fault)
    name = f"zoning-fault-{hashlib.sha256(text.encode()).hexdigest()[:8]}.txt"
    with suppress(OSError):
        path = Path.cwd() / name
        if not path.is_file() or path.is_symlink():
            with path.open("x", encoding="utf-8") as stream:
                stream.write(text)
        return path
    with suppress(OSError):
        handle, temporary = tempfile.mkstemp(prefix="zoning-fault-", suffix=".txt")
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(text)
        return Path(temporary)
    return None


def report_text(fault: BaseException) -> str:
    """Return the report of `fault` as text."""
    lines = [f"{name} {_version(name)}" for name in _LIBRARIES]
    trace = "".join(traceback.format_exception(fault))
    return (
        f"Internal fault of zoning\n\npython {platform.python_version()} on {platform.platform()}\n"
        + "\n".join(lines)
        + f"\n\ncommand: {sys.argv[1:]}\n\n{trace}"
    )


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"

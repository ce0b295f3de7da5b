"""Field folders behind an address: copied here, planned, the plan sent back.

The address is one that fsspec knows (``s3://bucket/farm/field``, ``memory://farm/field``); rights
and end points are set as fsspec wants them, not here. An object store has no rename, so the file
``plan.json`` is taken away first and sent last: a plan without it is not finished.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from zoning.batch.kept import LAYERS_FILE, PLAN_FILE
from zoning.errors import Fault, InputRefused, OutputFailed
from zoning.outputs import KNOWN

FIELD_FILE = "field.toml"


def is_address(field: str) -> bool:
    """Return whether `field` is an address rather than a path."""
    return "://" in field


@dataclass(frozen=True, slots=True)
class Copy:
    """A field folder copied here.

    Parameters
    ----------
    folder
        The copy.
    left_there
        Names of files of an earlier plan that were not copied.
    store, root
        The file system, and the folder on it.
    """

    folder: Path
    left_there: frozenset[str]
    store: Any
    root: str

    def send_plan(self) -> None:
        """Send ``folder/plan``, ``plan.json`` last; files that are no longer part of it go."""
        there = f"{self.root}/plan"
        names = sorted(path.name for path in (self.folder / "plan").iterdir())
        if self.store.exists(f"{there}/{PLAN_FILE}"):
            self.store.rm_file(f"{there}/{PLAN_FILE}")
        for name in self.left_there - set(names):
            self.store.rm_file(f"{there}/{name}")
        for name in [*(n for n in names if n != PLAN_FILE), PLAN_FILE]:
            self.store.pipe_file(f"{there}/{name}", (self.folder / "plan" / name).read_bytes())


@contextmanager
def copied_here(address: str) -> Iterator[Copy]:
    """Yield a copy of the field folder at `address`, removed at the end.

    Raises
    ------
    zoning.errors.InputRefused
        If there is no such folder, or a name in it leaves it.
    zoning.errors.OutputFailed
        If the folder ``plan`` in it holds anything but a plan.
    """
    store, root = opened(address)
    store.invalidate_cache()
    found = [str(name) for name in store.find(root)]
    if not found:
        what = "There is no such folder, or it is empty."
        raise InputRefused([Fault(address, what, "Name the folder that holds field.toml.")])
    with tempfile.TemporaryDirectory(prefix="zoning-") as made:
        folder = Path(made) / "field"
        folder.mkdir()
        planned = f"{root}/plan/{PLAN_FILE}" in found
        copied = {PLAN_FILE, LAYERS_FILE} if planned else set[str]()
        left = {name for path in found if (name := _copy(store, root, path, folder, copied))}
        _refuse_foreign(address, left)
        yield Copy(folder, frozenset(left), store, root)


def addresses_of(pattern: str) -> list[str]:
    """Return the addresses of the field folders that `pattern`, an address, stands for."""
    store, root = opened(pattern)
    if "*" not in pattern and store.exists(f"{root}/{FIELD_FILE}"):
        return [pattern]
    files = store.glob(f"{root}/{FIELD_FILE}") or store.glob(f"{root}/*/{FIELD_FILE}")
    return sorted(store.unstrip_protocol(str(PurePosixPath(str(f)).parent)) for f in files)


def opened(address: str) -> tuple[Any, str]:
    """Return the file system of `address` and the path on it.

    Raises
    ------
    zoning.errors.InputRefused
        If no driver for it is installed.
    """
    import fsspec  # noqa: PLC0415 - only where an address is named

    try:
        store, root = fsspec.core.url_to_fs(address)
    except (ImportError, ValueError) as missing:
        raise InputRefused(
            [Fault(address, f"{missing}", "Install the fsspec driver of that kind of address.")]
        ) from missing
    return store, str(root).rstrip("/")


def _refuse_foreign(address: str, names: set[str]) -> None:
    foreign = sorted(names - KNOWN)
    if foreign:
        what = f"{address}/plan holds {', '.join(foreign)}, which would be lost."
        raise OutputFailed(f"{what} Move it elsewhere first.")


def _copy(store: Any, root: str, path: str, folder: Path, copied: set[str]) -> str | None:
    """Copy one file, of a plan only those named in `copied`; return the name of one left there."""
    relative = PurePosixPath(path).relative_to(PurePosixPath(root))
    if ".." in relative.parts or relative.is_absolute():
        raise InputRefused([Fault(path, "The name leaves the field folder.", "Rename the file.")])
    if relative.parts[0] == "plan" and "/".join(relative.parts[1:]) not in copied:
        return "/".join(relative.parts[1:])
    target = folder.joinpath(*relative.parts)
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(store.cat_file(path))
    return None

"""A folder that appears whole or not at all.

Files are written into a staging folder beside the target; then the two exchange their names in one
step (where the system has no such step: the old folder is renamed aside, the new one renamed in).
A lock on the staging folder keeps two runs apart; the system drops it when a run is killed, and the
next run sweeps what the killed one left.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import sys
from collections.abc import Collection, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from zoning.errors import OutputFailed

if sys.platform != "win32":
    import fcntl

MARK = "plan.json"
# What other programs make from a file that they open; false beside the file that replaces it.
_MADE_FROM = (".aux.xml", ".ovr", "-shm", "-wal", "-journal")
EDITS = ("-wal", "-journal")
"""Ends of files that, unless empty, hold what another program has not yet put into a file."""
_OF_THE_SYSTEM = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})


def check_target(folder: Path, known: Collection[str], mark: str = MARK) -> tuple[str, ...]:
    """Refuse a target folder that holds anything but a plan (or what `mark` stands for).

    What other programs made from its files (`made_beside`) is no reason: it goes with the files.

    Parameters
    ----------
    folder
        Folder to be written.
    known
        Names of the files that a plan may hold.
    mark
        The file by which a folder of this kind is known; its stem is the name of the kind.

    Returns
    -------
    tuple of str
        What other programs made and what goes with the folder when it is replaced.

    Raises
    ------
    OutputFailed
        If `folder` is a file or a link, is a folder without the mark, or holds files that are not
        part of a plan and would be lost.
    """
    try:
        return _check_target(folder, known, mark)
    except OSError as fault:
        raise _unwritable(folder, fault) from fault


def _unwritable(folder: Path, fault: OSError) -> OutputFailed:
    return OutputFailed(f"{folder} could not be written: {fault.strerror or fault}.")


def made_beside(path: Path, known: Collection[str]) -> bool:
    """Return whether `path` is what another program made from one of the files `known`.

    Pictures, counts and locks of a GIS, and what a system keeps of a folder. Edits that are not yet
    in the file they belong to are none.
    """
    name = path.name
    if name.endswith(EDITS) and path.stat().st_size > 0:
        return False
    made = any(name.removesuffix(end) in known for end in _MADE_FROM if name.endswith(end))
    return name in _OF_THE_SYSTEM or made


def _check_target(folder: Path, known: Collection[str], mark: str) -> tuple[str, ...]:
    kind = mark.removesuffix(".json")
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise OutputFailed(f"{folder} is not a folder. Name another folder for the {kind}.")
    paths = sorted(folder.iterdir()) if folder.is_dir() else []
    names = [path.name for path in paths]
    if names and mark not in names:
        raise OutputFailed(
            f"{folder} holds other files and no {mark}. Name another folder for the {kind}."
        )
    others = [path for path in paths if path.name not in known]
    foreign = [path.name for path in others if not made_beside(path, known)]
    if foreign:
        remedy = "Move it elsewhere first."
        if any(name.endswith(EDITS) for name in foreign):
            remedy = "Close the program that has the file open, or move it elsewhere first."
        raise OutputFailed(f"{folder} holds {', '.join(foreign)}, which would be lost. {remedy}")
    return tuple(path.name for path in others)


@contextmanager
def staged(folder: Path, known: Collection[str], mark: str = MARK) -> Iterator[Path]:
    """Yield an empty folder that takes the place of `folder` when the block ends without error.

    Whatever goes wrong, `folder` stays as it was and the staging folder is removed.

    Raises
    ------
    OutputFailed
        If `folder` is refused (see `check_target`), another run is writing it, or the file
        system refuses.
    """
    folder = folder.absolute()
    check_target(folder, known, mark)
    missing: list[Path] = []
    done = False
    try:
        missing += [parent for parent in folder.parents if not parent.exists()]
        folder.parent.mkdir(parents=True, exist_ok=True)
        with _staging_folder(folder) as new:
            yield new
            _flush(new)
            _swap(folder, new)
            done = True
    except OSError as fault:
        raise _unwritable(folder, fault) from fault
    finally:
        for parent in () if done else missing:
            with suppress(OSError):
                parent.rmdir()


@contextmanager
def _staging_folder(folder: Path) -> Iterator[Path]:
    """Yield an empty folder beside `folder` and remove what has that name at the end.

    After an exchange that is the old folder, which is locked too, so that no other run takes it
    for its own staging folder while it is being removed.
    """
    new = _beside(folder, "new")
    with ExitStack() as locks:
        locks.enter_context(_locked(new))
        _restore(folder)
        if folder.exists():
            locks.enter_context(_locked(folder))
        locks.callback(shutil.rmtree, new, ignore_errors=True)
        _empty(new)
        yield new


def _beside(folder: Path, what: str) -> Path:
    return folder.with_name(f".{folder.name}.zoning-{what}")


@contextmanager
def _locked(new: Path) -> Iterator[Path]:
    """Make the staging folder and hold the lock on it."""
    if sys.platform == "win32":  # Windows has no lock on a folder; it refuses the rename instead.
        new.mkdir(exist_ok=True)
        yield new
        return
    handle = None
    while handle is None:
        new.mkdir(exist_ok=True)
        handle = _lock_of(new)
    try:
        yield new
    finally:
        os.close(handle)


def _lock_of(new: Path) -> int | None:
    """Return a handle that holds the lock on `new`; ``None`` if `new` was moved meanwhile."""
    try:
        handle = os.open(new, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
    except FileNotFoundError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        # Between opening and locking, the run before may have moved the folder into place.
        if os.path.samestat(os.fstat(handle), new.stat()):
            return handle
    except FileNotFoundError:
        pass
    except BlockingIOError:
        os.close(handle)
        raise OutputFailed(f"Another run is writing into {new.parent}. Wait for it.") from None
    os.close(handle)
    return None


def _restore(folder: Path) -> None:
    """Put right what a run killed between two renames left: the old folder goes back."""
    old = _beside(folder, "old")
    if old.exists() and not folder.exists():
        old.rename(folder)
    shutil.rmtree(old, ignore_errors=True)


def _empty(folder: Path) -> None:
    for entry in folder.iterdir():
        if entry.is_dir() and not entry.is_symlink():
            shutil.rmtree(entry)
        else:
            entry.unlink()


def _flush(folder: Path) -> None:
    """Make sure that every file of `folder`, and its list of names, is on the disk."""
    for path in sorted(folder.iterdir()):
        _sync(path, os.O_RDWR)
    _sync_names(folder)


def _sync_names(folder: Path) -> None:
    if sys.platform != "win32":  # Windows cannot open a folder; it keeps names safe by itself.
        _sync(folder, os.O_RDONLY)


def _sync(path: Path, mode: int) -> None:
    handle = os.open(path, mode)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _swap(folder: Path, new: Path) -> None:
    """Put `new` in the place of `folder`, in one step where the system has one."""
    if not folder.exists():
        new.rename(folder)
    elif not _exchanged(folder, new):
        _renamed_twice(folder, new)
    _sync_names(folder.parent)


def _exchanged(folder: Path, new: Path) -> bool:
    """Exchange two folders in one step; false where the system cannot (Linux can)."""
    if not sys.platform.startswith("linux"):
        return False
    rename = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    here, exchange = -100, 2  # AT_FDCWD and RENAME_EXCHANGE of renameat2(2)
    paths = (os.fsencode(new), os.fsencode(folder))
    return rename is not None and rename(here, paths[0], here, paths[1], exchange) == 0


def _renamed_twice(folder: Path, new: Path) -> None:
    old = _beside(folder, "old")
    folder.rename(old)
    try:
        new.rename(folder)
    except OSError:
        old.rename(folder)
        raise
    shutil.rmtree(old, ignore_errors=True)

"""Plain files inside the field folder, opened once, hashed as read."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from zoning.errors import Fault, InputRefused
from zoning.model import InputFile
from zoning.readings.rules import MB, nearest, rule

FIELD_ROLE = "field"


@dataclass(frozen=True, slots=True)
class Blob:
    """One file read whole: its role, its name as the user wrote it, its bytes."""

    role: str
    name: str
    data: bytes

    @property
    def record(self) -> InputFile:
        """Role, name and SHA-256 for the plan's list of inputs."""
        return InputFile(self.role, self.name, hashlib.sha256(self.data).hexdigest())


def read_text_file(folder: Path, name: str, role: str) -> Blob:
    """Read a CSV or TOML file of the field folder; see `read_file`."""
    return read_file(folder, name, role, rule("text_file_max_mb"))


def read_vector_file(folder: Path, name: str, role: str) -> Blob:
    """Read a boundary, areas or hazards file of the field folder; see `read_file`."""
    return read_file(folder, name, role, rule("vector_file_max_mb"))


def read_file(folder: Path, name: str, role: str, max_mb: float) -> Blob:
    """Read the plain file `name` of `folder`.

    Parameters
    ----------
    folder
        The field folder.
    name
        Path relative to it, as ``field.toml`` gives it.
    role
        What the file is for, in the words of ``field.toml``.
    max_mb
        Largest size that is opened [MB].

    Raises
    ------
    InputRefused
        If the name leaves the folder, or names no plain, readable file of that size.
    """
    path = inside(folder, name, role)
    try:
        handle = os.open(
            path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        )
    except OSError as error:
        raise _refused(
            name, role, f"cannot be opened ({error.strerror}).", "Check its rights."
        ) from error
    try:
        _check_facts(os.fstat(handle), name, role, max_mb)
    except InputRefused:
        os.close(handle)
        raise
    with os.fdopen(handle, "rb") as stream:
        data = stream.read(int(max_mb * MB) + 1)
    if len(data) > max_mb * MB:
        raise _too_large(name, role, max_mb)
    return Blob(role, name, data)


def _check_facts(facts: os.stat_result, name: str, role: str, max_mb: float) -> None:
    """Refuse what is no plain file, is empty or is too large."""
    if not stat.S_ISREG(facts.st_mode):
        raise _refused(name, role, "is not a plain file.", "Name a file, not a folder or a device.")
    if facts.st_size == 0:
        raise _refused(name, role, "is empty.", "Save the file again with its contents.")
    if facts.st_size > max_mb * MB:
        raise _too_large(name, role, max_mb)


def is_folder(path: Path) -> bool:
    """Whether `path` is a folder that can be looked at."""
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


def inside(folder: Path, name: str, role: str) -> Path:
    """Return the real path of `name`, which must exist within `folder`.

    Raises
    ------
    InputRefused
        If the name is absolute, is an address, leaves the folder, or nothing is there.
    """
    if "\x00" in name or "://" in name or name.startswith(("/", "\\", "~")) or _has_drive(name):
        raise _refused(
            name,
            role,
            "is not a path relative to the field folder.",
            "Put the file into the field folder and give its name.",
        )
    root = folder.resolve()
    if not Path(os.path.normpath(root / name)).is_relative_to(root):
        raise _leaves(name, role)
    try:
        path = (root / name).resolve(strict=True)
    except (OSError, RuntimeError) as error:
        raise _refused(
            name, role, "was not found in the field folder.", _remedy(root, name, role)
        ) from error
    if not path.is_relative_to(root):
        raise _leaves(name, role)
    return path


def _leaves(name: str, role: str) -> InputRefused:
    remedy = "Copy the file into the field folder and give its name."
    return _refused(name, role, "leaves the field folder.", remedy)


def _has_drive(name: str) -> bool:
    return len(name) > 1 and name[1] == ":" and name[0].isalpha()


def _remedy(root: Path, name: str, role: str) -> str:
    """Return what to do where a file is not there, by what lies in the folder."""
    try:
        names = sorted(p.name for p in root.iterdir() if p.is_file())
    except OSError:
        return "The folder may not be read: check its rights."
    if role == FIELD_ROLE:
        return _write_or_rename(name, names)
    by_stem = {Path(each).stem: each for each in names}
    near = nearest(Path(name).stem, by_stem)
    if near is not None:
        return f"Did you mean '{by_stem[near]}'? If there is none, delete the line."
    return f"{_held(names)} If it is none of them, delete the line."


def _write_or_rename(name: str, names: Sequence[str]) -> str:
    """Return how to come to the field file: no line of it can be wrong, for there is none."""
    stems = {Path(each).stem: each for each in names if each.endswith(".toml")}
    near = nearest(Path(name).stem, stems)
    alike = [each for each in names if each.lower().startswith(name)]
    if alike or near is not None:
        return f"Is it '{[*alike, stems.get(near or '', '')][0]}'? Rename it to {name}."
    return (
        "Write one: the least that works stands in 'Use your own readings' "
        f"(docs/howto/own_readings.rst). {_held(names)}"
    )


def _held(names: Sequence[str]) -> str:
    return f"The folder holds: {', '.join(names[:12])}." if names else "The folder holds no file."


def _refused(name: str, role: str, what: str, remedy: str) -> InputRefused:
    return InputRefused(
        [Fault(file=name or "(no name)", what=f"The {role} file {what}", remedy=remedy)]
    )


def _too_large(name: str, role: str, max_mb: float) -> InputRefused:
    return _refused(
        name,
        role,
        f"is larger than {max_mb:g} MB.",
        "Keep one field in a file and leave the rest out.",
    )

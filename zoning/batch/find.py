"""The fields that a person names: folders, patterns, a list in a file, addresses."""

from __future__ import annotations

import glob
from collections.abc import Iterable, Sequence
from pathlib import Path

from zoning.batch.remote import FIELD_FILE, addresses_of, is_address
from zoning.errors import Fault, InputRefused

_MAGIC = frozenset("*?[")


def find_fields(given: Sequence[str]) -> tuple[str, ...]:
    """Return the field folders that `given` stands for, sorted, each once.

    Parameters
    ----------
    given
        Each one of: a field folder (it holds ``field.toml``); a folder with field folders anywhere
        below it; a pattern with ``*``; a text file with one of these a line (blank lines and lines
        that begin with ``#`` do not count; paths are relative to the file); an address that fsspec
        knows. A folder in which no field is found stays in the list, so that its outcome says so.

    Raises
    ------
    zoning.errors.InputRefused
        If a pattern or a list stands for nothing, or a list cannot be read.
    """
    found: dict[str, str] = {}
    for field in _all(given):
        key = field if is_address(field) else str(Path(field).resolve())
        found.setdefault(key, field)
    if not found:
        what = "No field folder is named."
        raise InputRefused([Fault("(fields)", what, "Name folders that hold field.toml.")])
    return tuple(sorted(found.values()))


def _all(given: Iterable[str]) -> Iterable[str]:
    for name in given:
        if not is_address(name) and Path(name).is_file():
            for line in _lines(Path(name)):
                yield from _one(line, name)
        else:
            yield from _one(name, name)


def _one(name: str, source: str) -> list[str]:
    """Return the fields that one name stands for; `source` is where it was named."""
    if is_address(name):
        return addresses_of(name) or [name]
    path = Path(name)
    if (path / FIELD_FILE).is_file():
        return [path.as_posix()]
    if path.is_dir():
        return [p.as_posix() for p in _below(path)] or [path.as_posix()]
    if not _MAGIC & set(name):
        return [path.as_posix()]
    matches = [Path(match) for match in glob.glob(name, recursive=True)]  # noqa: PTH207 - absolute or not
    fields = [p.as_posix() for m in matches if m.is_dir() for p in (m, *_below(m)) if _holds(p)]
    if not fields:
        what = f"The pattern {name} matches no folder that holds field.toml."
        raise InputRefused([Fault(source, what, "Correct the pattern.")])
    return fields


def _holds(folder: Path) -> bool:
    return (folder / FIELD_FILE).is_file()


def _below(folder: Path) -> list[Path]:
    return sorted(path.parent for path in folder.rglob(FIELD_FILE) if path.parent != folder)


def _lines(path: Path) -> list[str]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as fault:
        what = f"The list of fields cannot be read ({fault})."
        raise InputRefused([Fault(str(path), what, "Save it as UTF-8, a folder a line.")]) from None
    named = [line.strip() for line in text.splitlines()]
    named = [line for line in named if line and not line.startswith("#")]
    if not named:
        what = "The list names no field."
        raise InputRefused([Fault(str(path), what, "Write one folder a line.")])
    return [line if is_address(line) else str(path.parent / line) for line in named]

"""A zip file opened within limits, every entry checked before anything is unpacked."""

from __future__ import annotations

import io
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import PurePosixPath
from types import MappingProxyType

from zoning.errors import Fault, InputRefused
from zoning.readings.files import Blob
from zoning.readings.rules import MB

_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    NotImplementedError,
    RuntimeError,
    ValueError,
    EOFError,
    OSError,
)


@dataclass(frozen=True, slots=True)
class Limits:
    """What an archive may hold, and the words of its refusal.

    Parameters
    ----------
    entries, unpacked_mb, ratio
        Most files; largest total once unpacked [MB]; largest ratio of unpacked to packed size.
    what
        What the archive is called, as a sentence begins with it.
    again, alone
        Remedies: of a broken archive, and of one that holds what it should not.
    """

    entries: float
    unpacked_mb: float
    ratio: float
    what: str
    again: str
    alone: str


@dataclass(frozen=True, slots=True, eq=False)
class Archive:
    """The files of a zip by their path in small letters."""

    members: Mapping[str, zipfile.ZipInfo]
    _file: zipfile.ZipFile

    def read(self, name: str) -> bytes:
        """Return the contents of one file, no longer than its entry says."""
        return self._file.read(self.members[name])


@contextmanager
def opened(blob: Blob, limits: Limits) -> Iterator[Archive]:
    """Open the zip file `blob`; a fault while it is read is a refusal too.

    Raises
    ------
    InputRefused
        If the zip is broken, too large once unpacked, or holds an entry that is not safe.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(blob.data)) as file:
            yield Archive(MappingProxyType(_members(blob, file, limits)), file)
    except _BROKEN as error:
        raise _refused(blob, f"{limits.what} file is broken.", limits.again) from error


def _refused(blob: Blob, what: str, remedy: str) -> InputRefused:
    return InputRefused([Fault(blob.name, what, remedy)])


def _members(blob: Blob, file: zipfile.ZipFile, limits: Limits) -> dict[str, zipfile.ZipInfo]:
    """Return the files of a zip by lower-case name after checking every entry."""
    entries = [info for info in file.infolist() if not info.filename.endswith("/")]
    _check_sizes(blob, entries, limits)
    members: dict[str, zipfile.ZipInfo] = {}
    for info in entries:
        trouble = _trouble(info)
        if trouble is not None:
            raise _refused(blob, f"The entry '{info.filename[:60]}' {trouble}.", limits.alone)
        if info.filename.startswith("__MACOSX/"):
            continue
        if info.filename.lower() in members:
            raise _refused(blob, f"The entry '{info.filename[:60]}' stands twice.", limits.again)
        members[info.filename.lower()] = info
    return members


def _check_sizes(blob: Blob, entries: list[zipfile.ZipInfo], limits: Limits) -> None:
    unpacked = sum(info.file_size for info in entries)
    packed = max(1, sum(info.compress_size for info in entries))
    if len(entries) > limits.entries:
        raise _refused(blob, f"{limits.what} holds {len(entries)} files.", limits.alone)
    if unpacked > limits.unpacked_mb * MB or unpacked / packed > limits.ratio:
        raise _refused(blob, f"{limits.what} would unpack to {unpacked / MB:.1f} MB.", limits.alone)


def _trouble(info: zipfile.ZipInfo) -> str | None:
    if not info.filename:
        return "has no name"
    path = PurePosixPath(info.filename)
    if path.is_absolute() or ".." in path.parts or "\\" in info.filename or ":" in info.filename:
        return "leaves its folder"
    if info.flag_bits & 1:
        return "is encrypted"
    if stat.S_ISLNK(info.external_attr >> 16):
        return "is a link"
    if path.suffix.lower() in {".zip", ".gz", ".7z", ".tar", ".rar"}:
        return "is an archive itself"
    return None

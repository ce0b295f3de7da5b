"""What comes together while the files of one field folder are read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import pandas as pd

from zoning.errors import Fault, InputRefused
from zoning.model import InputFile, Notice, Settings
from zoning.readings.files import Blob, read_text_file, read_vector_file
from zoning.readings.text_table import limited

T = TypeVar("T")


@dataclass(slots=True)
class Gathered:
    """Files read so far, their faults and notices, and the rows left out.

    Parameters
    ----------
    folder
        The field folder.
    settings
        ``field.toml``, checked.
    files
        Every file read, with its hash.
    faults, notices, left_out
        Filled by the readers.
    """

    folder: Path
    settings: Settings
    files: list[InputFile]
    faults: list[Fault] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    left_out: list[pd.DataFrame] = field(default_factory=list)

    def attempt(self, work: Callable[[], T]) -> T | None:
        """Do one piece of work; keep its faults and go on, so that all files speak at once."""
        try:
            return work()
        except InputRefused as error:
            self.faults.extend(limited(error.faults))
            return None

    def text(self, name: str, role: str) -> Blob:
        """Read a CSV file and list it."""
        return self._listed(read_text_file(self.folder, name, role))

    def vector(self, name: str, role: str) -> Blob:
        """Read a vector file and list it."""
        return self._listed(read_vector_file(self.folder, name, role))

    def _listed(self, blob: Blob) -> Blob:
        self.files.append(blob.record)
        return blob

"""What reading a plan folder back has shown."""

from __future__ import annotations

from dataclasses import dataclass

from zoning.errors import Fault


@dataclass(frozen=True, slots=True)
class Verified:
    """A plan folder read back, compared with itself and, where given, with its field folder.

    Parameters
    ----------
    plan_id
        Fingerprint that the plan states.
    field
        Name of the field.
    files, zones
        How many files and zones were compared.
    faults
        Everything that differs; empty where the plan is whole.
    notes
        What has changed since without bearing on the plan, and what was not compared.
    not_cleared
        How much of it is NOT CLEARED, and which of its files do not say so; blank where nothing is.
    """

    plan_id: str
    field: str
    files: int
    zones: int
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]
    not_cleared: str

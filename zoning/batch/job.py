"""What is sent to a worker and what comes back: plain values that travel between machines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from zoning.surface import FieldEvidence, SharedPrior

Status = Literal["planned", "kept", "refused", "failed", "set_aside", "not_done"]
DONE: tuple[Status, ...] = ("planned", "kept")


@dataclass(frozen=True, slots=True)
class Job:
    """One field to be planned.

    Parameters
    ----------
    field
        The field folder: a path, or an address that fsspec knows (``s3://bucket/farm/field``).
    version
        Version of the program that gave the job; a worker of another version refuses it.
    again
        Whether a plan made from the same inputs is made anew.
    purpose
        ``plan``: make the plan; ``evidence``: only say what the stations tell of the farm.
    shared
        What the other fields of the farm say; ``None``: the field stands alone.
    by_whom
        Who gives the plan out, for the season record.
    """

    field: str
    version: str
    again: bool = False
    purpose: Literal["plan", "evidence"] = "plan"
    shared: SharedPrior | None = None
    by_whom: str = ""


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """What the tables of a batch say of one plan; units as in ``batch.schema.json``."""

    name: str
    season: int | None
    plan_id: str
    area_ha: float
    worked_ha: float | None
    stations: int
    depths: str
    mean_depth_cm: float
    loss_cm: float | None
    single_depth_loss_cm: float | None
    work_h: float | None
    fuel_l: float | None
    lifted_h: float | None
    lifted_fuel_l: float | None
    cost: float | None
    currency: str
    priced: str
    machine: str
    cautions: str
    rating: str
    outline_wkb: bytes


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one field.

    Parameters
    ----------
    field
        As in the job.
    status
        ``planned``; ``kept``: a plan of the same inputs and version stands there already;
        ``refused``: the input or the plan is refused; ``failed``: a fault of the program or the
        machine; ``set_aside``: it ended its worker too often; ``not_done``: the batch was stopped.
    error
        Why there is no plan, in one line; empty where there is one.
    facts
        What the plan says; ``None`` where there is none.
    seconds, peak_memory_mb
        Time taken [s] and highest resident memory of the worker [MB]; ``None`` where nothing was
        planned.
    evidence
        What the stations tell of the farm, where that was asked.
    gone
        Names of what other programs had laid beside the files of the earlier plan, gone with it.
    told
        What came of keeping the plan in the season record, a line each, the level first.
    """

    field: str
    status: Status
    error: str = ""
    facts: PlanFacts | None = None
    seconds: float | None = None
    peak_memory_mb: float | None = None
    evidence: FieldEvidence | None = None
    gone: tuple[str, ...] = ()
    told: tuple[str, ...] = ()

"""Fields of one farm lend each other strength: two rounds, first what each says, then the plans."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from zoning import surface
from zoning.batch.job import Job
from zoning.batch.rules import rule
from zoning.batch.run import Engine
from zoning.surface import FieldEvidence, SharedPrior


def with_shared_priors(jobs: Sequence[Job], engine: Engine) -> tuple[Job, ...]:
    """Return `jobs`, each with the prior that the fields of its farm share.

    A farm is the folder that the field folders stand in. A field that says nothing, and a farm of
    too few fields, is left as it is. Of very many fields an even choice is asked.
    """
    farms = _farms(jobs)
    asked = [replace(job, purpose="evidence") for farm in farms.values() for job in _some(farm)]
    said = {o.field: o.evidence for o in engine(asked) if o.evidence is not None}
    priors = {name: _prior(farm, said) for name, farm in farms.items()}
    return tuple(replace(job, shared=priors[farm_of(job.field)]) for job in jobs)


def farm_of(field: str) -> str:
    """Return the folder that a field folder stands in."""
    return field.rstrip("/").rpartition("/")[0]


def _farms(jobs: Iterable[Job]) -> Mapping[str, list[Job]]:
    farms: dict[str, list[Job]] = {}
    for job in jobs:
        farms.setdefault(farm_of(job.field), []).append(job)
    return farms


def _some(farm: Sequence[Job]) -> Sequence[Job]:
    most = int(rule("shared_most_fields"))
    ordered = sorted(farm, key=lambda job: job.field)
    return [ordered[i * len(ordered) // most] for i in range(most)] if len(farm) > most else farm


def _prior(farm: Iterable[Job], said: Mapping[str, FieldEvidence]) -> SharedPrior | None:
    return surface.shared_prior([said[job.field] for job in farm if job.field in said])

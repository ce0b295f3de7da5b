"""Which fields lend each other strength."""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest

from zoning.batch import Job, Outcome, jobs_for, plan_field, with_shared_priors
from zoning.batch.rules import rule
from zoning.surface import FieldEvidence, field_evidence


@pytest.fixture
def evidence() -> FieldEvidence:
    import pandas as pd  # noqa: PLC0415

    rows = pd.DataFrame(
        {
            "station": list("abcd"), "kind": "cone", "x_m": [0.0, 40.0, 0.0, 40.0],
            "y_m": [0.0, 0.0, 40.0, 40.0], "n_pan": 1, "n_known": 1,
            "pan_base_cm": [30.0, 31.0, 33.0, 29.0], "error_sd_cm": 1.0, "censored": False,
            "date": "", "part_used": "body", "used": True,
        }
    )  # fmt: skip
    return field_evidence(rows)


def test_farms_are_told_apart_and_small_ones_are_left_alone(evidence: FieldEvidence) -> None:
    asked = []

    def engine(jobs: Sequence[Job]) -> Iterator[Outcome]:
        for job in jobs:
            asked.append(job)
            silent = job.field.endswith("silent")
            yield Outcome(job.field, "planned", evidence=None if silent else evidence)

    names = ["big/a", "big/b", "big/c", "big/silent", "small/a", "small/b", "big/sub/x"]
    jobs = with_shared_priors(jobs_for(names, again=True), engine)
    fields = {job.field: job.shared.fields if job.shared else 0 for job in jobs}
    assert fields == {
        "big/a": 3, "big/b": 3, "big/c": 3, "big/silent": 3, "small/a": 0, "small/b": 0,
        "big/sub/x": 0,
    }  # fmt: skip
    assert {job.purpose for job in asked} == {"evidence"}
    assert {(job.purpose, job.again) for job in jobs} == {("plan", True)}


def test_of_very_many_fields_an_even_choice_is_asked(evidence: FieldEvidence) -> None:
    asked = []

    def engine(jobs: Sequence[Job]) -> Iterator[Outcome]:
        asked.extend(job.field for job in jobs)
        return iter([Outcome(job.field, "planned", evidence=evidence) for job in jobs])

    most = int(rule("shared_most_fields"))
    jobs = jobs_for([f"farm/{number:05d}" for number in range(3 * most)])
    with_shared_priors(jobs, engine)
    numbers = np.array([int(name[-5:]) for name in asked])
    assert len(numbers) == most
    assert set(np.diff(numbers)) == {3}


def test_a_shared_prior_is_kept_in_the_plan_and_a_change_of_it_plans_anew(
    farm: Path,
) -> None:
    shutil.copytree(farm / "one", farm / "three")

    def engine(jobs: Sequence[Job]) -> Iterator[Outcome]:
        return map(plan_field, jobs)

    jobs = with_shared_priors(jobs_for([str(farm / n) for n in ("one", "two", "three")]), engine)
    first, alone = jobs[0], jobs_for([jobs[0].field])[0]
    assert first.shared.fields == 3
    assert plan_field(first).status == "planned"
    assert plan_field(first).status == "kept"
    assert "fields of the farm" in (farm / "one" / "plan" / "plan.json").read_text()
    assert plan_field(alone).status == "planned"

"""A worker uses one thread of every library that would take more."""

from __future__ import annotations

import os

import pytest

from zoning.batch import Job
from zoning.batch.worker import ONE_THREAD, plan_alone


def test_before_a_field_is_planned_every_library_is_told_to_use_one_thread(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for name in ONE_THREAD:
        monkeypatch.setenv(name, "8")
    outcome = plan_alone(Job("/no/such/field", "a version that nobody has"))
    assert outcome.status == "failed"
    assert {os.environ[name] for name in ONE_THREAD} == {"1"}

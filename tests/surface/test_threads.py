"""One thread inside a fit; every task is done whatever the cores."""

from __future__ import annotations

import pytest
from threadpoolctl import threadpool_info

from zoning.surface.threads import cores, one_thread, spread


def blas_threads():
    return [pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"]


def test_one_thread_inside_and_as_before_outside():
    before = blas_threads()
    assert set(one_thread(blas_threads)()) == {1}
    assert blas_threads() == before


@pytest.mark.parametrize("count", [0, 1, 2, 50])
def test_every_task_is_done_once(count):
    done: list[int] = []
    spread(done.append, list(range(count)))
    assert sorted(done) == list(range(count))


def test_an_error_in_a_task_is_not_lost():
    def fail(task):
        raise ValueError(task)

    with pytest.raises(ValueError, match="3"):
        spread(fail, [3, 3, 3, 3])


@pytest.mark.parametrize(("told", "expected"), [("1", 1), ("", None), ("0", None), ("x", None)])
def test_workers_that_are_told_to_use_one_thread_use_one(monkeypatch, told, expected):
    monkeypatch.delenv("OMP_NUM_THREADS", raising=False)
    untold = cores()
    monkeypatch.setenv("OMP_NUM_THREADS", told)
    assert cores() == (expected or untold) >= 1

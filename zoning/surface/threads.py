"""Threads: one for the linear algebra of a fit, all cores for many places.

A linear algebra library that splits a 60 x 60 matrix over its threads loses time (tenfold on a busy
machine) and lets the last digit depend on the number of cores; with one thread the same input gives
the same bytes. Places are independent of each other, so they are shared out over the cores instead.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import cache, wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController  # type: ignore[import-untyped]

_FEW_TASKS = 3

P = ParamSpec("P")
T = TypeVar("T")
R = TypeVar("R")


@cache
def _controller() -> ThreadpoolController:
    return ThreadpoolController()


def one_thread(function: Callable[P, R]) -> Callable[P, R]:
    """Return `function` run with one thread of linear algebra."""

    @wraps(function)
    def limited(*args: P.args, **kwargs: P.kwargs) -> R:
        with _controller().limit(limits=1, user_api="blas"):
            return function(*args, **kwargs)

    return limited


def cores() -> int:
    """Return the number of cores this process may use.

    No more than ``OMP_NUM_THREADS`` (OpenMP 5.2, section 21.1.2), by which the workers of a batch
    and of a cluster are told to use one.
    """
    told = os.environ.get("OMP_NUM_THREADS", "")
    most = int(told) if told.isdecimal() and int(told) > 0 else sys.maxsize
    return min(most, _present())


def _present() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@one_thread
def spread(function: Callable[[T], None], tasks: Sequence[T]) -> None:
    """Run `function` on every task, on all cores where there are enough of them."""
    workers = min(cores(), len(tasks))
    if workers < 2 or len(tasks) < _FEW_TASKS:
        for task in tasks:
            function(task)
        return
    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(function, tasks))

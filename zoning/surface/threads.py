"""One thread for the small matrices of a fit.

A linear algebra library that splits a 60 x 60 matrix over its threads loses time (tenfold on a busy
machine) and lets the last digit depend on the number of cores; with one thread the same input gives
the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController  # type: ignore[import-untyped]

P = ParamSpec("P")
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

"""Which engine plans the fields."""

from __future__ import annotations

from functools import partial

from zoning.batch.pool import on_this_machine
from zoning.batch.rules import rule
from zoning.batch.run import Engine
from zoning.errors import Fault, InputRefused


def engine_for(scheduler: str | None, processes: int | None) -> Engine:
    """Return the engine: processes of this machine, or the cluster of `scheduler`.

    Raises
    ------
    zoning.errors.InputRefused
        If both are named.
    """
    if scheduler is None:
        count = processes if processes is not None else int(rule("processes"))
        return partial(on_this_machine, processes=count)
    if processes is not None:
        what = "--processes is for this machine; the workers of a scheduler are started there."
        raise InputRefused([Fault("--scheduler", what, "Leave one of the two out.")])
    from zoning.batch.cluster import on_cluster  # noqa: PLC0415 - the extra `cluster`

    return partial(on_cluster, scheduler=scheduler)

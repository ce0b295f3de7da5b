"""Which depths a machine can be set to, and the best few of them.

Legs lifted out (depth 0) is not a working depth and does not count among ``max_depths``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from zoning.errors import PlanRefused
from zoning.model.settings import MachineSection

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def depth_options(machine: MachineSection) -> Floats:
    """Return 0, for legs lifted out, and the depths the machine can be set to, rising [cm].

    Raises
    ------
    PlanRefused
        If the deepest setting is shallower than the shallowest.
    """
    if machine.depth_max_cm < machine.depth_min_cm:
        raise PlanRefused(
            f"The machine's depth_max_cm ({machine.depth_max_cm:g}) is less than its depth_min_cm "
            f"({machine.depth_min_cm:g}). Give the shallowest setting as depth_min_cm."
        )
    return np.array([0.0, *machine.settings_cm])


def deepest_within(options_cm: Floats, cap_cm: ArrayLike) -> Floats:
    """Return the deepest option within each cap, 0 where the shallowest is too deep [cm]."""
    working = options_cm[options_cm > 0]
    place = np.searchsorted(working, np.asarray(cap_cm, dtype=np.float64), side="right")
    return np.concatenate([[0.0], working])[place]


def allowed_options(options_cm: Floats, cap_cm: Floats, *, lift_out: bool) -> Bools:
    """Return which options each place may have, shape ``(n, k)``.

    An option must not be deeper than the cap. Lifted out is allowed everywhere with `lift_out`, and
    without it only where the cap leaves no working depth: a cap outranks the wish to keep the legs
    in.

    Raises
    ------
    ValueError
        If a cap is not a number; no cap is written as infinity.
    """
    if np.isnan(cap_cm).any():
        raise ValueError("A cap on the working depth is not a number.")
    allowed = options_cm[None, :] <= cap_cm[:, None]
    lifted = options_cm == 0
    shallowest = options_cm[~lifted].min()
    allowed[:, lifted] = True if lift_out else (cap_cm < shallowest)[:, None]
    return allowed


def best_option(cost: Floats) -> Ints:
    """Return the column of least cost in each row, the shallowest of equals."""
    return np.asarray(np.argmin(cost, axis=1), dtype=np.int64)


def choose_levels(cost_by_cell: Floats, options: Floats, *, max_depths: int) -> Floats:
    """Return the best few working depths where each cell is free to take the best of them.

    Exact: a dynamic programme over the ordered options. It needs the cost of each cell to fall to
    its least and rise again along the options (an infinite end is a cap), as an expected pinball
    loss does; then the best of a few levels is one of the two that enclose the cell's own best
    option.

    Parameters
    ----------
    cost_by_cell
        Cost of each option at each cell, shape ``(n, k)``; a cell may also be any group of cells.
    options
        The options, rising, shape ``(k,)`` [cm]; 0 is always kept and does not count.
    max_depths
        Most working depths.

    Returns
    -------
    NDArray
        The chosen working depths, rising, without 0 [cm]; the fewest that reach the least cost.

    Raises
    ------
    ValueError
        If some cell has no option of finite cost whatever is chosen.
    """
    gaps = gap_costs(cost_by_cell)
    columns = _cheapest_stops(gaps, max_depths, start=int(options[0] == 0))
    return options[[column - 1 for column in columns]]


def gap_costs(cost: Floats) -> Floats:
    """Return what the cells cost whose own best option lies from level `a` up to before level `b`.

    Shape ``(k + 2, k + 2)``: the options stand at 1 to k between two walls that cost infinity;
    entry ``(a, b)`` is the sum over those cells of the lesser cost of the two levels.
    """
    n_options = cost.shape[1]
    place = best_option(cost) + 1
    order = np.argsort(place, kind="stable")
    walled = np.full((len(cost), n_options + 2), np.inf)
    walled[:, 1:-1] = cost[order]
    first = np.searchsorted(place[order], np.arange(n_options + 2))
    gaps = np.full((n_options + 2, n_options + 2), np.inf)
    for a in range(n_options + 1):
        for b in range(a + 1, n_options + 2):
            rows = slice(first[a], first[b])
            gaps[a, b] = np.minimum(walled[rows, a], walled[rows, b]).sum()
    return gaps


def _cheapest_stops(gaps: Floats, most: int, *, start: int) -> list[int]:
    """Return the stops on the cheapest way from `start` to the far wall, at most `most` of them."""
    wall = len(gaps) - 1
    reach = np.where(np.arange(wall) == start, 0.0, np.inf)  # least cost with the last stop there
    ends, came_from = [reach + gaps[:-1, wall]], []
    for _ in range(most):
        through = reach[:, None] + gaps[:-1, :-1]
        came_from.append(np.argmin(through, axis=0))
        reach = np.min(through, axis=0)
        ends.append(reach + gaps[:-1, wall])
    count = int(np.argmin([end.min() for end in ends]))
    if not np.isfinite(ends[count].min()):
        raise ValueError("Some place allows none of the depths.")
    stops = [int(np.argmin(ends[count]))]
    for origin in came_from[:count][::-1]:
        stops.append(int(origin[stops[-1]]))
    return stops[:-1][::-1]

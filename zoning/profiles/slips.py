"""A lone reading far below both its neighbours: a slip of the log or a hole in the soil."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from zoning.profiles.clean import Index, Readings
from zoning.profiles.rules import rule


def without_slips(readings: Readings, limit_mpa: float) -> tuple[Readings, Index]:
    """Put a straight line in the place of each lone reading far below its neighbours.

    A figure written ten times too low, a crack or a worm hole would part one pan into two. Such a
    reading is at most ``slip_share`` of the lower of the readings before and after it, and of the
    limit at most ``slip_low``; the lower neighbour is at least ``slip_beside`` of the limit, and
    the two stand no more than ``blank_gap_max_cm`` apart. Two low readings in a row are softer soil
    and stay. Shares, so that the unit of the cone index does not matter.

    Returns
    -------
    readings
        The same depths, the cone index of those readings drawn straight between their neighbours.
    at
        The readings replaced, in order.
    """
    of, depth, index = readings.of, readings.depth_cm, readings.cone_index_mpa
    lower = np.minimum(index[:-2], index[2:])
    lone = index[1:-1] <= rule("slip_share") * lower * (1 + 1e-9)
    lone &= index[1:-1] <= rule("slip_low") * limit_mpa * (1 + 1e-9)
    lone &= lower >= rule("slip_beside") * limit_mpa * (1 - 1e-9)
    lone &= depth[2:] - depth[:-2] <= rule("blank_gap_max_cm") + 1e-9
    at = np.flatnonzero(lone & (of[:-2] == of[2:])) + 1
    share = (depth[at] - depth[at - 1]) / (depth[at + 1] - depth[at - 1])
    drawn = index.copy()
    drawn[at] = index[at - 1] + share * (index[at + 1] - index[at - 1])
    return replace(readings, cone_index_mpa=drawn), at

"""Joining stations that stand close together, so that very many of them stay workable."""

from __future__ import annotations

import numpy as np

from zoning.surface.covariance import Array, Index

_GROWTH = 1.25


def neighbour_groups(xy_m: Array, part: Index, most: int) -> Index:
    """Return a group number for each station, at most `most` groups, shape ``(n,)``.

    Stations of one part in one square of a grid are a group; the grid is the finest of a growing
    series that is coarse enough; one group a part if none is. With `most` stations or fewer each is
    a group of its own.
    """
    if len(xy_m) <= most:
        return np.arange(len(xy_m))
    extent = np.ptp(xy_m, axis=0)
    side = float(np.sqrt(max(extent.prod(), 1.0) / most))
    while True:
        cell = np.floor((xy_m - xy_m.min(axis=0)) / side)
        key = np.column_stack([part, cell])
        unique, group = np.unique(key, axis=0, return_inverse=True)
        if len(unique) <= most or side > extent.max():
            return group.reshape(-1).astype(np.int64)
        side *= _GROWTH

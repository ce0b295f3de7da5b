"""The order in which to walk to the stations.

Straight lines are reckoned: hedges, ponds and crops in the way are not known.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from zoning.contracts import constant

Floats = NDArray[np.float64]
Places = NDArray[np.float64]

_GAIN_M = 1e-9


def walking_order(places: Places, start: Places | None) -> list[int]:
    """Return the rows of `places` in the order of a short walk.

    From `start` round all places and back to it, or from any place to any other without a start.
    The shortest walk for few places (Held and Karp's dynamic programme), else a walk that no
    exchange of two legs and no move of up to three places in a row makes shorter.

    Parameters
    ----------
    places
        Shape ``(n, 2)`` [m].
    start
        Gateway or vehicle, shape ``(2,)`` [m].
    """
    if len(places) < 2:
        return list(range(len(places)))
    legs = _legs(places, start)
    if len(places) <= constant("survey_rules", "exact_walk_stations"):
        tour = _shortest(legs)
    else:
        tours = [_improved(_nearest_first(legs, first), legs) for first in _starts(legs)]
        tour = min(tours, key=lambda found: (round(length(found, legs), 6), found))
    rest = [node - 1 for node in tour if node > 0]
    return rest if rest[0] < rest[-1] else rest[::-1]


def walk_m(places: Places, order: list[int], start: Places | None) -> Floats:
    """Return how far one has walked at each place of the order, shape ``(n,)`` [m]."""
    path = places[order]
    first = path[0] if start is None else start
    legs = np.hypot(*np.diff(np.vstack([first, path]), axis=0).T)
    return np.asarray(np.cumsum(legs), dtype=np.float64)


def length(tour: list[int], legs: Floats) -> float:
    """Return the length of a round tour."""
    return float(legs[tour, np.roll(tour, -1)].sum())


def _legs(places: Places, start: Places | None) -> Floats:
    """Return distances between node 0 (the start, at no distance from all if there is none) ..."""
    first = places[:1] if start is None else np.reshape(start, (1, 2))
    nodes = np.vstack([first, places])
    legs = np.hypot(*(nodes[:, None] - nodes[None]).transpose(2, 0, 1))
    if start is None:
        legs[0], legs[:, 0] = 0.0, 0.0
    return np.asarray(legs, dtype=np.float64)


def _shortest(legs: Floats) -> list[int]:
    """Return the shortest tour from node 0 by dynamic programming over sets of nodes."""
    n = len(legs) - 1
    best = np.full((1 << n, n), np.inf)
    came = np.zeros((1 << n, n), dtype=np.int64)
    for last in range(n):
        best[1 << last, last] = legs[0, last + 1]
    for held in range(1, 1 << n):
        for last in (k for k in range(n) if held >> k & 1 and held != 1 << k):
            through = best[held ^ (1 << last)] + legs[1:, last + 1]
            came[held, last] = np.argmin(through)
            best[held, last] = through[came[held, last]]
    held = (1 << n) - 1
    last = int(np.argmin(best[held] + legs[1:, 0]))
    path = []
    while held:
        path.append(last + 1)
        held, last = held ^ (1 << last), int(came[held, last])
    return [0, *path[::-1]]


def _starts(legs: Floats) -> list[int]:
    """Return nodes to begin a walk at: the start, the farthest node, and the one in the middle."""
    return sorted({0, int(np.argmax(legs.sum(axis=0))), int(np.argmin(legs[1:].sum(axis=0)))})


def _nearest_first(legs: Floats, first: int) -> list[int]:
    left, tour = np.ones(len(legs), dtype=bool), [first]
    left[first] = False
    while left.any():
        tour.append(int(np.argmin(np.where(left, legs[tour[-1]], np.inf))))
        left[tour[-1]] = False
    return tour


def _improved(tour: list[int], legs: Floats) -> list[int]:
    while True:
        shorter = _two_legs(tour, legs) or _moved(tour, legs)
        if shorter is None:
            return tour[tour.index(0) :] + tour[: tour.index(0)]
        tour = shorter


def _two_legs(tour: list[int], legs: Floats) -> list[int] | None:
    """Return the tour with the best stretch turned round (2-opt), None if none is shorter."""
    here, after = np.array(tour), np.roll(tour, -1)
    own = legs[here, after]
    change = legs[np.ix_(here, here)] + legs[np.ix_(after, after)] - own[:, None] - own[None]
    change[np.tril_indices(len(tour))] = 0.0
    i, j = np.unravel_index(int(np.argmin(change)), change.shape)
    if change[i, j] > -_GAIN_M:
        return None
    return tour[: i + 1] + tour[i + 1 : j + 1][::-1] + tour[j + 1 :]


def _moved(tour: list[int], legs: Floats) -> list[int] | None:
    """Return the tour with a run of one to three places moved elsewhere, None if none helps."""
    for size in (1, 2, 3):
        for at in range(len(tour)):
            turned = tour[at:] + tour[:at]
            run, rest = turned[:size], turned[size:]
            found = _best_gap(run, rest, legs)
            if found is not None:
                return found
    return None


def _best_gap(run: list[int], rest: list[int], legs: Floats) -> list[int] | None:
    before, after = np.array(rest), np.roll(rest, -1)
    gap = legs[before, after]
    saved = legs[rest[-1], run[0]] + legs[run[-1], rest[0]] - legs[rest[-1], rest[0]]
    ahead = legs[before, run[0]] + legs[run[-1], after] - gap
    behind = legs[before, run[-1]] + legs[run[0], after] - gap
    i = int(np.argmin(np.minimum(ahead, behind)))
    if min(ahead[i], behind[i]) > saved - _GAIN_M:
        return None
    return rest[: i + 1] + (run if ahead[i] <= behind[i] else run[::-1]) + rest[i + 1 :]

"""Stones: thin spikes within a profile, and a push that began or ended on one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from zoning.profiles.clean import Flags, Index, Numbers, Readings
from zoning.profiles.rules import rule

_LONGEST_RUN = 60


def height_needed_mpa(thickness_cm: Numbers, limit_mpa: float) -> Numbers:
    """Return how far a bump must stand above both neighbours to be a stone [MPa]; inf if too thick.

    Constant up to ``spike_thin_cm``, rising evenly to ``spike_thick_cm``: the thicker the bump, the
    more it must stand out before it is a stone rather than a thin pan. Shares of the limit, so that
    the unit of the cone index does not matter. Source: this project's choice (profile_rules.csv).
    """
    at = (rule("spike_thin_cm"), rule("spike_thick_cm"))
    shares = (rule("spike_thin_excess"), rule("spike_thick_excess"))
    height = np.interp(thickness_cm, at, shares) * limit_mpa
    return np.where(thickness_cm > at[1] + 1e-9, np.inf, height)


def without_stones(readings: Readings, limit_mpa: float) -> tuple[Readings, Index]:
    """Put a straight line in the place of each stone.

    A stone is a run of readings that all stand clearly above the reading before and the one after
    it (by ``spike_flank_excess`` of the limit), no thicker than ``spike_thick_cm``, its peak far
    enough above the higher of the two. It may be as thick as ``block_cm`` where its edges are
    sharp: every reading of it ``block_excess`` above neighbours within ``block_edge_cm``.
    Wide runs are sought first, so that the flanks of a stone go with it.

    Returns
    -------
    readings
        The same depths; the cone index under a stone is drawn straight between its neighbours.
    at
        The hardest reading of each stone taken out.
    """
    depth, found = readings.depth_cm, [np.empty(0, dtype=np.int64)]
    clean = readings
    for length in range(_longest(readings), 0, -1):
        runs = _runs(clean, length, limit_mpa)
        index = clean.cone_index_mpa.copy()
        for k in range(length):
            share = (depth[runs + k] - depth[runs - 1]) / (depth[runs + length] - depth[runs - 1])
            low, high = index[runs - 1], index[runs + length]
            index[runs + k] = low + share * (high - low)
        within = clean.cone_index_mpa[runs[:, None] + np.arange(length)]
        found.append(runs + within.argmax(axis=1))
        clean = replace(clean, cone_index_mpa=index)
    return clean, np.concatenate(found)


def _longest(readings: Readings) -> int:
    """Return the greatest number of readings that a stone can cover."""
    steps = np.diff(readings.depth_cm)[~readings.first()[1:]]
    if not len(steps):
        return 0
    most = math.floor(rule("block_cm") / float(steps.min()) + 1e-9)
    return min(_LONGEST_RUN, max(1, most))


def _runs(readings: Readings, length: int, limit_mpa: float) -> Index:
    """Return the first reading of each run of `length` readings that is a stone."""
    n = len(readings.of) - length - 1
    if n < 1:
        return np.empty(0, dtype=np.int64)
    of, depth, index = readings.of, readings.depth_cm, readings.cone_index_mpa
    window = np.lib.stride_tricks.sliding_window_view(index, length)[1 : n + 1]
    shoulder = np.maximum(index[:n], index[length + 1 :])
    lowest, highest = window.min(axis=1) - shoulder, window.max(axis=1) - shoulder
    thickness = (depth[length + 1 :] - depth[:n]) * length / (length + 1)
    edge = np.maximum(depth[1 : n + 1] - depth[:n], depth[length + 1 :] - depth[length:-1])
    enough = (1 - 1e-9) * limit_mpa
    spike = lowest >= rule("spike_flank_excess") * enough
    spike &= highest >= height_needed_mpa(thickness, limit_mpa) * (1 - 1e-9)
    block = lowest >= rule("block_excess") * enough
    block &= (thickness <= rule("block_cm") + 1e-9) & (edge <= rule("block_edge_cm") + 1e-9)
    stone = (of[:n] == of[length + 1 :]) & (spike | block)
    return np.flatnonzero(stone) + 1


def ends_on_stone(readings: Readings, limit_mpa: float) -> Flags:
    """Mark the readings at the foot of a push that leap up from the soil above them.

    The leap is ``end_jump_excess`` of the limit or more, within ``spike_thin_cm`` or one reading.
    Such readings say nothing about the soil: the cone met a stone, or was stopped in one step.
    """
    return _leaps(readings, readings.last(), limit_mpa, into=-1)


def begins_on_stone(readings: Readings, limit_mpa: float) -> Flags:
    """Mark the readings at the head of a push that leap up from the soil below them.

    The same leap as at the foot: a stone, a clod or a thin crust at the surface.
    """
    return _leaps(readings, readings.first(), limit_mpa, into=1)


def _leaps(readings: Readings, at_end: Flags, limit_mpa: float, *, into: int) -> Flags:
    """Mark runs that begin at an end of each insertion and go `into` it by one reading a step."""
    of, depth, index = readings.of, readings.depth_cm, readings.cone_index_mpa
    leap = np.zeros(len(of), dtype=bool)
    end = np.flatnonzero(at_end)
    for length in range(1, _longest(readings) + 1):
        next_to = np.clip(end + into * length, 0, len(of) - 1)
        inside = (next_to == end + into * length) & (of[next_to] == of[end])
        edge, soil = end[inside], next_to[inside]
        runs = edge + into * np.arange(length)[:, None]
        rise = index[runs].min(axis=0) - index[soil]
        thin = np.abs(depth[edge] - depth[soil]) <= rule("spike_thin_cm") + 1e-9
        tall = rise >= rule("end_jump_excess") * limit_mpa * (1 - 1e-9)
        leap[runs[:, tall & (thin | (length == 1))]] = True
    return leap

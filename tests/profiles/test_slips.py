"""Lone readings far below both their neighbours."""

from __future__ import annotations

import numpy as np
import pytest

from zoning.profiles import interpret
from zoning.profiles.clean import Readings
from zoning.profiles.rules import rule
from zoning.profiles.slips import without_slips

LIMIT = 2.0


def readings(index, step=5.0, of=None):
    q = np.asarray(index, dtype=float)
    of = np.zeros(len(q), np.int64) if of is None else np.asarray(of, dtype=np.int64)
    return Readings(of, step * np.arange(1, len(q) + 1), q)


@pytest.mark.parametrize(
    ("kept", "step", "why"),
    [
        ([1.0, 2.6, 0.4, 0.4, 2.6, 1.0], 5.0, "two readings are softer soil"),
        ([1.0, 2.6, 1.0, 2.6, 1.0], 5.0, "soil between two pans"),
        ([0.6, 0.7, 0.1, 0.8, 0.6], 5.0, "loose topsoil"),
        ([1.0, 2.6, 0.3, 2.6, 1.0], 10.0, "neighbours too far apart"),
        ([1.0, 12.0, 1.3, 12.0, 1.0], 2.5, "soil between two stones"),
        ([2.6, 0.3], 5.0, "nothing below it"),
    ],
)
def test_what_is_no_slip_stays(kept, step, why) -> None:
    clean, at = without_slips(readings(kept, step), LIMIT)
    assert clean.cone_index_mpa.tolist() == kept, why
    assert len(at) == 0


def test_neighbours_of_another_insertion_do_not_make_a_slip() -> None:
    log = [2.4, 2.5, 0.3, 2.6, 2.5]
    assert len(without_slips(readings(log), LIMIT)[1]) == 1
    assert len(without_slips(readings(log, of=[0, 0, 0, 1, 1]), LIMIT)[1]) == 0


def test_the_share_of_the_neighbours_decides() -> None:
    for factor, found in ((0.99, 1), (1.01, 0)):
        log = [2.4, factor * rule("slip_share") * 2.4, 2.6]
        assert len(without_slips(readings(log), LIMIT)[1]) == found


@pytest.mark.parametrize("step", [5.0, 2.5])
@pytest.mark.parametrize("place", [4, 5, 6])
def test_a_figure_ten_times_too_low_leaves_the_base_within_a_step(
    insertion, pan_profile, place, step
) -> None:
    """A pan from 20 to 40 cm; any one of its readings is written ten times too low."""
    depth = np.arange(step, 61, step)
    truth = pan_profile(depth, 20.0, 40.0)
    slipped = truth.copy()
    at = round(place * 5.0 / step)
    slipped[at] /= 10
    right, seen = (
        interpret(insertion("A/1", depth, log), limit_mpa=LIMIT).iloc[0] for log in (truth, slipped)
    )
    assert seen["verdict"] == "pan"
    assert abs(seen["pan_base_cm"] - right["pan_base_cm"]) < 0.5 * step
    assert abs(seen["pan_top_cm"] - right["pan_top_cm"]) < 0.5 * step
    assert f"far below both neighbours: at {depth[at]:g} cm." in seen["reason"]

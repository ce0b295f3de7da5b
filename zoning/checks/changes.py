"""What the pits of one piece of ground ask to change: speed, depth, points, spacing, soil."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from zoning.checks.depth import depth_steps, off_but_passed, shallower
from zoning.checks.ground import Ground
from zoning.checks.kept import unchanged
from zoning.checks.metal import bare_ridge, metal_steps
from zoning.checks.speed import speed_kept, speed_steps
from zoning.checks.steps import MISSED, Step
from zoning.checks.trials import wanted_ridge_cm

_SOIL = "If none of this helps, wait for drier soil: test a thread of it at working depth."


def asks(ground: Ground) -> bool:
    """Return whether the pits ask for something to be said of the speed.

    Parameters
    ----------
    ground
        The ground with the pits that tell of the setting.
    """
    missed = ground.state in MISSED
    ridged = ground.slow_left_pan or (missed and not ground.ridge_cm <= wanted_ridge_cm())
    # Between legs that ran shallow a moderate ridge says nothing of the speed yet.
    deep_enough = ridged and not ground.ran_short
    whole_pieces = missed and ground.mostly_unbroken
    return ground.uneven or whole_pieces or deep_enough or bool(np.isfinite(ground.slower_km_h))


def changes(ground: Ground, *, settled: bool) -> Iterator[Step]:
    """Yield what the pits ask to change, and to keep what they found good.

    Parameters
    ----------
    ground
        The ground with the pits that tell of the setting.
    settled
        Whether all its pits give the verdict that it is reached.
    """
    missed = ground.state in MISSED
    ridged = missed and not ground.ridge_cm <= wanted_ridge_cm()
    uneven = ground.uneven
    shallow = missed and ground.ran_short
    whole_pieces = missed and ground.mostly_unbroken
    speed = list(speed_steps(ground) if asks(ground) else speed_kept(ground))
    yield from speed
    tried = bool(speed)  # what may help, beside the pins that only bring back the plan
    if missed and (shallow or not ground.slows):
        deeper = list(depth_steps(ground))
        yield from deeper
        tried |= bool(deeper) and not shallow
    if not missed and ground.state != "too_deep":
        yield from off_but_passed(ground)
    if ground.state == "too_deep":
        yield from shallower(ground)
    if not ground.slows:
        metal = whole_pieces or (ridged and not (shallow and not uneven))
        if metal or ground.fast_ridge_words:
            yield from metal_steps(ground)
            tried = True
        if (missed and tried) or ground.fast_ridge_words:
            yield Step("soil", _SOIL)
    if ground.state == "reached" and not (speed or ground.ran_short or ground.fast_ridge_words):
        same = () if ground.ran_deep else unchanged(ground, settled=settled)
        yield from bare_ridge(ground, settled=settled) if uneven else same

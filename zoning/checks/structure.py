"""The visual score of a block of soil whose layers differ."""

from __future__ import annotations

import math
from collections.abc import Sequence


def block_score(scores: Sequence[float], thickness_cm: Sequence[float]) -> float:
    r"""Return the score of a block from those of its layers, weighted by thickness.

    .. math:: Sq = \sum_i Sq_i T_i / \sum_i T_i

    Ball, Batey and Munkholm, Soil Use and Management 23, 2007, 329-337 (from memory). It holds for
    the scores of one method: scores of the subsoil method are never averaged with those of the
    spade.

    Parameters
    ----------
    scores
        Score of each layer, 1 (friable) to 5 (very compact).
    thickness_cm
        Thickness of each layer, above zero [cm].

    Raises
    ------
    ValueError
        If there is no layer, the numbers differ, a score lies outside 1 to 5 or a thickness is not
        above zero.
    """
    if not scores or len(scores) != len(thickness_cm):
        raise ValueError(
            "Each layer needs a score and a thickness, and there must be one at least."
        )
    if not all(1 <= score <= 5 for score in scores):
        raise ValueError("A score lies between 1 and 5.")
    if not all(math.isfinite(thick) and thick > 0 for thick in thickness_cm):
        raise ValueError("A layer is thicker than nothing.")
    weighted = sum(score * thick for score, thick in zip(scores, thickness_cm, strict=True))
    return weighted / sum(thickness_cm)

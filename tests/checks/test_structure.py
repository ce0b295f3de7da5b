"""The score of a layered block by thickness."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.checks.structure import block_score


def test_the_worked_example() -> None:
    # Ball et al. 2007 (formula from memory): 10 cm of score 2 over 15 cm of score 4 is 3.2.
    assert block_score([2, 4], [10, 15]) == pytest.approx(3.2)


@given(st.lists(st.tuples(st.floats(1, 5), st.floats(0.5, 40)), min_size=1, max_size=6))
def test_it_is_numpys_weighted_mean(layers: list[tuple[float, float]]) -> None:
    scores, thick = zip(*layers, strict=True)
    assert block_score(scores, thick) == pytest.approx(np.average(scores, weights=thick))


@pytest.mark.parametrize(
    ("scores", "thick", "words"),
    [
        ([], [], "Each layer"),
        ([2, 3], [10], "Each layer"),
        ([0.5], [10], "between 1 and 5"),
        ([float("nan")], [10], "between 1 and 5"),
        ([2], [0], "thicker than nothing"),
        ([2], [float("inf")], "thicker than nothing"),
    ],
)
def test_layers_that_make_no_sense_are_refused(
    scores: list[float], thick: list[float], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        block_score(scores, thick)

"""What the published rating leaves to say, in words that fit the count."""

from __future__ import annotations

import pandas as pd
import pytest

from zoning.workflow.interpret import _calls_for


@pytest.mark.parametrize(
    ("points", "said"),
    [
        (0, "No cone station says whether"),
        (1, "Only 1 cone station says whether"),
        (3, "Only 3 cone stations say whether"),
    ],
)
def test_few_stations_are_counted_in_words_that_fit(points: int, said: str) -> None:
    row = {"part": "whole field", "points": points, "over_limit": 0, "loosen": ""}
    (notice,) = _calls_for(pd.DataFrame([{**row, "rating": "", "few_points": True}]))
    assert notice.code == "few-stations"
    assert notice.text.startswith(said)

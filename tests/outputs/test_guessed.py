"""Ground is guessed where no station or pit that is used tells whether there is a pan."""

from __future__ import annotations

import pandas as pd

from zoning.outputs.guessed import unread_parts

PARTS = pd.DataFrame({"part": ["headland", "body", "gateway", "old pond"]})


def test_a_part_is_read_only_where_a_used_station_answers() -> None:
    stations = pd.DataFrame(
        {
            "part_used": ["body", "headland", "gateway", "old pond"],
            "used": [True, True, False, True],
            "n_known": [1, 2, 1, 0],
        }
    )
    assert unread_parts(PARTS, stations) == ["gateway", "old pond"]
    assert unread_parts(PARTS, stations.assign(used=True, n_known=1)) == []

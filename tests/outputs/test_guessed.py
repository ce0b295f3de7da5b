"""Ground is guessed where no station or pit that is used tells whether there is a pan."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
from shapely import box

from zoning.outputs.guessed import noted_otherwise, unread_parts

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


def test_stations_in_it_that_were_noted_as_of_another_part_are_named() -> None:
    parts = gpd.GeoDataFrame(
        {"part": ["body", "gateway"]}, geometry=[box(10, 0, 90, 90), box(0, 0, 10, 10)]
    )
    stations = pd.DataFrame(
        {
            "station": ["D3", "D2", "D4", "D5", "D6"],
            "part_used": ["headland", "headland", "headland", "gateway", "headland"],
            "used": [True, True, False, True, True],
            "n_known": [1, 1, 1, 1, 1],
            "x_m": [2.0, 3.0, 4.0, 5.0, 50.0],
            "y_m": 5.0,
        }
    )
    assert noted_otherwise("gateway", parts, stations) == "D2, D3 in it noted and read as headland"
    assert noted_otherwise("gateway", parts, stations[2:]) == ""
    assert noted_otherwise("gateway", parts[["part"]], stations) == ""  # no map to ask

"""A station beside a hazard is held up by it where its run is, and only there."""

from __future__ import annotations

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import LineString, Point

from zoning.workflow.held import held_by

# One pass of six pieces 5 m long; a drain crosses the second, and the first three are shallow.
PIECES = pd.DataFrame({"pass_id": 1, "step": range(6)})
DEPTH_CM = np.array([25.0, 25.0, 25.0, 40.0, 40.0, 40.0])
HAZARDS = gpd.GeoDataFrame(
    {
        "kind": ["drain", "obstacle"],
        "name": "",
        "depth_cm": [45.0, np.nan],
        "clear_m": [1.0, 1.0],
    },
    geometry=[LineString([(7.5, -50), (7.5, 50)]), Point(12, 4)],
)


def held(piece: int, base_cm: float, **choice: object) -> str:
    given = {
        "depth_cm": DEPTH_CM,
        "cap_cm": np.array([50.0, 30.0, 50.0, 50.0, 50.0, 50.0]),
        "levels_cm": np.array([25.0, 40.0]),
    }
    place = pd.DataFrame({"x_m": [5 * piece + 2.5], "y_m": 0.0, "pan_base_cm": [base_cm]})
    chosen = SimpleNamespace(**{**given, **choice})
    return held_by(place, np.array([piece]), PIECES, chosen, HAZARDS)[0]


def test_a_station_in_the_shallow_run_is_held_by_the_drain() -> None:
    assert held(2, 38.0) == "H1 drain"
    assert held(0, 38.0) == "H1 drain"


@pytest.mark.parametrize(
    ("piece", "base_cm", "choice"),
    [
        (3, 44.0, {}),  # beyond the run
        (2, 28.0, {}),  # the drain would allow as much as the base needs
        (2, 38.0, {"levels_cm": np.array([25.0, 30.0, 40.0])}),  # 30 cm is allowed and not taken
        (2, np.nan, {}),  # no base was read
        (2, 38.0, {"cap_cm": np.full(6, 50.0)}),  # no hazard on the run
    ],
)
def test_other_stations_are_not(piece: int, base_cm: float, choice: dict[str, object]) -> None:
    assert held(piece, base_cm, **choice) == ""

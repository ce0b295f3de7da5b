"""A station beside a hazard is held up by it where its run is, and only there."""

from __future__ import annotations

from types import SimpleNamespace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import LineString, Point, box

from zoning.depths import DepthChoice, Places
from zoning.model import PanSurface, Settings
from zoning.model.settings import DepthSection, FieldSection, MachineSection
from zoning.workflow.held import beside_notices, held_by, held_up

# One pass of six pieces 5 m long; a drain crosses the second, and the first three are shallow.
PIECES = pd.DataFrame(
    {"pass_id": 1, "step": range(6), "from_m": 5.0 * np.arange(6), "to_m": 5.0 * np.arange(1, 7)}
)
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


def held(piece: int, base_cm: float, min_run_m: float = 15.0, **choice: object) -> str:
    given = {
        "depth_cm": DEPTH_CM,
        "cap_cm": np.array([50.0, 30.0, 50.0, 50.0, 50.0, 50.0]),
        "levels_cm": np.array([25.0, 40.0]),
    }
    place = pd.DataFrame({"x_m": [5 * piece + 2.5], "y_m": 0.0, "pan_base_cm": [base_cm]})
    chosen = SimpleNamespace(**{**given, **choice})
    (name,) = held_by(place, np.array([piece]), PIECES, chosen, HAZARDS, min_run_m=min_run_m)
    return name


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


def test_a_drain_further_off_than_the_shortest_run_holds_nothing_up() -> None:
    shallow = np.full(6, 25.0)
    assert held(4, 38.0, depth_cm=shallow) == "H1 drain"  # 10 m beyond its piece
    assert held(5, 38.0, depth_cm=shallow) == ""  # 15 m
    assert held(5, 38.0, min_run_m=15.1, depth_cm=shallow) == "H1 drain"


def test_a_depth_that_no_part_of_the_plan_has_is_not_kept_away_by_the_drain() -> None:
    assert held(2, 44.0, depth_cm=np.full(6, 25.0), levels_cm=np.array([25.0])) == ""


def beside(
    base_cm: float,
    probability: float = 0.9,
    hazards: gpd.GeoDataFrame = HAZARDS,
    area_m2: tuple[float, ...] = (15.0,) * 6,
    ridge_cm: float = 0.0,
    **choice: object,
) -> list[str]:
    """Return the notes on one pass of six pieces, 5 m long and 3 m wide, with one pan beneath."""
    given = {
        "depth_cm": DEPTH_CM,
        "cap_cm": np.array([50.0, 30.0, 50.0, 50.0, 50.0, 50.0]),
        "levels_cm": np.array([25.0, 40.0]),
    }
    along = np.column_stack([5 * np.arange(6) + 2.5, np.zeros(6)])
    places = Places(np.arange(6), np.full(6, "body"), along, np.array(area_m2))
    pan = PanSurface(
        np.full(6, base_cm), np.full(6, 2.0), np.full(6, probability), np.ones(6, np.int64), {}
    )
    chosen = SimpleNamespace(**{**given, **choice})
    size = {"width_m": 3.0, "min_run_m": 15.0, "ridge_cm": ridge_cm}
    found = beside_notices(places, pan, PIECES, chosen, hazards, **size)
    return [note.text for note in found]


def test_the_metres_that_the_shortest_run_draws_out_beside_a_drain_are_told() -> None:
    # The drain asks for 30 cm on the second piece alone; the run holds for 5 m before and behind.
    (text,) = beside(38.0)
    assert "H1 drain 10 m. A likely pan stays there, on less than 0.01 ha." in text
    assert "A shorter min_run_m than 15 m" in text


def test_the_ridge_that_the_depths_hold_leaves_the_pan_between_legs_beside_a_drain_too() -> None:
    assert beside(28.0) == []
    (text,) = beside(28.0, ridge_cm=4.5)
    assert "H1 drain 10 m. A likely pan stays there, between legs at least, on less than" in text
    between_settings = HAZARDS.assign(depth_cm=HAZARDS["depth_cm"] + 4.0)  # none of this plan's
    assert "H1 drain 10 m. " in beside(32.0, hazards=between_settings)[0]


def test_a_sliver_beside_a_hazard_is_no_ground_that_an_operator_sees() -> None:
    (text,) = beside(38.0, area_m2=(2.9, 15.0, 15.0, 15.0, 15.0, 15.0))
    assert "H1 drain 5 m. " in text
    assert beside(38.0, area_m2=(2.9, 15.0, 2.9, 15.0, 15.0, 15.0)) == []


def test_legs_that_stay_lifted_beside_a_service_are_not_told_as_shallow_work() -> None:
    caps = np.array([50.0, 50.0, 50.0, 50.0, 0.0, 50.0])
    depth = np.array([40.0, 40.0, 40.0, 0.0, 0.0, 0.0])
    hazards = HAZARDS.assign(kind=["drain", "service"])
    (text,) = beside(38.0, cap_cm=caps, depth_cm=depth, hazards=hazards)
    assert "H2 service (legs lifted) 10 m. " in text


def test_ground_that_needs_no_more_or_has_no_likely_pan_is_not_told() -> None:
    assert beside(24.0) == []
    assert beside(38.0, probability=0.3) == []
    assert beside(38.0, cap_cm=np.full(6, 50.0)) == []
    assert beside(38.0, levels_cm=np.array([25.0, 30.0, 40.0])) == []


def up(assurance: float, min_run_m: float = 15.0, **changed: object) -> frozenset[int]:
    """Return which of the zones that the depths above make a hazard holds up."""
    given = {
        "depth_cm": DEPTH_CM,
        "cap_cm": np.array([50.0, 25.0, 50.0, 50.0, 50.0, 50.0]),
        "levels_cm": np.array([25.0, 40.0]),
        "losses": None,
        "at_most_loss_cm": (),
        "notices": (),
    }
    choice = DepthChoice(**{**given, **changed})
    pieces = gpd.GeoDataFrame(PIECES, geometry=[box(5 * i, 0, 5 * i + 5, 3) for i in range(6)])
    names = np.where(choice.depth_cm == choice.depth_cm[0], 1, 2)
    depth = {1: choice.depth_cm[0], 2: choice.depth_cm[-1]}
    zones = pd.DataFrame({"zone": [1, 2], "depth_cm": [depth[1], depth[2]], "assurance": assurance})
    settings = Settings(
        field=FieldSection(name="F", boundary="b"),
        machine=MachineSection(depth_min_cm=20.0, depth_step_cm=5.0, depth_max_cm=50.0),
        depth=DepthSection(min_run_m=min_run_m),
    )
    return held_up(zones, names, pieces, choice, settings)


def test_a_zone_is_held_up_where_on_most_of_it_a_hazard_forbids_the_next_setting() -> None:
    assert up(0.1) == {1}
    assert up(0.6) == frozenset()  # it passes the pan all the same
    assert up(0.1, min_run_m=0.0) == frozenset()  # only the piece over the drain: a third
    deeper = np.array([50.0, 30.0, 50.0, 50.0, 50.0, 50.0])
    assert up(0.1, cap_cm=deeper) == frozenset()  # the next setting is allowed
    all_deep = np.array([50.0, 50.0, 50.0, 40.0, 40.0, 40.0])
    assert up(0.1, depth_cm=all_deep, cap_cm=np.full(6, 50.0)) == frozenset()  # the deepest


def test_lifted_ground_over_a_hazard_is_held_up_where_it_allows_no_depth_of_the_plan() -> None:
    lifted = np.array([0.0, 0.0, 0.0, 40.0, 40.0, 40.0])
    only = {"depth_cm": lifted, "levels_cm": np.array([40.0])}
    assert up(0.9, **only) == {1}
    assert up(0.9, **only, cap_cm=np.full(6, 50.0)) == frozenset()  # no pan there
    service = np.array([50.0, 0.0, 50.0, 50.0, 50.0, 50.0])
    assert up(0.9, **only, cap_cm=service) == frozenset()  # told by its own words

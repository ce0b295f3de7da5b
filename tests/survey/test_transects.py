from __future__ import annotations

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from zoning.survey.transects import across


@given(st.floats(-180, 180), st.floats(0.8, 4), st.floats(-0.3, 0.3))
def test_both_ends_lie_beyond_their_edge_at_right_angles(
    turn_deg: float, width: float, off: float
) -> None:
    wheeling = shapely.affinity.rotate(
        box(-100, -width / 2, 100, width / 2), turn_deg, origin=(0, 0)
    )
    place = shapely.get_coordinates(
        shapely.affinity.rotate(shapely.Point(3.0, off * width), turn_deg, origin=(0, 0))
    )[0]
    outer = across(place, wheeling, box(-500, -500, 500, 500), 4.0)
    assert len(outer) == 2
    gaps = shapely.distance(shapely.points(outer), wheeling)
    assert gaps == pytest.approx([4.0, 4.0])
    one, two = outer - place
    assert one[0] * two[1] - one[1] * two[0] == pytest.approx(0.0, abs=1e-6)
    assert one @ two < 0


def test_an_end_off_the_ground_is_left_out() -> None:
    wheeling = box(-100, -1, 100, 1)
    outer = across(np.array([0.0, 0.2]), wheeling, box(-50, 0, 50, 50), 4.0)
    assert outer.tolist() == [[0.0, 5.0]]


def test_a_place_on_the_edge_has_no_transect() -> None:
    found = across(np.array([0.0, 1.0]), box(-100, -1, 100, 1), box(-50, -50, 50, 50), 4.0)
    assert len(found) == 0

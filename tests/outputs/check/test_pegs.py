"""Pegs cover no sign where there is room, and stay tied to their places."""

from __future__ import annotations

import pandas as pd
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.outputs.check.pegs import SIGN_MM, peg_ground, peg_tips, pegs

PAPER = shapely.box(0, 0, 100, 100)
SPOTS = st.tuples(st.floats(10, 90), st.floats(10, 90))


def test_a_peg_without_a_sign_near_stands_at_its_place() -> None:
    assert peg_tips([(50.0, 50.0)], [], PAPER) == [(50.0, 50.0)]
    assert peg_ground((50.0, 50.0)).covers(shapely.Point(50, 50))


@settings(deadline=None)
@given(SPOTS)
def test_a_peg_at_a_cone_station_does_not_cover_it(place: tuple[float, float]) -> None:
    sign = shapely.Point(place).buffer(SIGN_MM)
    (tip,) = peg_tips([place], [sign], PAPER)
    assert peg_ground(tip).intersection(sign).area < 1e-3
    assert shapely.Point(place).distance(shapely.Point(tip)) <= SIGN_MM + 1e-9


def test_a_peg_among_signs_finds_free_ground_on_the_paper_and_is_tied_to_its_place() -> None:
    place = (3.0, 6.0)
    signs = [shapely.Point(spot).buffer(SIGN_MM) for spot in (place, (3.0, 2.0), (6.5, 3.0))]
    (tip,) = peg_tips([place], signs, PAPER)
    assert PAPER.covers(peg_ground(tip))
    assert sum(peg_ground(tip).intersection(sign).area for sign in signs) < 1e-3
    digs = pd.DataFrame({"order": [1], "reason": ["The cone still meets a pan at <C1>."]})
    (drawn,) = pegs(digs, [place], [tip])
    assert f"M3.00 6.00L{tip[0]:.2f} {tip[1]:.2f}" in drawn
    assert "Dig next 1: The cone still meets a pan at &lt;C1&gt;." in drawn
    assert "M3.00 6.00L" not in pegs(digs, [place], [place])[0]


def test_two_places_close_together_give_two_pegs_apart() -> None:
    one, other = peg_tips([(50.0, 50.0), (50.5, 50.5)], [], PAPER)
    assert peg_ground(one).intersection(peg_ground(other)).area < 1e-3

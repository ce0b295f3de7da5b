from __future__ import annotations

import numpy as np
import pytest
from depths.plain_passes import framed, loop, placed, rules, straight
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, box

from zoning.depths.steps import chains_of, change_charge, piece_cost


def test_cost_of_a_piece_is_loss_times_area_over_its_places() -> None:
    loss = np.array([[1.0, 2.0], [3.0, 5.0], [7.0, 11.0]])
    cost = piece_cost(placed(np.array([0, 0, 1]), np.array([4.0, 6.0, 2.0])), loss, 2)
    assert cost.tolist() == [[1 * 4 + 3 * 6, 2 * 4 + 5 * 6], [7 * 2, 11 * 2]]


@given(st.permutations(range(8)))
def test_order_of_the_places_does_not_matter(order: list[int]) -> None:
    piece, loss = np.arange(8) % 4, np.random.default_rng(0).integers(0, 99, (8, 3)) / 4
    one = piece_cost(placed(piece, 2.0), loss, 4)
    other = piece_cost(placed(piece[order], 2.0), loss[order], 4)
    assert (one == other).all()


def test_steps_follow_each_other_along_each_pass() -> None:
    order, chains = chains_of(straight(3, 4))
    assert order.tolist() == list(range(12))
    assert chains.first.tolist() == [0, 4, 8, 12]
    assert not chains.closed.any()
    assert (chains.length_m == 5.0).all()


def test_steps_out_of_order_are_put_in_order() -> None:
    rows = [(0, 1, "body", 1, 5.0, 9.0), (1, 1, "body", 0, 0.0, 5.0)]
    laid = framed(rows, [box(0, 5, 3, 9), box(0, 0, 3, 5)], [LineString([(1.5, 0), (1.5, 9)])])
    order, chains = chains_of(laid)
    assert order.tolist() == [1, 0]
    assert chains.length_m.tolist() == [5.0, 4.0]


def test_a_broken_pass_is_driven_as_two() -> None:
    _, chains = chains_of(straight(1, 6, gap_after=2))
    assert chains.first.tolist() == [0, 3, 6]


def test_a_round_that_ends_where_it_began_is_a_loop() -> None:
    _, chains = chains_of(loop())
    assert chains.closed.tolist() == [True]


def test_a_broken_round_is_no_loop() -> None:
    laid = loop()
    laid.pieces.loc[10:, ["from_m", "to_m"]] += 3.0
    _, chains = chains_of(laid)
    assert chains.closed.tolist() == [False, False]


@pytest.mark.parametrize(("control", "charge"), [("hydraulic", 10.0), ("pins", 40.0)])
def test_charge_of_a_change_is_the_loss_of_one_step_too_deep_along_the_named_length(
    control: str, charge: float
) -> None:
    machine = {"legs": 10, "leg_spacing_cm": 40, "depth_step_cm": 2.5, "depth_control": control}
    # 5 m or 20 m, x 4 m x 2.5 cm x 0.2, by hand
    assert change_charge(rules(machine, assurance=0.8)) == pytest.approx(charge)

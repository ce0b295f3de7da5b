"""A sliver of work among lifted ground is lifted too, unless it brings what going there costs."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import box

from zoning.depths.islands import patches_not_worth

PIECES = np.array([box(x, y, x + 10, y + 5) for y in range(0, 500, 5) for x in (0, 10)])
AREA = np.full(len(PIECES), 50.0)
PASS = np.arange(len(PIECES)) % 2  # two passes side by side


def cost(*, lifted: float = 6.0, worked: float = 5.9) -> np.ndarray:
    return np.column_stack([np.full(len(PIECES), lifted), *[np.full(len(PIECES), worked)] * 2]) * 50


def worked(*pieces: int) -> np.ndarray:
    option = np.zeros(len(PIECES), dtype=np.int64)
    option[list(pieces)] = 1
    return option


def test_a_patch_that_brings_less_than_its_charge_is_named_piece_by_piece() -> None:
    patches = patches_not_worth(PIECES, worked(6, 8), cost(), AREA, PASS, 20.0)
    assert [patch.tolist() for patch in patches] == [[6, 8]]  # 2 x 50 m2 x 0.1 cm = 10 cm m2


@pytest.mark.parametrize(
    ("option", "table", "charge"),
    [
        (worked(6, 8), cost(), 9.0),  # it brings more
        (worked(6, 8), cost(), 0.0),  # nothing is charged
        (worked(6, 8), cost(lifted=np.inf), 20.0),  # legs may not be lifted
        (worked(*range(20, 28)), cost(), 1e9),  # not little: 4 % of the field
        (worked(), cost(), 20.0),  # nothing is worked
    ],
)
def test_other_work_stays(option: np.ndarray, table: np.ndarray, charge: float) -> None:
    assert patches_not_worth(PIECES, option, table, AREA, PASS, charge) == ()


def test_work_that_a_hazard_keeps_shallow_stays() -> None:
    table = cost()
    table[6, 2] = np.inf
    assert patches_not_worth(PIECES, worked(6, 8), table, AREA, PASS, 20.0) == ()


def test_patches_that_do_not_touch_are_weighed_apart() -> None:
    patches = patches_not_worth(PIECES, worked(6, 8, 150), cost(), AREA, PASS, 8.0)
    assert [patch.tolist() for patch in patches] == [[150]]


def test_each_pass_of_a_patch_is_charged() -> None:
    corner = worked(6, 7, 8)  # two pieces of one pass, one of the other: 15 cm m2
    assert patches_not_worth(PIECES, corner, cost(), AREA, PASS, 7.0) == ()
    (patch,) = patches_not_worth(PIECES, corner, cost(), AREA, PASS, 8.0)
    assert patch.tolist() == [6, 7, 8]

"""A gateway shallower than the headland is told; a deeper one, or one held by a hazard, is not."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from zoning.depths import Places
from zoning.model import Notice
from zoning.workflow.gateway import gateway_notices

PARTS = pd.DataFrame({"part": ["gateway", "headland"], "kind": ["gateway", "headland"]})
STATIONS = pd.DataFrame({"part": ["gateway", "gateway", "headland"], "used": [True, False, True]})


def told(depth_cm: tuple[float, float], base_cm: tuple[float, float]) -> tuple[Notice, ...]:
    part = np.array(["gateway"] * 3 + ["headland"] * 5)
    places = Places(np.arange(8), part, np.zeros((8, 2)), np.full(8, 2.0))
    depth = np.repeat(np.array(depth_cm), [3, 5])
    base = np.repeat(np.array(base_cm), [3, 5])
    return gateway_notices(PARTS, STATIONS, places, depth, base, step_cm=2.5)


def test_a_shallower_gateway_is_told_with_depths_and_readings() -> None:
    (note,) = told((37.5, 45.0), (33.0, 40.0))
    assert (note.level, note.code) == ("note", "gateway-shallower")
    assert "worked 38 cm deep on average, the headland 45 cm" in note.text
    assert "(1 station)" in note.text


@pytest.mark.parametrize(
    ("depth_cm", "base_cm"),
    [
        ((45.0, 45.0), (40.0, 41.0)),  # the same setting
        ((44.0, 45.0), (40.0, 41.0)),  # less than a step
        ((50.0, 45.0), (44.0, 40.0)),  # deeper, as most are
        ((30.0, 45.0), (44.0, 40.0)),  # held shallow by a hazard: the pan is no shallower
    ],
)
def test_others_are_not(depth_cm: tuple[float, float], base_cm: tuple[float, float]) -> None:
    assert told(depth_cm, base_cm) == ()


def test_a_field_without_headland_has_nothing_to_compare() -> None:
    places = Places(np.arange(2), np.array(["gateway", "gateway"]), np.zeros((2, 2)), np.ones(2))
    assert gateway_notices(PARTS, STATIONS, places, np.ones(2), np.ones(2), step_cm=2.5) == ()

"""Worked beyond the deepest setting is named: zone, part, what is worked there and the pan."""

from __future__ import annotations

import numpy as np
import pytest

from zoning.model.settings import FieldSection, MachineSection, Settings
from zoning.workflow.too_shallow import too_shallow_notices
from zoning.workflow.worked import Worked

PINS = Settings(
    field=FieldSection(name="made by hand", boundary="none"),
    machine=MachineSection(depth_step_cm=5, depth_max_cm=45),
)
GATEWAY = (1, "gateway", 540, 48.2, 40, 45, 43.6, 0.9)
HEADLAND = (1, "headland", 9000, 41, 40, 45, 37, 0.9)


def told(*places: tuple[float | str, ...]) -> list[str]:
    """Return the cautions on places: zone, part, m2, needed, worked, cap, base, pan probability."""
    zone, part, *numbers = zip(*places, strict=True)
    area, needed, depth, cap, base, pan = (np.array(held, dtype=float) for held in numbers)
    ground = Worked(
        *(np.array(zone), np.array(part), area, needed, depth, cap, pan, base, pan),
        *(np.array(zone), np.zeros(len(area))),
    )
    return [note.text for note in too_shallow_notices(ground, PINS)]


def test_zone_part_work_and_pan_of_ground_beyond_the_deepest_setting_are_named() -> None:
    (text,) = told(HEADLAND, GATEWAY)
    assert text.startswith(
        "On 0.05 ha the depth needed lies beyond the deepest setting of 45 cm, by up to 3 cm: "
        "gateway in zone 1 (worked 40 cm, pan to 44 cm). The pan may stay whole there"
    )
    assert "headland" not in text


def test_a_pan_whose_base_is_passed_is_not_said_to_stay_whole() -> None:
    # The need lies beyond the deepest setting by the ridge of trial runs, or by the assurance.
    passed = (7, "body", 9000, 48, 45, 45, 36, 0.9)
    (text,) = told(passed, (7, "body", 40, 52, 45, 45, 47, 0.9))  # prints as no hectare
    assert ". The pan may stay there, most likely between legs: dig behind the machine" in text
    assert "may stay whole there" in told(passed, (7, "body", 60, 52, 45, 45, 47, 0.9))[0]


def test_the_largest_ground_stands_first_and_slivers_are_not_named() -> None:
    sliver = (8, "gateway", 9, 48, 35, 45, 43, 0.9)
    body = (3, "body", 4000, 50, 45, 45, 46, 0.9)
    (text,) = told(GATEWAY, sliver, body)
    assert ": body in zone 3 (worked 45 cm, pan to 46 cm), gateway in zone 1 (" in text
    assert "zone 8" not in text


def test_the_pan_of_places_is_their_mean_where_a_pan_is() -> None:
    deep, doubted = (1, "body", 5000, 52, 45, 45, 48, 0.9), (1, "body", 5000, 46, 45, 45, 38, 0.1)
    assert "pan to 47 cm" in told(deep, doubted)[0]


@pytest.mark.parametrize(
    "place",
    [
        HEADLAND,
        (1, "body", 5000, 45.4, 45, 45, 40, 0.9),  # prints as no centimetre
        (1, "body", 40, 52, 45, 45, 47, 0.9),  # prints as no hectare
        (1, "body", 5000, 52, 40, 40, 47, 0.9),  # no machine works deeper over this drain
    ],
)
def test_other_ground_is_not_told(place: tuple[float | str, ...]) -> None:
    assert told(place) == []

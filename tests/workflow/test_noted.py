"""Stations noted on a part that the map has elsewhere, or not at all, are named."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely import box

from zoning.model import Notice
from zoning.workflow.noted import (
    noted_elsewhere,
    noted_notices,
    pits_on_the_map,
    unmapped_notices,
)

# A field of 100 m whose headland is drawn 18 m wide along the west side, a wheeling in its middle.
PARTS = gpd.GeoDataFrame(
    {
        "part": ["headland", "wheeling", "body"],
        "kind": ["headland", "wheeling", "body"],
        "area_ha": [0.18, 0.03, 0.79],
    },
    geometry=[
        box(0, 0, 18, 100),
        box(58.5, 0, 61.5, 100),
        box(18, 0, 58.5, 100).union(box(61.5, 0, 100, 100)),
    ],
)


def stood(*places: tuple[str, float, str], used: bool = True) -> pd.DataFrame:
    names = ["station", "x_m", "part"]
    table = pd.DataFrame(list(places), columns=names).assign(y_m=50.0, used=used)
    return table.assign(part_used=table["part"].where(table["part"] != "", "body"))


def told(table: pd.DataFrame, base_cm: float = 30.0, depth_cm: float = 35.0) -> list[Notice]:
    """Return what is told of stations with this base and work on parts that the map has."""
    read = table.assign(pan_base_cm=base_cm)
    notices = noted_notices(read, PARTS, np.full(len(read), depth_cm))
    return [notice for notice in notices if notice.code == "part-differs"]


def test_a_pit_recorded_on_another_part_than_the_map_has_there_is_named() -> None:
    (note,) = told(stood(("G5", 22.0, "headland"), ("G4", 16.5, "body")))
    assert (note.level, note.code) == ("note", "part-differs")
    assert "G4 (body, map: headland), G5 (headland, map: body)." in note.text


@pytest.mark.parametrize(
    ("x_m", "part", "phase", "counts_for", "by_map"),
    [
        (80.0, "headland", "after", "body", True),
        (80.0, "headland", "before", "headland", False),
        (22.9, "headland", "after", "headland", False),  # within the 5 m that a receiver errs
        (23.1, "headland", "after", "body", True),
        (80.0, "", "after", "body", True),
        (80.0, "old yard", "after", "old yard", False),  # the map has no such part: told elsewhere
        (200.0, "headland", "after", "headland", False),  # off the field: not judged
    ],
)
def test_a_pit_behind_the_machine_far_off_the_part_noted_counts_for_that_of_its_place(
    x_m: float, part: str, phase: str, counts_for: str, *, by_map: bool
) -> None:
    rows = [("Y1", phase, x_m, 50.0, part)]
    pits = pd.DataFrame(rows, columns=["pit", "phase", "x_m", "y_m", "part"])
    found, notices = pits_on_the_map(pits, PARTS)
    assert found["part"].tolist() == [counts_for]
    assert found["part_noted"].tolist() == [not by_map]
    assert [n.pits for n in notices] == ([("Y1",)] if by_map and part else [])
    if notices:
        assert f"Y1 ({part}, map: body; {x_m - 18:.0f} m off)" in notices[0].text


def beside(*x_m: float) -> list[str]:
    """Return what is told of stations noted on the wheeling (58.5 to 61.5 m) at so far east."""
    table = stood(*((f"W{at}", x, "wheeling") for at, x in enumerate(x_m)))
    notices = noted_notices(table.assign(pan_base_cm=30.0), PARTS, np.full(len(x_m), 35.0))
    return [notice.text for notice in notices if notice.code == "wheelings-beside"]


def test_stations_noted_on_wheelings_that_lie_beside_them_on_one_side_doubt_the_strips() -> None:
    (text,) = beside(62.3, 64.5, 63.0, 62.0, 60.0)
    assert text.startswith(
        "Of 5 stations noted on a wheeling, on its strips of the map or near them, 4 lie beside, "
        "by 0.5 to 3 m, to the east: "
    )
    assert "to the west" in beside(58.0, 57.0, 56.5, 57.5)[0]


@pytest.mark.parametrize(
    "x_m",
    [
        (62.3, 64.5, 63.0),  # three on one side come by chance once in four
        (62.3, 64.5, 57.0, 57.5, 63.0),  # to both sides, as receivers err
        (62.3, 64.5, 63.0, 62.0, 60.0, 60.0, 59.0, 61.0),  # no more than half of them
        (70.0, 71.0, 72.0, 73.0),  # far off: told one by one
    ],
)
def test_what_receivers_may_err_is_no_doubt_of_the_strips(x_m: tuple[float, ...]) -> None:
    assert beside(*x_m) == []


def test_the_body_is_not_to_be_drawn() -> None:
    for part, drawn in (("body", False), ("headland", True)):
        at = 16.0 if part == "body" else 30.0
        (caution,) = told(stood(("A", at, part)), base_cm=40.0)
        assert (caution.level, "or draw the" in caution.text) == ("caution", drawn)


@pytest.mark.parametrize(
    "place",
    [
        ("A", 10.0, "headland"),  # as the map has it
        ("A", 10.0, ""),  # nothing recorded
        ("A", 10.0, "gateway"),  # a part the map does not have is told elsewhere
        ("A", 18.6, "headland"),  # nearer than a metre
        ("A", 60.9, "body"),  # in the strip, 0.6 m from the body
        ("A", 64.0, "wheeling"),  # 2.5 m beside it: less than a receiver tells
    ],
)
def test_what_fits_the_map_is_not(place: tuple[str, float, str]) -> None:
    assert told(stood(place)) == []


def test_a_wheeling_recorded_far_from_every_wheeling_is_named() -> None:
    (note,) = told(stood(("W1", 80.0, "wheeling")))
    assert "W1 (wheeling, map: body)" in note.text
    assert told(stood(("W1", 80.0, "wheeling"), used=False)) == []


@pytest.mark.parametrize(
    ("base_cm", "depth_cm", "level", "words"),
    [
        (48.0, 40.0, "caution", "W1 (wheeling, map: body; base 48 cm, worked 40 cm)."),
        (48.0, 0.0, "caution", "W1 (wheeling, map: body; base 48 cm, legs lifted out)."),
        (40.4, 40.0, "note", "W1 (wheeling, map: body)."),
        (np.nan, 40.0, "note", "W1 (wheeling, map: body)."),
    ],
)
def test_where_the_pan_stays_under_a_wheeling_that_is_not_drawn_it_is_a_caution(
    base_cm: float, depth_cm: float, level: str, words: str
) -> None:
    (note,) = told(stood(("W1", 80.0, "wheeling")), base_cm, depth_cm)
    assert note.level == level
    assert words in note.text
    lacks = "or draw the wheeling that the map lacks there" in note.text
    assert lacks == ("so the pan stays" in note.text) == (level == "caution")


def test_in_a_named_area_a_wheeling_is_to_be_drawn_clear_of_it() -> None:
    pad = PARTS.assign(
        part=PARTS["part"].replace("body", "pad"), kind=["headland", "wheeling", "named"]
    )
    read = stood(("W1", 80.0, "wheeling")).assign(pan_base_cm=48.0)
    (note,) = noted_notices(read, pad, np.array([40.0]))
    assert note.text.endswith("or draw the wheeling that the map lacks there, clear of pad.")


def test_stations_noted_elsewhere_are_those_off_their_part_and_on_none() -> None:
    table = stood(("W1", 80.0, "wheeling"), ("A", 10.0, "headland"), ("G", 10.0, "gateway"))
    assert noted_elsewhere(table, PARTS).tolist() == [True, False, True]


def noted(*told: tuple[str, str, float, float]) -> list[str]:
    """Return the cautions on stations: name, part noted, base read and work there [cm]."""
    table = pd.DataFrame(list(told), columns=["station", "part", "pan_base_cm", "depth_cm"])
    told_of = unmapped_notices(table.assign(used=True), table["depth_cm"].to_numpy())
    return [n.text for n in told_of]


def test_bases_of_several_days_are_those_the_plan_takes_and_none_of_a_station_left_out() -> None:
    read = stood(("W1", 80.0, "wheeling"), ("G1", 10.0, "gateway"), ("G2", 12.0, "gateway"))
    read = read.assign(pan_base_cm=[41.2, 38.0, 45.0], used=[True, True, False])
    lost, off = noted_notices(read, PARTS, np.full(3, 40.0), days=True)
    assert "G1, G2 (base taken 38 cm, worked 40 cm): noted on gateway" in lost.text
    assert "W1 (wheeling, map: body; base taken 41 cm, worked 40 cm)" in off.text


def test_stations_on_a_part_that_is_not_drawn_are_told_with_base_work_and_what_stays() -> None:
    wheels = [("P17", "wheeling", 41.3, 35.0), ("P4", "wheeling", 39.6, 35.0)]
    (text,) = noted(*wheels, ("P9", "wheeling", np.nan, 30.0))
    assert "P4, P9, P17 (base 40 to 41 cm, worked 35 cm): noted on wheeling, but no" in text
    assert "counts as wheeling, so the pan stays there. Draw the wheeling and plan" in text
    (lifted,) = noted(("P4", "wheeling", 40.0, 0.0))
    assert "P4 (base 40 cm, legs lifted out): noted" in lifted
    assert "the pan stays there" in lifted
    (deep,) = noted(("G1", "gateway", 34.0, 40.0))
    assert "G1 (base 34 cm, worked 40 cm): noted on gateway" in deep
    assert "counts as gateway. Draw the gateway and plan again" in deep
    (none,) = noted(("G1", "gateway", np.nan, 40.0))
    assert none.startswith("G1: noted on gateway, but no ground")
    (some,) = noted(("B1", "headland", 41.0, 38.0), ("B2", "headland", 35.0, 38.0))
    assert "counts as headland, so the pan stays where the base is the deeper. Draw" in some
    assert len(noted(*wheels, ("G1", "gateway", 34.0, 40.0))) == 2
    assert noted() == []

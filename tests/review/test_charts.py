"""The chart: depths where they belong, said in words too, well-formed whatever is missing."""

from __future__ import annotations

import dataclasses
import re
from itertools import product
from xml.etree import ElementTree as ET

import pytest

from zoning.records import Pit
from zoning.review.charts import FOOT, TOP, pair_chart
from zoning.review.views import Cone

BEFORE = Pit(season=2026, pit="P1", phase="before", pan="yes", pan_top_cm=20.0, pan_base_cm=30.0)
AFTER = Pit(season=2026, pit="A1", phase="after", loosened_at_leg_cm=36.0, loosened_between_cm=31.0)
PUSH = tuple((float(depth), 1.0 + depth / 50) for depth in range(0, 50, 5))
CONE = Cone("S<1>", 4.0, "2026-08-19", "body", (PUSH, ((0.0, None), (5.0, 1.5))))


@pytest.mark.parametrize(
    ("before", "after", "cone", "planned"),
    list(product((BEFORE, None), (AFTER, None), (CONE, None), (35.0, 0.0, None))),
)
def test_it_is_well_formed_whatever_is_missing(
    before: Pit | None, after: Pit | None, cone: Cone | None, planned: float | None
) -> None:
    root = ET.fromstring(pair_chart((before, after), (cone, None), planned, 2.0))  # noqa: S314
    words = root.get("aria-label") or ""
    assert ("pan before 20 to 30 cm" in words) == (before is not None)
    assert ("loosened at a leg to 36 cm" in words) == (after is not None)
    assert ("planned 35 cm" in words) == (planned == 35)
    assert ("lifted out" in words) == (planned == 0)


def test_the_planned_depth_lies_between_the_depths_around_it() -> None:
    """35 of 50 cm down the axis."""
    chart = pair_chart((BEFORE, AFTER), (CONE, None), 35.0, 2.0)
    found = re.search(r'd="M[\d.]+ ([\d.]+)H[\d.]+" stroke="#00224e"', chart)
    assert found is not None
    assert float(found[1]) == pytest.approx(TOP + (FOOT - TOP) * 35 / 50, abs=0.1)


@pytest.mark.parametrize("planned", [29.0, 30.0, 31.0, 35.0, 36.0, 37.0, 38.0, 39.0])
def test_the_line_of_the_planned_depth_crosses_no_words_of_a_pit(planned: float) -> None:
    root = ET.fromstring(pair_chart((None, AFTER), (None, None), planned, 2.0))  # noqa: S314
    line = TOP + (FOOT - TOP) * planned / 50
    words = [one for one in root.iter("text") if (one.text or "").startswith(("at leg", "betw"))]
    assert len(words) == 2
    for one in words:
        foot = float(one.get("y") or 0)
        assert not foot - 12 < line < foot + 2, one.text


def test_an_empty_profile_draws_nothing_false() -> None:
    empty = Cone("S1", 1.0, "", "", (((0.0, None),), ()))
    ET.fromstring(pair_chart((None, None), (empty, empty), None, 2.0))  # noqa: S314


@pytest.mark.parametrize("between", [25.0, None])
def test_a_pan_without_a_noted_top_is_open_at_the_top(between: float | None) -> None:
    """Neither the surface nor the depth loosened between legs is drawn as its top."""
    left = Pit(season=2026, pit="A1", phase="after", pan="yes", pan_base_cm=30,
               loosened_between_cm=between)  # fmt: skip
    chart = pair_chart((None, left), (None, None), None, 2.0)
    assert 'fill="#d8cfa8"' not in chart
    found = re.search(r'd="M[\d.]+ ([\d.]+)v([\d.]+)h[\d.]+v-([\d.]+)" fill="none"', chart)
    assert found is not None
    top, down, up = map(float, found.groups())
    assert top + down == pytest.approx(TOP + (FOOT - TOP) * 30 / 50, abs=0.1)
    assert down == up < (FOOT - TOP) * 5 / 50
    assert "pan to 30" in chart
    assert "top not noted" in chart
    known = dataclasses.replace(left, pan_top_cm=22.0)
    chart = pair_chart((None, known), (None, None), None, 2.0)
    assert "top not noted" not in chart
    block = re.search(r'y="([\d.]+)" width="[\d.]+" height="([\d.]+)" fill="#d8cfa8"', chart)
    assert block is not None
    assert float(block[2]) == pytest.approx((FOOT - TOP) * 8 / 50, abs=0.1)
    # Said in words too.
    bare = dataclasses.replace(BEFORE, pan_top_cm=None)
    assert "pan before to 30 cm, top not noted" in pair_chart((bare, None), (None, None), None, 2.0)

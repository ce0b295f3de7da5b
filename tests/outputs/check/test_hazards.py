"""Hazards on the map of a check: tag, cap and keep-off as the plan goes by them."""

from __future__ import annotations

import re

import numpy as np
from outputs.small_check import small_check, with_hazards
from shapely import Point, Polygon

from zoning.contracts import deepest_cm, keep_off_m
from zoning.outputs.check.hazards import hazard_marks, hazard_words
from zoning.outputs.drawing.frame import Frame
from zoning.outputs.drawing.plan import tagged_hazards


def test_the_words_state_cap_and_keep_off_that_the_plan_goes_by() -> None:
    check = small_check()
    unknown = check.hazards.assign(depth_cm=np.nan, clear_m=np.nan)
    drain, service = tagged_hazards(unknown)
    told = hazard_words(drain, check)
    assert "cover not known" in told
    named = tagged_hazards(unknown.assign(name="main, cover not known"))[0]
    assert hazard_words(named, check).count("cover not known") == 1
    assert f"no deeper than {float(deepest_cm('drain', np.nan)):g} cm" in told
    wide = float(keep_off_m("service", np.nan, check.settings.machine.width_m))
    assert hazard_words(service, check).endswith(f"legs lifted out within {wide:g} m each side")


def test_only_hazards_in_or_near_the_field_are_drawn_each_with_its_tag() -> None:
    check = small_check()
    frame = Frame.around(check.boundary.bounds, 190, 200)
    marks = hazard_marks(check, frame)
    assert len(marks) == 2
    assert ">H1<" in marks[0]
    far = check.hazards.assign(geometry=[Point(0, 0), check.hazards.geometry.iloc[1]])
    (one,) = hazard_marks(with_hazards(check, far), frame)
    assert ">H2<" in one
    assert all(frame.width_mm > 0 and "NaN" not in mark for mark in marks)


def test_the_tag_of_a_hazard_stands_clear_of_a_pit_on_its_line() -> None:
    check = small_check()
    frame = Frame.around(check.boundary.bounds, 85, 120)

    def tag(taken: list[Polygon]) -> Point:
        x, y = re.findall(
            r'<text x="([-\d.]+)" y="([-\d.]+)"', hazard_marks(check, frame, taken)[0]
        )[-1]
        return Point(float(x), float(y))

    pit = tag([]).buffer(1.8)
    assert tag([]).distance(pit) == 0
    assert tag([pit]).distance(pit) > 1.5

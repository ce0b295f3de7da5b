"""The chart of ridge against speed: points where the numbers put them."""

from __future__ import annotations

import dataclasses
import xml.etree.ElementTree as ET

import pytest
from outputs.small_check import small_check, trials, without_pits

from zoning.outputs.check.chart import HEIGHT, SIZE, WIDTH, ridge_chart

SVG = "{http://www.w3.org/2000/svg}"


def points(text: str) -> dict[str, tuple[float, float]]:
    root = ET.fromstring(text)  # noqa: S314 - our own text
    found = {}
    for group in root.iter(f"{SVG}g"):
        title, disc = group.find(f"{SVG}title"), group.find(f"{SVG}circle")
        if title is not None and disc is not None:
            found[title.text or ""] = (float(disc.get("cx", 0)), float(disc.get("cy", 0)))
    return found


def test_runs_and_pits_lie_on_one_pair_of_axes() -> None:
    found = points(ridge_chart(small_check()))
    run = found["Run <A>: 4 km/h, ridge 11 cm, surface level"]
    fast = found["Run B: 10 km/h, ridge 3 cm, surface level"]
    pit = found["Pit =A0: 4 km/h, ridge 11 cm"]
    assert pit == pytest.approx(run, abs=0.02)
    assert fast[0] > run[0]
    assert fast[1] > run[1]  # Less ridge lies lower on the paper.


def test_the_title_of_the_upright_axis_is_not_cut_off() -> None:
    root = ET.fromstring(ridge_chart(small_check()))  # noqa: S314 - our own text
    (title,) = [t for t in root.iter(f"{SVG}text") if "rotate(-90" in t.get("transform", "")]
    middle = float(title.get("y", 0))
    # The widest letters of DejaVu Sans but m and w are 0.63 em wide (its metrics, from memory).
    half = len(title.text or "") * 0.63 * SIZE / 2
    assert middle - half >= 0
    assert middle + half <= HEIGHT


def test_the_plans_speed_and_allowance_are_told() -> None:
    # Settings drive 8 km/h: on the line from 11 at 4 to 3 at 10 that is 5.7 cm.
    assert "plan, 8 km/h: 5.7 cm" in ridge_chart(small_check())


@pytest.mark.parametrize("km_h", [2.0, 8.0, 9.9])
def test_the_words_on_the_plan_stay_on_the_paper(km_h: float) -> None:
    check = small_check()
    machine = dataclasses.replace(check.settings.machine, speed_km_h=km_h)
    inputs = dataclasses.replace(
        check.inputs, settings=dataclasses.replace(check.settings, machine=machine)
    )
    root = ET.fromstring(ridge_chart(dataclasses.replace(check, inputs=inputs)))  # noqa: S314
    (label,) = [t for t in root.iter(f"{SVG}text") if (t.text or "").startswith("plan, ")]
    # The widest letters of DejaVu Sans but m and w are 0.63 em wide (its metrics, from memory).
    wide, x = len(label.text or "") * 0.63 * SIZE, float(label.get("x", 0))
    left = x - wide if label.get("text-anchor") == "end" else x
    assert left >= 0
    assert left + wide <= WIDTH


def test_a_pit_that_no_ridge_and_no_speed_goes_by_is_not_drawn() -> None:
    check = small_check()
    named = "Pit =A0: 4 km/h, ridge 11 cm"
    own = dataclasses.replace(check, steady=check.steady - {"=A0"})
    assert named in points(ridge_chart(check))
    assert named not in points(ridge_chart(own))


def test_a_surface_that_is_not_level_is_a_square() -> None:
    rough = trials().assign(surface="cloddy")
    assert ridge_chart(small_check(runs=rough)).count("<rect") > ridge_chart(small_check()).count(
        "<rect"
    )


def test_a_pit_in_plastic_soil_is_marked_and_explained() -> None:
    check = small_check()
    wet = check.pits.assign(moisture=["plastic", *check.pits["moisture"].iloc[1:]])
    drawn = ridge_chart(dataclasses.replace(check, pits=wet))
    assert "Pit =A0: 4 km/h, ridge 11 cm, soil plastic" in drawn
    assert (drawn.count(">P<"), drawn.count("P: plastic soil")) == (1, 1)
    assert "plastic" not in ridge_chart(check)


def test_nothing_measured_no_chart() -> None:
    assert ridge_chart(without_pits(small_check(runs=trials().iloc[:0]))) == ""


def test_a_pit_that_counts_for_no_verdict_is_not_drawn() -> None:
    check = small_check()
    named = "Pit =A0: 4 km/h, ridge 11 cm"
    assert named in points(ridge_chart(check))
    verdicts = check.pits["verdict"].mask(check.pits["pit"] == "=A0", "past_cap")
    own = dataclasses.replace(check, pits=check.pits.assign(verdict=verdicts))
    assert named not in points(ridge_chart(own))

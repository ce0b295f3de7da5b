"""The map of a check is sound SVG, and shows every pit."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations

import pandas as pd
import pyproj
import pytest
import shapely
from outputs.small_check import pits, small_check, with_hazards

from zoning.model.check import Check
from zoning.outputs.check.drawing import SIGNS, check_drawing, sign
from zoning.outputs.check.words import TONES
from zoning.outputs.drawing.labels import letters_on

PAPER = (190.0, 200.0)
SVG = "{http://www.w3.org/2000/svg}"


def test_it_is_well_formed_and_names_every_pit_zone_and_place() -> None:
    check = small_check()
    root = ET.fromstring(check_drawing(check, *PAPER))  # noqa: S314 - our own text
    titles = [node.text or "" for node in root.iter(f"{SVG}title")]
    for pit in check.pits["pit"]:
        assert any(title.startswith(f"Pit {pit}:") for title in titles)
    for zone in check.zones["zone"]:
        assert any(title.startswith(f"Zone {zone},") for title in titles)
    assert sum(title.startswith("Dig next") for title in titles) == len(check.dig_next)


def test_whoever_digs_sees_the_drain_and_the_pipe() -> None:
    check = small_check()
    root = ET.fromstring(check_drawing(check, *PAPER))  # noqa: S314 - our own text
    titles = " ".join(node.text or "" for node in root.iter(f"{SVG}title"))
    assert titles.count("Keep off with the spade") == 2
    assert "H1 drain, <old> tile, cover 60 cm: no deeper than 45 cm" in titles
    assert "Zone 1, 35 cm: reached at the leg only. Hazard near it: no deeper than 45 cm." in titles
    assert {"H1", "H2"} <= {node.text for node in root.iter(f"{SVG}text")}
    without = with_hazards(check, check.hazards.iloc[:0])
    assert "Keep off with the spade" not in check_drawing(without, *PAPER)


def test_ground_not_cleared_or_held_by_a_hazard_says_so() -> None:
    check = small_check()
    zones = check.zones.assign(cleared="NOT CLEARED", verdict=["held", "cannot_tell", "lifted_out"])
    drawn = check_drawing(replace(check, zones=zones), *PAPER)
    assert "held by a hazard" in drawn
    assert drawn.count("NOT CLEARED.") == 3
    assert ">1H<" in drawn


def test_signs_lie_where_the_pits_are() -> None:
    root = ET.fromstring(check_drawing(small_check(), *PAPER))  # noqa: S314 - our own text
    tags = {node.text: float(node.get("x", "nan")) for node in root.iter(f"{SVG}text")}
    # Pits stand 25 m apart on a field 300 m wide that fills 180 of the 190 mm.
    assert tags["=A1"] - tags["=A0"] == pytest.approx(25 * 180 / 300, abs=0.02)


def test_scale_and_north_lie_below_the_field() -> None:
    check = small_check()
    for paper in (PAPER, (85.0, 120.0)):
        root = ET.fromstring(check_drawing(check, *paper))  # noqa: S314 - our own text
        ground = [
            float(pair.split()[1])
            for group in root.iter(f"{SVG}g")
            if (group.findtext(f"{SVG}title") or "").startswith("Zone ")
            for node in group.findall(f"{SVG}path")[:1]
            for pair in node.get("d", "").strip("MZ").split("L")
        ]
        words = {node.text: float(node.get("y", "nan")) for node in root.iter(f"{SVG}text")}
        bars = [float(node.get("y1", "nan")) for node in root.iter(f"{SVG}line")]
        arrows = [d for node in root.iter(f"{SVG}path") if "l2.4 7" in (d := node.get("d", ""))]
        assert len(ground) >= 12
        assert min(words["N"], *bars) > max(ground)
        assert float(arrows[0].split("l")[0].split()[1]) > max(ground)


def test_a_zone_tells_its_depth_where_it_has_room_and_its_verdict_where_it_has_less() -> None:
    check = small_check()
    told = {}
    for paper in (PAPER, (33.0, 50.0)):
        root = ET.fromstring(check_drawing(check, *paper))  # noqa: S314 - our own text
        told[paper] = {node.text for node in root.iter(f"{SVG}text")}
    assert {"1L", "35 cm", "2?", "40 cm", "3", "lifted out"} <= told[PAPER]
    assert "3" in told[33.0, 50.0]
    assert not {"40 cm", "lifted out"} & told[33.0, 50.0]


def with_before(check: Check, **said: object) -> Check:
    """The check of a field with a pit before the work at the place of =A1."""
    first = pits().iloc[[1]].assign(pit="P<1>", phase="before", date="2026-08-19", **said)
    return replace(check, inputs=replace(check.inputs, pits=pd.concat([first, pits()])))


def test_pits_before_the_work_are_drawn_small_and_beside_those_after() -> None:
    drawn = check_drawing(with_before(small_check(), pan="yes"), *PAPER)
    assert "Before the work" not in check_drawing(small_check(), *PAPER)
    root = ET.fromstring(drawn)  # noqa: S314 - our own text
    groups = {g.findtext(f"{SVG}title") or "": g for g in root.iter(f"{SVG}g")}
    (quiet,) = (g for told, g in groups.items() if told.startswith("Before the work"))
    assert quiet.findtext(f"{SVG}title") == "Before the work: pit P<1> 2026-08-19"
    (after,) = (g for told, g in groups.items() if told.startswith("Pit =A1:"))
    areas = [_ground(g.findall(f"{SVG}path")[1].get("d", "")) for g in (quiet, after)]
    assert areas[0].area < areas[1].area / 2.5
    assert areas[0].intersection(areas[1]).area == pytest.approx(0.0, abs=1e-6)


def _ground(d: str) -> shapely.Polygon:
    pairs = [[float(word) for word in pair.split()] for pair in d.strip("MZ").split("L")]
    return shapely.Polygon(pairs)


def test_a_station_that_a_place_to_dig_names_bears_its_name() -> None:
    check = small_check()
    named = check.dig_next["reason"].str.contains("station <C1>.", regex=False)
    assert named.any()
    assert "&lt;C1&gt;</text>" in check_drawing(check, *PAPER)
    quiet = replace(check, dig_next=check.dig_next[~named])
    assert "&lt;C1&gt;</text>" not in check_drawing(quiet, *PAPER)


def test_a_depth_is_told_without_its_unit_where_that_makes_it_fit() -> None:
    check = small_check()
    told = set()
    for width_mm in range(30, 190, 4):
        root = ET.fromstring(check_drawing(check, float(width_mm), 200.0))  # noqa: S314 - ours
        words = {node.text for node in root.iter(f"{SVG}text")}
        told |= {frozenset(words & {"40 cm", "40"})}
    assert frozenset({"40"}) in told
    assert frozenset({"40 cm"}) in told


def test_every_sign_differs_by_shape() -> None:
    drawn = {name: sign(name, 0.0, 0.0) for name in SIGNS}
    for one, other in combinations(drawn, 2):
        assert drawn[one] != drawn[other]


def test_letters_stand_out_on_every_tone() -> None:
    assert {letters_on(tone) for tone in TONES.values()} == {"#000", "#fff"}


def _size_mm(d: str) -> float:
    xs = [float(word.split()[0]) for word in d.strip("MZ").split("L")]
    return round(max(xs) - min(xs), 2)


def test_on_narrow_paper_signs_keep_their_size_and_no_name_covers_another() -> None:
    check = small_check()
    for paper in (PAPER, (85.0, 120.0), (40.0, 60.0)):
        root = ET.fromstring(check_drawing(check, *paper))  # noqa: S314 - our own text
        signs = [
            node
            for group in root.iter(f"{SVG}g")
            if (group.findtext(f"{SVG}title") or "").startswith("Pit ")
            for node in group.findall(f"{SVG}path")[:1]
        ]
        assert len(signs) == len(check.pits)
        assert {_size_mm(node.get("d", "")) for node in signs} == {3.64}
        names = {
            node.text: shapely.box(x, y - 2.3, x + 1.6 * len(node.text or ""), y)
            for node in root.iter(f"{SVG}text")
            if (node.text or "").startswith("=A")
            for x, y in [(float(node.get("x", "nan")), float(node.get("y", "nan")))]
        }
        for one, other in combinations(names.values(), 2):
            assert one.intersection(other).area < 0.5 * one.area


def test_the_arrow_shows_true_north() -> None:
    """The convergence of the grid by PROJ, anticlockwise of it on the western half of a zone."""
    check = small_check()
    at = check.boundary.centroid
    lonlat = pyproj.Transformer.from_crs(check.working_crs, "EPSG:4326", always_xy=True)
    found = pyproj.Proj(check.working_crs).get_factors(*lonlat.transform(at.x, at.y))
    turn = -found.meridian_convergence
    assert abs(turn) > 0.1
    assert f"rotate({turn:.1f} " in check_drawing(check, *PAPER)


def test_the_worse_of_two_pits_at_one_spot_is_drawn_on_top() -> None:
    check = small_check()
    first, *rest = check.pits["pit"]
    for order in (1, -1):
        spot = check.pits.iloc[::order].assign(verdict="reached")
        spot["verdict"] = spot["verdict"].mask(spot["pit"] == first, "leg_only")
        drawn = check_drawing(replace(check, pits=spot), *PAPER)
        own = drawn.index(f"Pit {first}:")
        assert own > max(drawn.index(f"Pit {name}:") for name in rest)

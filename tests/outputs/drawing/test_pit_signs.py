"""The signs of pits: each a shape of its own, well-formed, at its place."""

from __future__ import annotations

from itertools import combinations
from xml.etree import ElementTree as ET

import shapely

from zoning.outputs.check.words import VERDICTS
from zoning.outputs.drawing.pit_signs import PIT_SIGNS, PitSign, outline, pit_sign, sign_name

NO_SIGN = ("cannot_tell", "not_between", "not_judged", "")
"""Verdicts on ground and on pits that were not judged: no pit is signed by them."""


def inked(sign: PitSign) -> shapely.Geometry:
    """Return what of a sign is dark when it is printed in black and white."""
    strokes = [shapely.LineString([*line, line[0]]).buffer(0.15) for line in
               (sign.outline, *sign.inner)]  # fmt: skip
    dark = shapely.Polygon(sign.outline) if sign.fill != "#ffffff" else shapely.Polygon()
    for inner in (points for points in sign.inner if len(points) > 2):
        ground = shapely.Polygon(inner)
        dark = dark.difference(ground) if sign.inner_fill == "#ffffff" else dark.union(ground)
    lines = shapely.union_all(strokes)
    return dark.union(lines) if sign.inner_fill != "#ffffff" else dark


def test_shapes_tell_the_signs_apart_without_colour() -> None:
    """Half reached and half not seen differ in the ground of the half, black against grey."""
    for one, other in combinations(PIT_SIGNS, 2):
        if {one, other} == {"leg_only", "leg_passed"}:
            assert PIT_SIGNS[one].inner_fill != PIT_SIGNS[other].inner_fill
            continue
        differing = inked(PIT_SIGNS[one]).symmetric_difference(inked(PIT_SIGNS[other])).area
        assert differing > 0.25, (one, other)


def test_the_signs_of_one_phase_share_an_outline_and_no_other_has_it() -> None:
    groups = {"before": ("pan", "before"), "dig": ("dig",)}
    groups["after"] = tuple(n for n in PIT_SIGNS if n not in ("pan", "before", "dig"))
    shapes = {name: {PIT_SIGNS[n].outline for n in names} for name, names in groups.items()}
    assert all(len(found) == 1 for found in shapes.values())
    assert len(set.union(*shapes.values())) == 3


def test_each_is_well_formed_and_stands_at_its_place() -> None:
    for name in PIT_SIGNS:
        root = ET.fromstring(f"<svg>{pit_sign(name, 11, 11, 6)}</svg>")  # noqa: S314
        assert len(root) == 2 + len(PIT_SIGNS[name].inner)
    assert outline(((-1, 0), (1, 0)), 10, 20, 3) == "M7.00 20.00L13.00 20.00"


def test_a_pit_is_signed_by_phase_finding_and_verdict() -> None:
    assert sign_name("before", "yes") == "pan"
    assert sign_name("before", "no") == sign_name("before", "") == "before"
    assert sign_name("after", "yes") == "after"
    for verdict in VERDICTS:
        name = sign_name("after", "", verdict)
        assert name == verdict or verdict in NO_SIGN

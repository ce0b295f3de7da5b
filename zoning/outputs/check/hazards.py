"""The hazards of a field on the map of a check: where they lie, and how deep they let work go."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant, deepest_cm
from zoning.model.check import Check
from zoning.outputs.drawing.beside import covered
from zoning.outputs.drawing.frame import Frame
from zoning.outputs.drawing.legend import hazard_mark
from zoning.outputs.drawing.plan import COVER_NOT_KNOWN, Hazard, tagged_hazards
from zoning.outputs.drawing.svg import element, text

RULES = "check_page_rules"
TAG_MM = 2.6
_ALONG = (0.34, 0.66, 0.2, 0.5, 0.8)
"""Where along a line a tag may stand, the first that is as free as any."""


def hazard_words(hazard: Hazard, check: Check) -> str:
    """Return what a hazard is and the greatest depth about it, as the plan goes by it."""
    cap_cm = float(deepest_cm(hazard.kind, hazard.depth_cm))
    clear_m = hazard.keep_off_m(check.settings.machine.width_m)
    covered = hazard.kind != "obstacle" and np.isfinite(hazard.depth_cm)
    cover = f", cover {hazard.depth_cm:g} cm" if covered else ""
    cover += f", {COVER_NOT_KNOWN}" if hazard.cover_not_known else ""
    allowed = f"no deeper than {cap_cm:g} cm" if cap_cm > 0 else "legs lifted out"
    return f"{hazard.called}{cover}: {allowed} within {clear_m:g} m each side"


def hazard_marks(check: Check, frame: Frame, taken: Sequence[BaseGeometry] = ()) -> list[str]:
    """Return the hazards where they lie in the field or near it: whoever digs must see them.

    Their tags stand where they cover least of what is `taken` on paper [mm].
    """
    near = check.boundary.buffer(constant(RULES, "hazard_beyond_mm") / frame.mm_per_m)
    return [
        _mark(hazard, check, frame, near, taken)
        for hazard in tagged_hazards(check.hazards)
        if hazard.geometry.intersects(near)
    ]


def _mark(
    hazard: Hazard,
    check: Check,
    frame: Frame,
    near: BaseGeometry,
    taken: Sequence[BaseGeometry],
) -> str:
    shape = frame.on_paper(shapely.intersection(hazard.geometry, near))
    title = f"{hazard_words(hazard, check)}. Keep off with the spade."
    inside = frame.on_paper(shapely.intersection(hazard.geometry, check.boundary))
    at = _beside(shape if inside.is_empty else inside, taken)
    halo = text(
        hazard.tag, *at, TAG_MM, fill="#fff", stroke="#fff", stroke_width=0.9,
        font_weight="bold", text_anchor="middle",
    )  # fmt: skip
    return element(
        "g",
        element("title", escape(title))
        + hazard_mark(hazard.kind, shape)
        + halo
        + text(hazard.tag, *at, TAG_MM, font_weight="bold", text_anchor="middle"),
    )


def _beside(shape: BaseGeometry, taken: Sequence[BaseGeometry]) -> tuple[float, float]:
    """Return the freest of some places for the tag beside the longest part [mm]."""
    longest = max(shapely.get_parts(shape), key=lambda part: (part.length, part.wkb))
    if longest.geom_type != "LineString":
        spot = shapely.point_on_surface(longest)
        return float(spot.x) + 3.6, float(spot.y) + 0.9
    spots = shapely.line_interpolate_point(longest, _ALONG, normalized=True)
    places = [(float(spot.x) + 3.0, float(spot.y) - 1.2) for spot in spots]
    return min(places, key=lambda at: round(covered(_ground(at), taken), 2))


def _ground(at: tuple[float, float]) -> Polygon:
    """Return what a tag covers that is set about a place [mm]."""
    return shapely.box(at[0] - TAG_MM, at[1] - TAG_MM, at[0] + TAG_MM, at[1])

"""Ground of its own kind on the drawing: gaps in the field, guessed, without a station near."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely import Polygon

from zoning.contracts import constant
from zoning.model import Plan
from zoning.outputs.drawing.frame import RULES, Frame
from zoning.outputs.drawing.labels import Labels, inner_point, largest_first
from zoning.outputs.drawing.legend import SIGN_RADIUS_MM, guessed_mark
from zoning.outputs.guessed import FAR, unread_parts

_OFF_EDGE_MM = 0.8  # so that a dot lies on no outline


def gaps(plan: Plan) -> list[Polygon]:
    """Return the ground inside the boundary that is none of the field, as of a pond."""
    return [Polygon(ring) for part in plan.boundary.geoms for ring in part.interiors]


def label_gaps(plan: Plan, frame: Frame, labels: Labels) -> None:
    """Write in each gap what it is, where it has room; no label of a zone is to stand in it."""
    for ground in gaps(plan):
        for shown in largest_first(frame.on_paper(ground)):
            labels.put_inside(shown, "gap", "", "", constant(RULES, "label_least"))
            labels.keep_clear(shown)


def far(plan: Plan, frame: Frame) -> Sequence[shapely.Polygon]:
    """Return each piece of ground without a station near, on paper, within the field."""
    far = plan.uncertain.loc[plan.uncertain["reason"] == FAR].geometry
    within = shapely.union_all(far.to_numpy()).intersection(plan.boundary)
    return largest_first(frame.on_paper(within).buffer(-_OFF_EDGE_MM))


def guessed(plan: Plan, frame: Frame) -> Sequence[shapely.Polygon]:
    """Return each piece of ground that nobody read, on paper."""
    parts = plan.parts[plan.parts["part"].isin(unread_parts(plan.parts, plan.stations))]
    return largest_first(frame.on_paper(shapely.union_all(list(parts.geometry))))


def guessed_signs(plan: Plan, frame: Frame, labels: Labels) -> str:
    """Return the sign of each piece of ground that nobody read, off gateways where that can be."""
    drawn = []
    for area in guessed(plan, frame):
        free = largest_first(area - shapely.union_all(labels.taken).buffer(SIGN_RADIUS_MM))
        at = inner_point((free or [area])[0])
        labels.keep_sign(at.buffer(SIGN_RADIUS_MM))
        drawn.append(guessed_mark(at.x, at.y))
    return "".join(drawn)

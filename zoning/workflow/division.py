"""The field divided into its parts, as a plan and a survey both need it."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd

from zoning import depths
from zoning import parts as parts_room
from zoning.model import FieldInputs, Notice


@dataclass(frozen=True, slots=True, eq=False)
class Divided:
    """The travel heading, clockwise from grid north, the parts, and what to tell of them."""

    heading_deg: float
    parts: gpd.GeoDataFrame
    notices: tuple[Notice, ...]


def divide(inputs: FieldInputs) -> Divided:
    """Divide a field; without a heading of the user's own it is that of the longest side."""
    given = inputs.settings.machine.travel_heading_deg
    heading_deg = given if given is not None else depths.default_heading(inputs.boundary)
    parts, notices = parts_room.partition(
        inputs.boundary,
        inputs.settings.areas,
        wheeling_lines=inputs.wheeling_lines,
        gateways=inputs.gateways,
        named_areas=inputs.named_areas,
        heading_deg=heading_deg,
    )
    return Divided(heading_deg, parts, notices)

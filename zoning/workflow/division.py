"""The field divided into its parts, as plan, check and survey need it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import geopandas as gpd

from zoning import depths
from zoning import parts as parts_room
from zoning.contracts import constant
from zoning.model import FieldInputs, Notice, Settings
from zoning.workflow.pieces import gap_notices, unprobed_notices


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
    told = (*notices, *_across(inputs.settings, heading_deg))
    return Divided(heading_deg, parts, (*told, *unprobed_notices(inputs), *gap_notices(inputs)))


def _across(settings: Settings, heading_deg: float) -> Iterator[Notice]:
    """Tell where passes by the longest side cross the wheelings that were given by heading."""
    rule = settings.areas.wheelings
    if settings.machine.travel_heading_deg is not None or rule is None:
        return
    if rule.heading_deg is None or rule.spacing_m is None or rule.lines is not None:
        return
    line_deg = heading_deg % 180.0
    apart = abs((rule.heading_deg - line_deg + 90.0) % 180.0 - 90.0)
    if apart > constant("plan_rules", "wheelings_aside_deg"):
        text = (
            f"The wheelings run at {rule.heading_deg:g} degrees, the passes along the longest side "
            f"at {line_deg:.0f}. Passes that cross wheelings cannot follow them: ground and "
            "wheelings get one depth between them. To drive along them write travel_heading_deg = "
            f"{rule.heading_deg:g} under [machine], and compare the two plans."
        )
        yield Notice("note", "passes-cross-wheelings", text)

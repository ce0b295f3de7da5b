"""The field divided into its parts, as plan, check and survey need it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely

from zoning import depths
from zoning import parts as parts_room
from zoning.contracts import constant
from zoning.model import FieldInputs, Notice
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
    told = (*notices, *_across(inputs, heading_deg))
    return Divided(heading_deg, parts, (*told, *unprobed_notices(inputs), *gap_notices(inputs)))


def _across(inputs: FieldInputs, heading_deg: float) -> Iterator[Notice]:
    """Tell where passes by the longest side cross the wheelings, which then get no own depth."""
    along_deg = _wheelings_deg(inputs)
    if inputs.settings.machine.travel_heading_deg is not None or np.isnan(along_deg):
        return
    line_deg = heading_deg % 180.0
    apart = abs((along_deg - line_deg + 90.0) % 180.0 - 90.0)
    if apart > constant("plan_rules", "wheelings_aside_deg"):
        text = (
            f"The wheelings run at {along_deg:g} degrees, the passes along the longest side "
            f"at {line_deg:.0f}. Passes that cross wheelings cannot follow them: ground and "
            "wheelings get one depth between them. To drive along them write travel_heading_deg = "
            f"{along_deg:g} under [machine], and compare the two plans."
        )
        yield Notice("note", "passes-cross-wheelings", text)


def _wheelings_deg(inputs: FieldInputs) -> float:
    """Return how wheelings given by heading or drawn as lines run [degrees]; NaN without any.

    Of drawn ones it is the mean direction of their length, as of lines without a sense: the mean
    of doubled angles, halved (Mardia and Jupp, Directional Statistics, 2000, section 1.1, from
    memory). It is NaN where they run all ways, by the length of that mean.
    """
    rule = inputs.settings.areas.wheelings
    if rule is not None and rule.lines is None:
        return rule.heading_deg if rule.spacing_m and rule.heading_deg is not None else math.nan
    drawn = shapely.intersection(inputs.wheeling_lines.geometry.to_numpy(), inputs.boundary)
    drawn = shapely.get_parts(drawn[shapely.get_dimensions(drawn) == 1])
    steps = np.concatenate(
        [np.empty((0, 2)), *(np.diff(shapely.get_coordinates(line), axis=0) for line in drawn)]
    )
    along = steps[:, 0] * 1j + steps[:, 1]
    length = np.abs(along)
    mean = np.sum(along**2 / length) / length.sum() if len(along) else 0.0
    if np.abs(mean) < constant("plan_rules", "wheelings_one_way"):
        return math.nan
    return float(np.round(np.degrees(np.angle(mean)) / 2.0 % 180.0))

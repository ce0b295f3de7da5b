"""The field divided into its parts, as plan, check and survey need it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from shapely.affinity import rotate

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
    """Tell where passes cross the wheelings or drift off them, which then get no own depth."""
    along_deg, length_m = _wheelings(inputs)
    line_deg, machine = heading_deg % 180.0, inputs.settings.machine
    apart_deg = abs((along_deg - line_deg + 90.0) % 180.0 - 90.0)
    drift_m = length_m * math.sin(math.radians(apart_deg))
    given = machine.travel_heading_deg is not None
    if drift_m >= constant("plan_rules", "wheelings_drift_widths") * machine.width_m:
        text = (
            f"The wheelings run at {along_deg:g} degrees, the passes "
            f"{'' if given else 'along the longest side '}at {line_deg:.1f}: no pass runs along a "
            "wheeling all its way, so ground and wheelings get one depth between them, or the "
            f"depth changes more often. To drive along them write travel_heading_deg = "
            f"{along_deg:g} under [machine], and compare the two plans."
        )
        yield Notice("note", "passes-cross-wheelings", text)


def _wheelings(inputs: FieldInputs) -> tuple[float, float]:
    """Return how wheelings given by heading or drawn as lines run [degrees], and how far [m].

    Of drawn ones it is the mean direction of their length, as of lines without a sense: the mean
    of doubled angles, halved (Mardia and Jupp, Directional Statistics, 2000, section 1.1, from
    memory). Both are NaN without any, and where they run all ways, by the length of that mean.
    """
    rule, none = inputs.settings.areas.wheelings, (math.nan, math.nan)
    if rule is not None and rule.lines is None:
        if rule.heading_deg is None or not rule.spacing_m:
            return none
        turned = rotate(inputs.boundary, rule.heading_deg, origin="centroid")
        return rule.heading_deg, turned.bounds[3] - turned.bounds[1]
    drawn = shapely.intersection(inputs.wheeling_lines.geometry.to_numpy(), inputs.boundary)
    drawn = shapely.get_parts(drawn[shapely.get_dimensions(drawn) == 1])
    steps = np.concatenate(
        [np.empty((0, 2)), *(np.diff(shapely.get_coordinates(line), axis=0) for line in drawn)]
    )
    along = steps[:, 0] * 1j + steps[:, 1]
    length = np.abs(along)
    along, length = along[length > 0], length[length > 0]
    mean = np.sum(along**2 / length) / length.sum() if len(along) else 0.0
    if np.abs(mean) < constant("plan_rules", "wheelings_one_way"):
        return none
    heading = np.round(np.degrees(np.angle(mean)) / 2.0 % 180.0, 1)
    lengths = shapely.length(drawn)
    return float(heading), float(np.average(lengths, weights=lengths))

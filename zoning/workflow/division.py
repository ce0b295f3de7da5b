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
from zoning.contracts import constant, joined
from zoning.model import FieldInputs, Notice
from zoning.outputs.places import true_north_deg
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
    told = (*notices, *_across(inputs, heading_deg), *_from_grid_north(inputs))
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


def _from_grid_north(inputs: FieldInputs) -> Iterator[Notice]:
    """Tell what to write for headings from true north, where the difference is felt over the field.

    Receivers and maps in degrees give those; it is a caution where wheelings lie by it.
    """
    rule, machine = inputs.settings.areas.wheelings, inputs.settings.machine
    own_deg = rule.heading_deg if rule is not None and rule.lines is None else None
    given = {"heading_deg": own_deg, "travel_heading_deg": machine.travel_heading_deg}
    written = {key: deg for key, deg in given.items() if deg is not None}
    off_deg = true_north_deg(inputs.boundary.centroid, inputs.working_crs)
    length_m = max((_length_m(inputs, deg) for deg in written.values()), default=0.0)
    drift_m = length_m * math.sin(math.radians(abs(off_deg)))
    if drift_m < constant("plan_rules", "wheelings_drift_widths") * machine.width_m:
        return
    headings = joined([f"{key} = {deg:g}" for key, deg in written.items()])
    instead = joined([f"{(deg + off_deg) % 360.0:.2f}" for deg in sorted(set(written.values()))])
    text = (
        f"{headings} count{'s' if len(written) == 1 else ''} from the north of the grid "
        f"({inputs.working_crs}), {abs(off_deg):.1f} degrees off true north here: {drift_m:.0f} m "
        "over the field. If meant from true north, as receivers and maps in degrees give headings, "
        f"write {instead} instead, unless that was done already."
    )
    yield Notice("note" if own_deg is None else "caution", "heading-from-grid-north", text)


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
        return rule.heading_deg, _length_m(inputs, rule.heading_deg)
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


def _length_m(inputs: FieldInputs, heading_deg: float) -> float:
    """Return how far the field reaches along a heading [m]."""
    turned = rotate(inputs.boundary, heading_deg, origin="centroid")
    return float(turned.bounds[3] - turned.bounds[1])

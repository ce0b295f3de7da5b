"""A field turned, with everything in it and its travel heading; and what of its plan must stay."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from invariants.fields import places_in
from shapely import LineString
from shapely.affinity import scale, translate
from shapely.geometry.base import BaseGeometry

from zoning.model import FieldInputs, Plan, Settings
from zoning.model.settings import WheelingsSection
from zoning.workflow.cells import cell_side_m
from zoning.workflow.division import divide


@dataclass(frozen=True)
class Turn:
    """A turn clockwise about a place [degrees, m]."""

    angle_deg: float
    about_m: tuple[float, float]

    def places(self, xy_m: np.ndarray) -> np.ndarray:
        angle = np.radians(self.angle_deg)
        # Quarter turns exactly: their sines and cosines are whole numbers.
        sin, cos = (round(f(angle), 15) for f in (np.sin, np.cos))
        return (xy_m - self.about_m) @ np.array([[cos, -sin], [sin, cos]]) + self.about_m

    def shape(self, shape: BaseGeometry) -> BaseGeometry:
        return shapely.transform(shape, self.places)

    def layer(self, frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
        return frame.set_geometry([self.shape(shape) for shape in frame.geometry], crs=frame.crs)

    @property
    def back(self) -> Turn:
        return Turn(-self.angle_deg, self.about_m)


def turn_of(inputs: FieldInputs, angle_deg: float) -> Turn:
    """Return a turn about the corner of a cell near the middle of the field."""
    cell_m = cell_side_m(inputs.boundary, inputs.settings)
    x, y = shapely.get_coordinates(inputs.boundary.centroid)[0]
    return Turn(angle_deg, (round(x / cell_m) * cell_m, round(y / cell_m) * cell_m))


def turned(inputs: FieldInputs, turn: Turn) -> FieldInputs:
    """Return the inputs of the turned field; a heading that is not given stays so."""
    xy_m = turn.places(inputs.cone[["x_m", "y_m"]].to_numpy())
    return dataclasses.replace(
        inputs,
        settings=_settings(inputs.settings, turn),
        boundary=shapely.MultiPolygon(list(turn.shape(inputs.boundary).geoms)),
        cone=inputs.cone.assign(x_m=xy_m[:, 0], y_m=xy_m[:, 1]),
        hazards=turn.layer(inputs.hazards),
        gateways=turn.layer(inputs.gateways),
        wheeling_lines=turn.layer(inputs.wheeling_lines),
        named_areas=turn.layer(inputs.named_areas),
    )


def _settings(settings: Settings, turn: Turn) -> Settings:
    machine, areas = settings.machine, settings.areas
    if machine.travel_heading_deg is not None:
        heading = machine.travel_heading_deg + turn.angle_deg
        machine = dataclasses.replace(machine, travel_heading_deg=heading)
    if areas.wheelings is not None and areas.wheelings.heading_deg is not None:
        with_it = areas.wheelings.heading_deg + turn.angle_deg
        wheelings = dataclasses.replace(areas.wheelings, heading_deg=with_it)
        areas = dataclasses.replace(areas, wheelings=wheelings)
    return dataclasses.replace(settings, machine=machine, areas=areas)


def headed(inputs: FieldInputs) -> FieldInputs:
    """Return the field with the heading that its plan takes written down."""
    machine = dataclasses.replace(
        inputs.settings.machine, travel_heading_deg=divide(inputs).heading_deg
    )
    return dataclasses.replace(
        inputs, settings=dataclasses.replace(inputs.settings, machine=machine)
    )


def furnished(inputs: FieldInputs, seed: int) -> FieldInputs:
    """Return the field with gates, drawn wheelings and a named area, each in some fields."""
    rng = np.random.default_rng(seed)
    some = rng.random(3) < (0.6, 0.3, 0.4)
    crs, outline = inputs.working_crs, inputs.boundary
    a, b, c = places_in(outline, 3, rng)
    gates = [a, LineString([b, translate(b, 3.0, 4.0)])] if some[0] else []
    lines = [scale(LineString([b, c]), 3.0, 3.0)] if some[1] else []
    areas = [c.buffer(9.0, quad_segs=3)] if some[2] else []
    settings = inputs.settings
    if lines:
        wheelings = WheelingsSection(width_m=2.0, lines="drawn")
        settings = dataclasses.replace(
            settings, areas=dataclasses.replace(settings.areas, wheelings=wheelings)
        )
    return dataclasses.replace(
        inputs,
        settings=settings,
        gateways=gpd.GeoDataFrame(geometry=gates, crs=crs),
        wheeling_lines=gpd.GeoDataFrame(geometry=lines, crs=crs),
        named_areas=gpd.GeoDataFrame({"area": ["pad"] * len(areas)}, geometry=areas, crs=crs),
    )


def share_of_another_depth(plan: Plan, other: Plan, turn: Turn) -> float:
    """Return the share of the field that the turned plan `other` works to another depth."""
    same = 0.0
    for shape, depth in zip(other.zones.geometry, other.zones["depth_cm"], strict=True):
        alike = plan.zones[plan.zones["depth_cm"] == depth].geometry.to_numpy()
        same += shapely.area(shapely.intersection(alike, turn.back.shape(shape))).sum()
    return 1.0 - same / plan.boundary.area

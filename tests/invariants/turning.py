"""A field turned about a corner of a cell, its travel heading with it."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from zoning.model import FieldInputs, Plan, Settings
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

    @property
    def back(self) -> Turn:
        return Turn(-self.angle_deg, self.about_m)


def turn_of(inputs: FieldInputs, angle_deg: float) -> Turn:
    """Return a turn about the corner of a cell near the middle of the field."""
    cell_m = cell_side_m(inputs.boundary, inputs.settings)
    x, y = shapely.get_coordinates(inputs.boundary.centroid)[0]
    return Turn(angle_deg, (round(x / cell_m) * cell_m, round(y / cell_m) * cell_m))


def turned(inputs: FieldInputs, turn: Turn) -> FieldInputs:
    """Return the inputs of the turned field."""
    xy_m = turn.places(inputs.cone[["x_m", "y_m"]].to_numpy())
    hazards = [turn.shape(shape) for shape in inputs.hazards.geometry]
    return dataclasses.replace(
        inputs,
        settings=_settings(inputs, turn),
        boundary=shapely.MultiPolygon(list(turn.shape(inputs.boundary).geoms)),
        cone=inputs.cone.assign(x_m=xy_m[:, 0], y_m=xy_m[:, 1]),
        hazards=inputs.hazards.set_geometry(hazards, crs=inputs.working_crs),
    )


def _settings(inputs: FieldInputs, turn: Turn) -> Settings:
    heading = divide(inputs).heading_deg + turn.angle_deg
    machine = dataclasses.replace(inputs.settings.machine, travel_heading_deg=heading)
    areas = inputs.settings.areas
    if areas.wheelings is not None and areas.wheelings.heading_deg is not None:
        with_it = areas.wheelings.heading_deg + turn.angle_deg
        wheelings = dataclasses.replace(areas.wheelings, heading_deg=with_it)
        areas = dataclasses.replace(areas, wheelings=wheelings)
    return dataclasses.replace(inputs.settings, machine=machine, areas=areas)


def share_of_another_depth(plan: Plan, other: Plan, turn: Turn) -> float:
    """Return the share of the field that the turned plan `other` works to another depth."""
    same = 0.0
    for shape, depth in zip(other.zones.geometry, other.zones["depth_cm"], strict=True):
        alike = plan.zones[plan.zones["depth_cm"] == depth].geometry.to_numpy()
        same += shapely.area(shapely.intersection(alike, turn.back.shape(shape))).sum()
    return 1.0 - same / plan.boundary.area

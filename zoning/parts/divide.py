"""The field divided into its parts, exactly and without overlap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant
from zoning.model import Notice
from zoning.model.settings import AreasSection
from zoning.parts.headland import core, headland
from zoning.parts.layers import Found, Kind, Layer, precedence
from zoning.parts.places import gateways as gateway_ground
from zoning.parts.places import named
from zoning.parts.wheelings import drawn_wheelings, ruled_wheelings
from zoning.units import M2_PER_HA


def partition(
    boundary: MultiPolygon,
    areas: AreasSection,
    *,
    wheeling_lines: gpd.GeoDataFrame,
    gateways: gpd.GeoDataFrame,
    named_areas: gpd.GeoDataFrame,
    heading_deg: float,
) -> tuple[gpd.GeoDataFrame, tuple[Notice, ...]]:
    """Divide a field into body, headland, wheelings, gateways and named areas.

    Every place belongs to one part. Where several would claim it, the first of this order has it
    (``precedence_*`` in ``shared/tables/part_rules.csv``):

    1. a **named area**: its outline is the adviser's own statement about this very ground, where
       the others are computed or follow a rule; of two that overlap, the smaller;
    2. a **gateway**: all traffic in and out converges there, whatever band or wheeling leads to it;
    3. a **wheeling**: one that was drawn through the headland is traffic on top of turning;
       wheelings by heading, spacing and offset end at the headland;
    4. the **headland**: nearer to the outer ring than `headland_width_m`, and about holes where
       asked;
    5. the **body**: the rest.

    Parameters
    ----------
    boundary
        Outline of the field, holes kept [m, working CRS].
    areas
        ``[areas]`` of the settings.
    wheeling_lines, gateways, named_areas
        Vector layers in the working CRS, empty where not given; `named_areas` has ``area``.
    heading_deg
        Travel heading, for wheelings by rule that give none and the circles about gateways [degrees
        clockwise from grid north].

    Returns
    -------
    parts : geopandas.GeoDataFrame
        One row a part: ``part, kind, area_ha, geometry`` (``shared/schemas/parts.schema.json``), in
        the order body, headland, wheeling, gateway, named areas by name. A valid coverage of the
        field: neighbours share their vertices. Areas are those of the plane of the working CRS.
    notices : tuple of Notice
        What was left out, filled up or settled.
    """
    found = _found(boundary, areas, wheeling_lines, gateways, named_areas, heading_deg)
    layers = sorted(
        (layer for one in found for layer in one.layers),
        key=lambda layer: _rank(layer, found[0].layers),
    )
    names, shapes = _divided(boundary, layers)
    crs = next((frame.crs for frame in (wheeling_lines, gateways, named_areas) if frame.crs), None)
    kinds: dict[str, Kind] = {layer.part: layer.kind for layer in layers} | {"body": "body"}
    table = {
        "part": names,
        "kind": [kinds[name] for name in names],
        "area_ha": shapely.area(shapes) / M2_PER_HA,
    }
    parts = gpd.GeoDataFrame(table, geometry=shapes, crs=crs)
    told = [notice for one in found for notice in one.notices]
    return parts, (*told, *_wheelings_under(found, boundary))


def _wheelings_under(found: tuple[Found, ...], boundary: MultiPolygon) -> list[Notice]:
    """Return a note on each named area that takes a good share of the wheelings."""
    areas, _, wheelings, _ = found
    share, told = constant("part_rules", "taken_share"), []
    for track in wheelings.layers:
        ground = track.ground.intersection(boundary)
        for area in areas.layers:
            taken_m2 = ground.intersection(area.ground).area
            if area.kind == "named" and taken_m2 > share * ground.area:
                text = (
                    f"{taken_m2 / M2_PER_HA:.2f} ha of the wheelings lie in the named area "
                    f"{area.part} and count as {area.part}: cut them out of it if they are to be "
                    "worked as wheelings."
                )
                told.append(Notice("note", "area-takes-wheelings", text))
    return told


def _found(
    boundary: MultiPolygon,
    areas: AreasSection,
    wheeling_lines: gpd.GeoDataFrame,
    gateways: gpd.GeoDataFrame,
    named_areas: gpd.GeoDataFrame,
    heading_deg: float,
) -> tuple[Found, ...]:
    """Return what each kind claims: named areas first, the headland last."""
    obstacles = areas.headland_round_obstacles
    tracks = Found()
    if areas.wheelings is not None and len(wheeling_lines):
        tracks = drawn_wheelings(boundary, wheeling_lines, areas.wheelings.width_m)
    elif areas.wheelings is not None:
        body = core(boundary, areas.headland_width_m, round_obstacles=obstacles)
        tracks = ruled_wheelings(boundary, body, areas.wheelings, heading_deg)
    return (
        named(boundary, named_areas),
        gateway_ground(boundary, gateways, areas.gateway_radius_m, heading_deg),
        tracks,
        headland(boundary, areas.headland_width_m, round_obstacles=obstacles),
    )


def _rank(layer: Layer, drawn: Sequence[Layer]) -> tuple[float, int]:
    """Return the place of a layer in the order of precedence; drawn areas keep their own order."""
    for place, one in enumerate(drawn):
        if one is layer:
            return precedence("named"), place
    return precedence(layer.kind), 0


def _divided(boundary: MultiPolygon, layers: Sequence[Layer]) -> tuple[list[str], NDArray[Any]]:
    """Return the names of the parts in the order of the frame, and their ground.

    All outlines are noded together on a fine grid and the faces between them are given to the first
    layer that holds them, so the parts are an exact partition by construction.
    """
    origin = boundary.centroid
    home = translate(boundary, -origin.x, -origin.y)
    near = [
        replace(
            layer,
            ground=translate(layer.ground, -origin.x, -origin.y),
            edges=translate(layer.edges, -origin.x, -origin.y),
        )
        for layer in layers
    ]
    faces = _faces([home.boundary, *(layer.edges for layer in near)])
    owner = _owners(faces, home, near)
    names = sorted(
        set(owner[owner != ""]), key=lambda name: (-precedence(_kind(name, layers)), name)
    )
    shapes = [shapely.coverage_union_all(faces[owner == name]) for name in names]
    return names, np.array(
        [translate(shapely.normalize(one), origin.x, origin.y) for one in shapes], dtype=object
    )


def _kind(name: str, layers: Sequence[Layer]) -> Kind:
    return next((layer.kind for layer in layers if layer.part == name), "body")


def _faces(lines: Sequence[BaseGeometry]) -> NDArray[Any]:
    grid = 2.0 ** constant("part_rules", "node_grid_exponent")
    noded = shapely.unary_union(np.array(lines, dtype=object), grid_size=grid)
    return np.asarray(shapely.get_parts(shapely.polygonize(shapely.get_parts([noded]))))


def _owners(
    faces: NDArray[Any], boundary: MultiPolygon, layers: Sequence[Layer]
) -> NDArray[np.str_]:
    """Return the part of each face, empty outside the field."""
    x, y = shapely.get_coordinates(shapely.point_on_surface(faces)).T
    shapely.prepare(boundary)
    owner = np.full(len(faces), "", dtype=object)
    free = shapely.contains_xy(boundary, x, y)
    for layer in layers:
        shapely.prepare(layer.ground)
        mine = free & shapely.contains_xy(layer.ground, x, y)
        owner[mine] = layer.part
        free &= ~mine
    owner[free] = "body"
    return owner.astype(np.str_)

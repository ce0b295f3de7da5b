"""One still drawing of a plan, for the operator's sheet, the picture and the printed map page.

Tones run from light (shallow) to dark (deep) and keep their order in black and white; each zone
carries its number and depth; ground where the legs are lifted out is hatched.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import geopandas as gpd
import shapely
from shapely.geometry.base import BaseGeometry

from zoning.contracts import NOT_CLEARED, constant, keep_off_m, rows
from zoning.model import Plan
from zoning.outputs.bars import pins_assumed
from zoning.outputs.drawing.drawn_labels import all_drawn
from zoning.outputs.drawing.frame import RULES, Frame, hatching
from zoning.outputs.drawing.grounds import far, gaps, guessed, guessed_signs, label_gaps
from zoning.outputs.drawing.labels import Labels, largest_first
from zoning.outputs.drawing.legend import (
    GAP,
    GUESSED,
    NUMBERED,
    POINT,
    SIGN_RADIUS_MM,
    far_ground,
    gateway_mark,
    guessed_ground,
    legend,
    legend_height_mm,
    line_mark,
    point_marks,
    spots_of,
)
from zoning.outputs.drawing.pass_numbers import pass_numbers
from zoning.outputs.drawing.svg import document, element, path
from zoning.outputs.drawing.zone_labels import (
    GUESSED_MARK,
    LeftUnsaid,
    ZoneGround,
    guessed_zones,
    label_zones,
    small_numbers,
)
from zoning.outputs.fingerprint import short_id
from zoning.outputs.guessed import FAR, unread_parts
from zoning.outputs.places import true_north_deg
from zoning.outputs.rows import zones_in_order
from zoning.units import inches

ASSUMED = "assumed-machine"
COVER_NOT_KNOWN = "cover not known"


@dataclass(frozen=True, slots=True, eq=False)
class Hazard:
    """Hazards of one kind, name, cover and keep-off, with the tag they carry on the drawing.

    Parameters
    ----------
    tag
        ``H1``, ``H2`` ...
    kind
        ``drain``, ``service`` or ``obstacle``.
    name
        What whoever drew it calls it, ``""`` where it has no name.
    depth_cm, clear_m
        Cover and keep-off distance each side; NaN where not given.
    count
        How many there are: the laterals of one drain system carry one tag.
    geometry
        Where they lie [m, working CRS].
    """

    tag: str
    kind: str
    name: str
    depth_cm: float
    clear_m: float
    count: int
    geometry: BaseGeometry

    @property
    def called(self) -> str:
        """Tag and kind, with the name and the number of them where there are such."""
        name = f", {self.name}" if self.name else ""
        many = f" ({self.count} of them)" if self.count > 1 else ""
        return f"{self.tag} {self.kind}{name}{many}"

    @property
    def cover_not_known(self) -> bool:
        """Whether to say that its cover is not known, which its name may say already."""
        covered = self.kind != "obstacle" and math.isnan(self.depth_cm)
        return covered and COVER_NOT_KNOWN not in self.name

    def keep_off_m(self, machine_width_m: float) -> float:
        """Return the keep-off each side that the plan goes by [m]."""
        return float(keep_off_m(self.kind, self.clear_m, machine_width_m))


def hazards_in_order(plan: Plan) -> tuple[Hazard, ...]:
    """Return the hazards of a plan with their tags."""
    return tagged_hazards(plan.hazards)


def tagged_hazards(hazards: gpd.GeoDataFrame) -> tuple[Hazard, ...]:
    """Return hazards with their tags, in an order that the rows of the input do not change."""
    alike = ["kind", "depth_cm", "clear_m", "name"]
    like = hazards.groupby(alike, dropna=False, sort=True).ngroup()
    groups = [hazards[like == number] for number in range(int(like.nunique()))]
    return tuple(_like_hazards(f"H{i}", held) for i, held in enumerate(groups, 1))


def _like_hazards(tag: str, held: gpd.GeoDataFrame) -> Hazard:
    one, where = held.iloc[0], held.geometry.union_all()
    cover_cm, clear_m = float(one["depth_cm"]), float(one["clear_m"])
    return Hazard(tag, str(one["kind"]), str(one["name"]), cover_cm, clear_m, len(held), where)


def depth_tones(depths_cm: list[float]) -> dict[float, str]:
    """Return a tone for each working depth, light for shallow and dark for deep; none for 0."""
    steps = {int(row["step"]): row["colour"] for row in rows("depth_colours")}
    worked = sorted({depth for depth in depths_cm if depth > 0})
    light, dark = (int(constant(RULES, name)) for name in ("lightest_step", "darkest_step"))
    gap = (light - dark) / max(len(worked) - 1, 1)
    return {depth: steps[round(light - gap * rank)] for rank, depth in enumerate(worked)}


def depth_text(depth_cm: float) -> str:
    """Return a working depth as it stands on the drawing."""
    return f"{depth_cm:.1f}".removesuffix(".0") + " cm" if depth_cm > 0 else "lifted"


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing of a plan.

    Parameters
    ----------
    svg
        The drawing as SVG text.
    unsaid
        What its labels leave to the tones.
    """

    svg: str
    unsaid: LeftUnsaid


def drawing_height_mm(plan: Plan, width_mm: float, height_mm: float) -> float:
    """Return the height that the drawing of a plan takes of a paper of this size [mm]."""
    tones = depth_tones([float(depth) for depth in plan.zones["depth_cm"]])
    signs = _signs(plan, hazards_in_order(plan))
    below = legend_height_mm(_key_of_depths(plan, tones), signs, width_mm)
    return Frame.around(plan.boundary.bounds, width_mm, height_mm - below).height_mm + below


def plan_drawing(plan: Plan, width_mm: float, height_mm: float) -> str:
    """Return the drawing of a plan as SVG text; see `drawn_plan`."""
    return drawn_plan(plan, width_mm, height_mm).svg


def drawn_plan(plan: Plan, width_mm: float, height_mm: float) -> Drawing:
    """Return the drawing of a plan.

    Parameters
    ----------
    plan
        The plan.
    width_mm, height_mm
        Size of the paper, legend included; the drawing is no taller than the field needs.
    """
    zones = zones_in_order(plan)
    tones = depth_tones([float(depth) for depth in zones["depth_cm"]])
    hazards = hazards_in_order(plan)
    signs = _signs(plan, hazards)
    below = legend_height_mm(_key_of_depths(plan, tones), signs, width_mm)
    frame = Frame.around(plan.boundary.bounds, width_mm, height_mm - below)
    labels = Labels(frame.paper, frame.on_paper(plan.boundary))
    body = "".join(
        [
            _zones(plan, frame, tones),
            _passes(plan, frame),
            path(frame.on_paper(plan.boundary), fill="none", stroke="#000", stroke_width=0.7),
            *[_hazard(hazard, frame, plan.settings.machine.width_m) for hazard in hazards],
            *[far_ground(area) for area in far(plan, frame)],
            *[guessed_ground(area) for area in guessed(plan, frame)],
            _gateways(plan, frame, labels),
        ]
    )
    signed = guessed_signs(plan, frame, labels)
    _label_hazards(hazards, frame, labels)
    label_gaps(plan, frame, labels)
    numbers = pass_numbers(plan.passes, frame, labels, plan.settings.machine.width_m)
    unsaid = label_zones(_zones_on_paper(plan, frame, tones), labels)
    spots = [point_marks(each.kind, frame.on_paper(each.geometry)) for each in hazards]
    marks = all_drawn(labels, "".join([signed, *spots]))
    height = frame.height_mm + below
    paper = element("rect", x=0, y=0, width=width_mm, height=height, fill="#fff")
    north_deg = true_north_deg(plan.boundary.centroid, plan.working_crs)
    key = legend(_key_of_depths(plan, tones), signs, frame, north_deg=north_deg)
    title = f"Working depths of {plan.settings.field.name}, plan {short_id(plan.plan_id)}"
    return Drawing(document(paper + body + numbers + marks + key, width_mm, height, title), unsaid)


def _key_of_depths(plan: Plan, tones: dict[float, str]) -> dict[str, str]:
    """Return the words beside each tone, NC where a zone of that depth is not cleared."""
    zones = zones_in_order(plan)
    held = set(zones.loc[zones["cleared"] == NOT_CLEARED, "depth_cm"].astype(float))
    words = {
        f"{depth_text(d)} | {inches(d):.1f} in{_hole(plan, d)}{' | NC' if d in held else ''}": tone
        for d, tone in tones.items()
    }
    return words | ({"legs lifted out": ""} if (zones["depth_cm"] <= 0).any() else {})


def _hole(plan: Plan, depth_cm: float) -> str:
    """Return the pin hole of a depth, nothing where the machine has no pins."""
    if "pin_hole" not in plan.zones:
        return ""
    holes = plan.zones.loc[plan.zones["depth_cm"] == depth_cm, "pin_hole"].dropna()
    taken = " (assumed)" if pins_assumed(plan) else ""
    return f" | pin {holes.iloc[0]:.0f}{taken}" if len(holes) else ""


def _signs(plan: Plan, hazards: tuple[Hazard, ...]) -> list[str]:
    held_back = bool((plan.zones["cleared"] == NOT_CLEARED).any())
    marks = [
        ("gateway", bool((plan.parts["kind"] == "gateway").any())),
        (GUESSED, bool(unread_parts(plan.parts, plan.stations))),
        (FAR, bool((plan.uncertain["reason"] == FAR).any())),
        (GAP, bool(gaps(plan))),
        (NUMBERED, bool(len(plan.passes))),
        (NOT_CLEARED, held_back),
    ]
    kinds = {sign for hazard in hazards for sign in _signs_of(hazard)}
    return sorted(kinds) + [sign for sign, shown in marks if shown]


def _signs_of(hazard: Hazard) -> set[str]:
    """Return the signs that a hazard is drawn with: its kind's, and that of one at a point."""
    spots = spots_of(hazard.geometry)
    if hazard.kind == "obstacle" or not spots:
        return {hazard.kind}
    lines = len(spots) < len(shapely.get_parts(hazard.geometry))
    return {f"{hazard.kind}{POINT}", *([hazard.kind] if lines else [])}


def _zones(plan: Plan, frame: Frame, tones: dict[float, str]) -> str:
    parts = []
    for depth, area in _ground(plan, frame):
        tone = tones.get(depth, "#fff")
        parts.append(path(area, fill=tone, stroke="#000", stroke_width=0.25))
        if depth <= 0:
            lines = hatching(area, constant(RULES, "hatch_mm"), rising=True)
            parts.append(path(lines, fill="none", stroke="#000", stroke_width=0.15))
    return "".join(parts)


def _ground(plan: Plan, frame: Frame) -> list[tuple[float, BaseGeometry]]:
    zones = zones_in_order(plan)
    return [
        (float(depth), frame.on_paper(area))
        for depth, area in zip(zones["depth_cm"], zones.geometry, strict=True)
    ]


def _zones_on_paper(plan: Plan, frame: Frame, tones: dict[float, str]) -> list[ZoneGround]:
    zones = zones_in_order(plan)
    small = set(small_numbers(zones))
    unread = set(zones.loc[guessed_zones(zones), "zone"])
    return [
        ZoneGround(
            str(number),
            depth_text(depth) + (GUESSED_MARK if number in unread else ""),
            tones.get(depth, ""),
            area,
            number in small,
        )
        for number, (depth, area) in zip(zones["zone"], _ground(plan, frame), strict=True)
    ]


def _passes(plan: Plan, frame: Frame) -> str:
    order = plan.passes.sort_values(["pass", "step"], kind="stable")
    lines = shapely.GeometryCollection(list(order.geometry))
    return path(
        frame.on_paper(lines), fill="none", stroke="#fff", stroke_width=0.16, stroke_opacity=0.7
    )


def _hazard(hazard: Hazard, frame: Frame, width_m: float) -> str:
    """Return a hazard with the ground that the plan keeps off, for a machine of this width."""
    ground = frame.on_paper(hazard.geometry.buffer(hazard.keep_off_m(width_m)))
    lines = hatching(ground, constant(RULES, "keep_off_hatch_mm"), rising=False)
    return "".join(
        [
            path(ground, fill="#fff", fill_opacity=0.55, stroke="none"),
            path(lines, fill="none", stroke="#000", stroke_width=0.12),
            path(ground, fill="none", stroke="#000", stroke_width=0.25),
            line_mark(hazard.kind, frame.on_paper(hazard.geometry)),
        ]
    )


def gateway_places(plan: Plan) -> Sequence[shapely.Point]:
    """Return the place on the edge of the field nearest to the middle of each gateway."""
    found = plan.parts[plan.parts["kind"] == "gateway"]
    middles = [area.centroid for area in largest_first(shapely.union_all(list(found.geometry)))]
    return [
        shapely.get_point(shapely.shortest_line(plan.boundary.boundary, at), 0) for at in middles
    ]


def _gateways(plan: Plan, frame: Frame, labels: Labels) -> str:
    places = [frame.on_paper(place) for place in gateway_places(plan)]
    for at in places:
        labels.keep_sign(at.buffer(SIGN_RADIUS_MM))
    return "".join(gateway_mark(*at.coords[0]) for at in places)


def _label_hazards(hazards: tuple[Hazard, ...], frame: Frame, labels: Labels) -> None:
    shapes = [frame.on_paper(hazard.geometry) for hazard in hazards]
    for shape in shapes:
        labels.keep_clear(shape.buffer(0.8))
        for spot in spots_of(shape):
            labels.keep_sign(spot.buffer(SIGN_RADIUS_MM))
    tags = {
        hazards[at].tag: _apart(shape, shapely.union_all([*shapes[:at], *shapes[at + 1 :]]))
        for at, shape in enumerate(shapes)
        if not shape.is_empty
    }
    labels.put_tags(tags)


def _apart(shape: BaseGeometry, others: BaseGeometry) -> shapely.Point:
    """Return where the tag of a hazard belongs: about its middle, away from other hazards."""
    longest = max(shapely.get_parts(shape), key=lambda part: (part.length, part.wkb))
    if longest.geom_type != "LineString":
        return shapely.Point(longest.representative_point())
    shares = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88]
    spots = [shapely.line_interpolate_point(longest, each, normalized=True) for each in shares]
    if others.is_empty:
        return shapely.Point(spots[0])
    far = min(constant(RULES, "tag_apart_mm"), max(spot.distance(others) for spot in spots))
    return shapely.Point(next(spot for spot in spots if spot.distance(others) >= far))

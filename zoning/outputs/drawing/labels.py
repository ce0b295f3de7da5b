"""Where each label stands: inside its ground where it fits, else beside it with a line."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Point, Polygon, affinity
from shapely.geometry.base import BaseGeometry

from zoning.contracts import constant

RULES = "drawing_rules"
WHITE = "#ffffff"
_DIRECTIONS = 24
_PLACES = 12
_SIZES = 5
_TOLERANCE_MM = 0.1
_END_MM = 0.8  # kept free about the end of a line from a label: its dot, and white about it
_LEADER_MM = 0.2  # a line may graze the white about letters


@dataclass(frozen=True, slots=True)
class Label:
    """A number over a line of text.

    Parameters
    ----------
    head, foot
        The two lines; `foot` may be empty.
    size
        Size as a share of full size.
    x_mm, y_mm
        Middle of the label.
    anchor
        Point that a line leads to; ``None`` for a label on its own ground.
    colour
        Colour of the letters.
    behind
        Colour behind the letters.
    turned_deg
        Turn of a label of one line that lies along a narrow strip, clockwise on paper.
    """

    head: str
    foot: str
    size: float
    x_mm: float
    y_mm: float
    anchor: tuple[float, float] | None
    colour: str
    behind: str
    turned_deg: float = 0.0


def letters_mm(words: str, high_mm: float) -> float:
    """Return the width of words in letters of a height [mm]."""
    return constant(RULES, "letter_width_share") * len(words) * high_mm


def label_size_mm(head: str, foot: str, size: float) -> tuple[float, float]:
    """Return width and height of a label [mm]."""
    head_mm = constant(RULES, "number_mm") * size
    foot_mm = constant(RULES, "depth_mm") * size if foot else 0.0
    width = max(letters_mm(head, head_mm), letters_mm(foot, foot_mm))
    return width + 1.6 * size, head_mm + 1.1 * foot_mm + 0.4 * size


def box_of(label: Label) -> Polygon:
    """Return the ground a label covers [mm]."""
    box: Polygon = _box(label.head, label.foot, label.size, label.x_mm, label.y_mm)
    if label.turned_deg == 0.0:
        return box
    return affinity.rotate(box, label.turned_deg, origin=(label.x_mm, label.y_mm))


@dataclass(slots=True)
class Labels:
    """The labels of a drawing, placed one after another so that none covers another.

    Parameters
    ----------
    paper
        Ground that labels must stay on [mm].
    ground
        The field on paper, which labels beside their zone rather keep off [mm].
    """

    paper: Polygon
    ground: BaseGeometry = field(default_factory=Polygon)
    placed: list[Label] = field(default_factory=list)
    taken: list[Polygon] = field(default_factory=list)
    crossed: list[BaseGeometry] = field(default_factory=list)
    signs: list[BaseGeometry] = field(default_factory=list)

    def put_inside(self, ground: Polygon, head: str, foot: str, tone: str, smallest: float) -> bool:
        """Place a label inside `ground`, as large as fits; return whether it fits.

        Parameters
        ----------
        ground
            The zone, or a piece of it [mm].
        head, foot
            The two lines.
        tone
            Colour of the ground; empty where it is hatched.
        smallest
            Least size as a share of full size.
        """
        shy = self._shy_on(ground)
        spots = [*_spots(ground, shy), ground.centroid]
        for size in _sizes(constant(RULES, "label_most"), smallest):
            for spot in spots:
                box = _box(head, foot, size, spot.x, spot.y)
                if _fits(box, ground, shy):
                    self._keep(_on_ground(head, foot, size, spot, tone), box)
                    return True
        return False

    def put_along(self, ground: Polygon, words: str, tone: str, smallest: float) -> bool:
        """Place one line of text along a narrow strip or band; return whether it fits.

        `smallest` is the least size, as a share of full size.
        """
        shy = self._shy_on(ground)
        sizes = _sizes(constant(RULES, "along_most"), smallest)
        for turned, spot in _lies(ground, shy):
            least = replace(_on_ground(words, "", sizes[-1], spot, tone), turned_deg=turned)
            if not _fits(box_of(least), ground, shy):
                continue
            for size in sizes:
                label = replace(least, size=size)
                if _fits(box_of(label), ground, shy):
                    self._keep(label, box_of(label))
                    return True
        return False

    def put_beside(self, anchor: Point, head: str, foot: str, tone: str = WHITE) -> None:
        """Place a label near `anchor` with a line to it.

        That of a zone stands off the field where that is near, any other at the nearest place. The
        line crosses no other label or line where that can be had, nor the label a hazard. A number
        alone is set larger; `tone` is the colour behind the letters.
        """
        size = constant(RULES, "leader_size" if foot else "leader_number_size")
        half_mm = math.hypot(*label_size_mm(head, foot, size)) / 2
        at, colour = (anchor.x, anchor.y), letters_on(tone)
        for off_field, shy, whole in self._wishes(outside=is_number(head)):
            far_mm = constant(RULES, "off_field_mm" if off_field else "leader_farthest_mm")
            for ring in _around(anchor, half_mm, far_mm):
                boxes = _box(head, foot, size, *ring.T)
                ends = np.stack([ring, np.broadcast_to(at, ring.shape)], axis=1)
                lines = np.asarray(shapely.linestrings(ends))
                clear = shapely.covers(self.paper, boxes) & ~_hit(boxes, shy) & ~_hit(lines, whole)
                if off_field:
                    clear &= ~shapely.intersects(self.ground, boxes)
                if clear.any():
                    (x, y), box = ring[clear.argmax()].tolist(), boxes[clear.argmax()]
                    self._keep(Label(head, foot, size, x, y, at, colour, tone), box)
                    return
        lost = Label(head, foot, size, *at, None, colour, tone)
        self._keep(lost, box_of(lost))

    def _wishes(
        self, *, outside: bool
    ) -> Iterator[tuple[bool, Sequence[BaseGeometry], Sequence[BaseGeometry]]]:
        """Yield what to ask of a label beside its ground, each time less.

        That is whether it stands off the field, what it keeps off, and what its line may not cross.
        """
        shy = [*self.taken, *self.crossed]
        letters = [box_of(label).buffer(-_LEADER_MM) for label in self.placed]
        lines = [shapely.LineString(ends) for label in self.placed if (ends := _ends(label))]
        if outside:
            yield True, shy, [*letters, *self.signs, *lines]
        yield False, shy, [*letters, *self.signs, *lines]
        yield False, shy, [*letters, *self.signs]
        yield False, shy, letters
        yield False, shy, []
        yield False, self.taken, []

    def put_tags(self, tags: Mapping[str, Point]) -> None:
        """Place tags, each near its point, that neither hide the end of a line nor get hidden."""
        self.keep_ends(tags.values())
        for tag, anchor in tags.items():
            self.put_beside(anchor, tag, "")
            self.keep_sign(box_of(self.placed[-1]).buffer(_END_MM))

    def keep_ends(self, anchors: Iterable[Point]) -> None:
        """Keep labels off the points that lines of labels will lead to."""
        self.taken += [anchor.buffer(_END_MM) for anchor in anchors]

    def keep_clear(self, ground: BaseGeometry) -> None:
        """Keep labels off `ground`, say a hazard; one without another place stands on it."""
        self.crossed.append(ground)

    def keep_sign(self, ground: Polygon) -> None:
        """Keep labels off a sign, and their lines from ending under it."""
        self.taken.append(ground)
        self.signs.append(ground)

    def _shy_on(self, ground: Polygon) -> list[BaseGeometry]:
        """Return what labels on `ground` must keep off, with `ground` made ready to be asked."""
        shapely.prepare(ground)
        return [each for each in (*self.taken, *self.crossed) if ground.intersects(each)]

    def _keep(self, label: Label, box: Polygon) -> None:
        self.placed.append(label)
        self.taken.append(box)


def largest_first(area: BaseGeometry) -> Sequence[Polygon]:
    """Return the polygons of `area`, the largest first."""
    parts = [part for part in shapely.get_parts(area) if not part.is_empty]
    polygons = [part for part in parts if part.geom_type == "Polygon"]
    return sorted(polygons, key=lambda part: (-round(part.area, 6), part.bounds))


def inner_point(area: Polygon) -> Point:
    """Return the point of `area` farthest from its edge."""
    return Point(shapely.maximum_inscribed_circle(area, tolerance=_TOLERANCE_MM).coords[0])


def line_height_mm() -> float:
    """Return the height of the smallest line of text along a strip [mm]."""
    return label_size_mm("0", "", constant(RULES, "along_least"))[1]


def holds_a_line(area: Polygon) -> bool:
    """Return whether the smallest line of text is anywhere lower than `area` is wide."""
    return not area.buffer(-line_height_mm() / 2.0).is_empty


def letters_on(tone: str) -> str:
    """Return black or white, whichever stands out more on `tone` (relative luminance of WCAG 2)."""
    channels = [int(tone[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return "#000" if luminance > 0.179 else "#fff"


def _lies(ground: Polygon, shy: Sequence[BaseGeometry]) -> Iterator[tuple[float, Point]]:
    """Yield ways that a line of text may lie: turn and middle, first along the whole of `ground`.

    Where `ground` is bent, as a headland is, the text follows the edge nearest to its middle.
    """
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(ground))[:4]
    if math.dist(corners[0], corners[1]) < math.dist(corners[1], corners[2]):
        corners = corners[[1, 2, 3, 0]]
    start, end = (corners[0] + corners[3]) / 2, (corners[1] + corners[2]) / 2
    for share in (0.5, 0.3, 0.7, 0.15, 0.85):
        yield _turn(start, end), Point(start + share * (end - start))
    yield from [(_turn(start, end), spot) for spot in _spots(ground, shy)]
    outline = shapely.get_coordinates(shapely.simplify(ground, 1.0).exterior)
    edges = [shapely.LineString(ends) for ends in pairwise(outline)]
    for spot in _scattered(ground, shy):
        ends = shapely.get_coordinates(edges[int(np.argmin(shapely.distance(edges, spot)))])
        yield _turn(ends[0], ends[1]), spot


def _turn(start: NDArray[np.float64], end: NDArray[np.float64]) -> float:
    """Return a direction from -90 to 90 degrees, clockwise on paper: no text is upside down."""
    dx, dy = end - start
    return (math.degrees(math.atan2(dy, dx)) + 90.0) % 180.0 - 90.0


def _sizes(largest: float, smallest: float) -> list[float]:
    """Return the sizes to try, the largest first."""
    return [largest - step * (largest - smallest) / (_SIZES - 1) for step in range(_SIZES)]


def _fits(box: Polygon, ground: Polygon, shy: Sequence[BaseGeometry]) -> bool:
    """Return whether a label is on its ground whole and off everything else."""
    return ground.covers(box) and not shapely.intersects(list(shy), box).any()


def _hit(shapes: NDArray[np.object_], grounds: Sequence[BaseGeometry]) -> NDArray[np.bool_]:
    """Return which of `shapes` meet any of the grounds."""
    held = np.array(grounds, dtype=np.object_)
    return np.asarray(shapely.intersects(held[:, None], shapes).any(axis=0))


def _spots(ground: Polygon, shy: Sequence[BaseGeometry]) -> list[Point]:
    """Return the roomiest places of what is left of `ground`."""
    free = largest_first(ground.difference(shapely.union_all(shy))) if shy else [ground]
    return [inner_point(area) for area in free[:3] if area.area > 1.0]


def _scattered(ground: Polygon, shy: Sequence[BaseGeometry]) -> Iterator[Point]:
    """Yield roomy places of `ground`, each some way from those before."""
    free = ground.difference(shapely.union_all(shy)) if shy else ground
    for _ in range(_PLACES):
        left = largest_first(free)
        if not left or left[0].area <= 1.0:
            return
        spot = inner_point(left[0])
        yield spot
        free = free.difference(spot.buffer(constant(RULES, "bent_apart_mm")))


def _box(head: str, foot: str, size: float, x: Any, y: Any) -> Any:
    """Return the ground of a label about a place [mm], or of each about many."""
    width, height = label_size_mm(head, foot, size)
    return shapely.box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def _on_ground(head: str, foot: str, size: float, spot: Point, tone: str) -> Label:
    """Return a label on its ground, whose tone behind the letters hides the passes."""
    behind = tone or WHITE
    return Label(head, foot, size, spot.x, spot.y, None, letters_on(behind), behind)


def is_number(head: str) -> bool:
    """Return whether a label is that of a zone, not the tag of a hazard."""
    return head.isdigit()


def _ends(label: Label) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Return the ends of the line of a label; nothing where it stands on its ground."""
    return ((label.x_mm, label.y_mm), label.anchor) if label.anchor else None


def _around(anchor: Point, half_mm: float, far_mm: float) -> Iterator[NDArray[np.float64]]:
    """Yield rings of places about `anchor`, shape ``(n, 2)`` [mm], none beyond `far_mm`."""
    radius = half_mm + constant(RULES, "leader_gap_mm")
    angles = [2 * math.pi * number / _DIRECTIONS for number in range(_DIRECTIONS)]
    x_mm, y_mm = anchor.x, anchor.y
    while radius <= far_mm:
        yield np.array(
            [(x_mm + radius * math.sin(angle), y_mm - radius * math.cos(angle)) for angle in angles]
        )
        radius *= 1.2

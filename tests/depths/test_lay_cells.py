from __future__ import annotations

import numpy as np
import shapely

from zoning.depths.lay_cells import Labels, chained, gathered, strip_track
from zoning.depths.lay_faces import borders


def row(widths: list[float]) -> np.ndarray:
    edge = np.concatenate([[0.0], np.cumsum(widths)])
    return shapely.box(edge[:-1], 0, edge[1:], 5)


def labels(strip: list[int], step: list[int], headland: bool = False) -> Labels:
    track = np.array(strip) if headland else strip_track(np.array(strip))
    return Labels(track, np.array(step), np.full(len(step), headland))


def test_a_small_end_goes_to_its_own_pass_even_over_a_shorter_border() -> None:
    polygons = np.array(
        [shapely.box(0, 0, 5, 5), shapely.box(5, 4, 7, 5), shapely.box(5, 5, 10, 10)]
    )
    polygons[2] = shapely.union(polygons[2], shapely.box(5, 5, 7, 5))
    faces = np.array(
        [polygons[0], polygons[1], shapely.Polygon([(5, 5), (7, 5), (10, 5), (10, 10), (5, 10)])]
    )
    faces[0] = shapely.Polygon([(0, 0), (5, 0), (5, 4), (5, 5), (0, 5)])
    pieces = gathered(shapely.area(faces), borders(faces), labels([0, 0, 1], [0, 1, 1]), 25.0)
    assert pieces.piece.tolist() == [0, 0, 1]
    assert (pieces.first.tolist(), pieces.last.tolist()) == ([0, 1], [1, 1])


def test_faces_of_one_step_join() -> None:
    faces = row([2, 3, 5])
    pieces = gathered(shapely.area(faces), borders(faces), labels([0, 0, 0], [4, 4, 5]), 25.0)
    assert pieces.piece.tolist() == [0, 0, 1]
    assert chained(pieces, borders(faces)).tolist() == [0, 0]


def test_a_gap_parts_the_pass() -> None:
    faces = row([5, 5, 5, 5])[[0, 1, 3]]
    pieces = gathered(shapely.area(faces), borders(faces), labels([0, 0, 0], [0, 1, 3]), 25.0)
    assert chained(pieces, borders(faces)).tolist() == [0, 0, 1]


def test_a_headland_step_met_twice_keeps_the_larger() -> None:
    faces = row([5, 5, 3])
    shared = borders(faces)
    pieces = gathered(
        shapely.area(faces), shared, labels([0, 0, 0], [7, 8, 7], headland=True), 25.0
    )
    assert pieces.piece.tolist() == [0, 1, 1]
    assert chained(pieces, shared).tolist() == [0, 0]


def test_where_a_strip_is_parted_the_longer_border_goes_on() -> None:
    faces = np.array(
        [
            shapely.Polygon([(0, 0), (5, 0), (5, 5), (3, 5), (0, 5)]),
            shapely.box(0, 5, 3, 10),
            shapely.Polygon([(3, 5), (5, 5), (5, 10), (3.5, 10)]),
        ]
    )
    pieces = gathered(shapely.area(faces), borders(faces), labels([0, 0, 0], [0, 1, 1]), 25.0)
    assert pieces.piece.tolist() == [0, 1, 2]
    assert chained(pieces, borders(faces)).tolist() == [0, 0, 1]


def test_headland_passes_come_first() -> None:
    faces = np.concatenate([row([5, 5]), shapely.box([0, 5], 20, [5, 10], 25)])
    both = Labels(
        np.array([*strip_track(np.array([-3, -3])), 0, 0]),
        np.array([0, 1, 0, 1]),
        np.array([False, False, True, True]),
    )
    pieces = gathered(shapely.area(faces), borders(faces), both, 25.0)
    assert chained(pieces, borders(faces)).tolist() == [1, 1, 0, 0]

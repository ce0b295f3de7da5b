"""Where to dig next: spread over the ground whose verdict is open, and where in it is in doubt.

The share of the ground that is passed is judged as if its pits were drawn at random (`intervals`).
So places are spread first, over depths, parts and sides, and only then lean to where it is most
open whether the pan is gone: pits dug there alone would draw the share towards one half, whatever
it is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry.base import BaseGeometry

from zoning.checks.diggable import Floats, Places, part_due, places_to_dig, roomy
from zoning.checks.places import waited_for
from zoning.checks.ran import base_missed, base_passed, depths_off
from zoning.checks.rules import rule
from zoning.model import Notice
from zoning.model.check import JUDGED, PlannedGround

COLUMNS = (
    "order", "zone", "depth_cm", "x_m", "y_m", "reason", "chance_between", "ridge_cm", "ridge_from",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Spot:
    """A pit that was dug, or a place chosen to dig."""

    zone: int
    depth_cm: float
    x_m: float
    y_m: float
    part: str
    reason: str = ""
    chance_between: float = np.nan
    ridge_cm: float = np.nan
    ridge_from: str = ""


def dig_next(
    planned: PlannedGround,
    groups: pd.DataFrame,
    pits: pd.DataFrame,
    probes: pd.DataFrame,
    *,
    parts: gpd.GeoDataFrame,
    ridge_cm: float,
    keep_off: BaseGeometry,
) -> gpd.GeoDataFrame:
    """Return places to dig next, in the order to dig them, no more than ``dig_most``.

    Parameters
    ----------
    planned
        The plan that was worked to; its zones may hold ``expected_ridge_cm`` and
        ``expected_ridge_from`` (see `zoning.checks.diggable.places_to_dig`).
    groups
        Rows of `zoning.checks.judge_groups`: ``more_pits`` of each depth is shared out.
    pits
        Rows of `zoning.checks.judge_pits`: no place is named within ``dig_apart_m`` of one.
    probes
        Cone stations of after the work: those that still meet a pan come first.
    parts
        ``part``, geometry: parts of the field.
    ridge_cm
        Mean ridge of the pits, NaN where none has shown one [cm].
    keep_off
        Ground about drains and services, where nobody is sent to dig.

    Returns
    -------
    GeoDataFrame
        ``order, zone, depth_cm, x_m, y_m, reason`` and ``chance_between``: how likely, by the plan,
        the pan is passed between legs there, with the ``ridge_cm`` that was taken for it and
        ``ridge_from``, what that rests on; NaN and blank at a cone station. ``chance_between`` is
        NaN too where most pits of that depth and part show otherwise, and at `depths_off`.

    Notes
    -----
    Each depth gets a place; each further one goes to the depth with the largest
    ``area / (2 n + 1)``, `n` its places so far (the divisors of Sainte-Laguë, which share out by
    area; from memory). Within it the place goes to the part with the largest of the same, `n` its
    pits and places so far, and there to where ``nearer * (1 + w worth)`` is largest. `nearer`
    is by how much a pit there shortens the mean way from that ground to its nearest pit or place,
    one at another depth counting as ``dig_other_depth`` times as far (spatial coverage sampling:
    Brus, de Gruijter and van Groenigen, Developments in Soil Science 31, 2006, 183-192, from
    memory); ``worth = p * 4 q (1 - q)`` is the probability of a pan times how open it is whether
    the ground between legs passes its base, ``q = Phi((depth - ridge - base) / sd)``; `w` is
    ``dig_doubt_weight``. Where that leaves no room for all that a depth asks for, its places are
    chosen again, each the one that shuts out the fewest others, and are taken if they are more.
    """
    places = places_to_dig(planned, parts, ridge_cm, keep_off)
    dug = [_spot(pit) for pit in pits.to_dict("records")]
    first, wanted = _contradicting(probes, dug, keep_off), _wanted(groups)
    waits = waited_for(planned.zones, pits, parts)
    chosen = _chosen(places, wanted, dug, first, waits)
    tight = _without_place(wanted, [spot.depth_cm for spot in chosen[len(first) :]])
    if tight and len(chosen) < rule("dig_most"):
        chosen = max(chosen, _chosen(places, wanted, dug, first, waits, tight), key=len)
    more, off = _more_passed(pits), depths_off(pits)
    chosen = [_unless_otherwise(spot, more, off) for spot in chosen]
    frame = pd.DataFrame(
        [tuple(getattr(spot, name) for name in COLUMNS[1:]) for spot in chosen],
        columns=list(COLUMNS[1:]),
    )
    frame.insert(0, "order", np.arange(1, len(frame) + 1))
    shape = gpd.points_from_xy(frame["x_m"], frame["y_m"])
    return gpd.GeoDataFrame(frame, geometry=shape, crs=planned.working_crs)


def _spot(row: Mapping[Any, Any], reason: str = "") -> _Spot:
    depth, x, y = (float(row[name]) for name in ("depth_cm", "x_m", "y_m"))
    return _Spot(int(row["zone"]), depth, x, y, str(row["part"]), reason)


def _more_passed(pits: pd.DataFrame) -> dict[tuple[float, str], int]:
    """Return by how many pits more of a depth and part passed between the legs than did not."""
    own = pits[pits["verdict"].isin(JUDGED)]
    chance = own["chance_between"]
    more = base_passed(chance).astype(int) - base_missed(chance).astype(int)
    found: Counter[tuple[float, str]] = Counter()
    for depth, part, one in zip(own["depth_cm"], own["part"], more, strict=True):
        found[float(depth), str(part)] += int(one)
    return found


def _unless_otherwise(
    spot: _Spot, more: Mapping[tuple[float, str], int], off: Collection[float]
) -> _Spot:
    """Return the place without its chance where pits of its depth, or that and part, go against."""
    toward = 1 if spot.chance_between >= rule("passed_probability") else -1
    against = spot.depth_cm in off or toward * more.get((spot.depth_cm, spot.part), 0) < 0
    return replace(spot, chance_between=np.nan) if against else spot


def _wanted(groups: pd.DataFrame) -> dict[float, int]:
    """Return how many more pits each depth asks for, the largest ground first."""
    own = groups[groups["group"] == "depth"].sort_values(
        ["area_ha", "name"], ascending=False, kind="stable"
    )
    return {float(row["depth_cm"]): max(0, int(row["more_pits"])) for row in own.to_dict("records")}


def _without_place(wanted: Mapping[float, int], named_cm: Iterable[float]) -> dict[float, int]:
    """Return how many of the pits that each depth asks for have no place among those named."""
    named = Counter(named_cm)
    return {depth: more - named[depth] for depth, more in wanted.items() if more > named[depth]}


def dig_notices(groups: pd.DataFrame, found: pd.DataFrame) -> tuple[Notice, ...]:
    """Return for which of the pits asked for no place is named, why, and what to do.

    Parameters
    ----------
    groups
        Rows of `zoning.checks.judge_groups`.
    found
        Rows of `dig_next`.
    """
    wanted = _wanted(groups)
    # Cone stations that still meet a pan come on top of what a depth asks for.
    short = _without_place(wanted, found.loc[found["ridge_from"] != "", "depth_cm"])
    if short and len(found) >= rule("dig_most"):
        text = _day_of(len(found), groups, sum(wanted.values()), sum(short.values()))
        return (Notice("note", "check-dig-most", text),)
    return tuple(
        Notice("note", "check-dig-room", _no_room(depth, wanted[depth], left))
        for depth, left in short.items()
    )


def _day_of(named: int, groups: pd.DataFrame, wanted: int, short: int) -> str:
    """Return what the places that are named serve for, where a day's digging holds no more."""
    more = max(0, int(groups.loc[groups["group"] == "field", "more_pits"].max()))
    field = f"{more} more may settle the whole field. " if more else ""
    return (
        f"Dig places 1 to {named} in this order, a day's digging; run the check after each few. "
        f"{field}A verdict on every depth asks for {wanted}, {short} of them without a place yet."
    )


def _no_room(depth_cm: float, more: int, left: int) -> str:
    of = f"{left} of the {more} pits" if more > 1 else "the pit"
    rest = "it" if left == 1 else "them"
    return (
        f"No place is named for {of} asked for at {depth_cm:g} cm: no more fit "
        f"{rule('dig_apart_m'):g} m from one another and from the pits dug, off the edges of that "
        f"ground and off the keep-off of hazards. Dig {rest} in that ground, off every keep-off "
        "too and, until services are located, no deeper than the notice depth, as far from the "
        f"other pits as it allows, more than {rule('one_place_m'):g} m: nearer ones count as one "
        "place. Where that does not fit either, this ground gets no verdict of its own: go by its "
        "single pits and by the whole field."
    )


def _chosen(
    places: Places,
    wanted: Mapping[float, int],
    dug: Sequence[_Spot],
    first: Sequence[_Spot],
    waits: Mapping[float, set[str]],
    tight: Collection[float] = (),
) -> list[_Spot]:
    """Return `first` and the places of each depth, shared by area; close where `tight`."""
    chosen, open_yet, had = list(first), dict(wanted), dict.fromkeys(wanted, 0)
    area = {depth: np.count_nonzero(places.depth_cm == depth) for depth in wanted}
    while len(chosen) < rule("dig_most") and any(open_yet.values()):
        due = [depth for depth, more in open_yet.items() if more > 0]
        depth = max(due, key=lambda one: (had[one] == 0, area[one] / (2 * had[one] + 1)))
        waiting = waits.get(depth, set()) - {one.part for one in chosen if one.depth_cm == depth}
        found = _best(places, depth, dug, chosen, waiting, close=depth in tight)
        open_yet[depth] = open_yet[depth] - 1 if found else 0
        had[depth] += 1
        chosen += [found] if found else []
    return chosen


def _contradicting(
    probes: pd.DataFrame, dug: Sequence[_Spot], keep_off: BaseGeometry
) -> list[_Spot]:
    """Return the cone stations that still meet a pan and have no pit beside them."""
    still = probes[
        (probes["n_known"] > 0) & (probes["verdict"] != "no_pan") & (probes["depth_cm"] > 0)
    ]
    found: list[_Spot] = []
    for probe in still.sort_values("station", kind="stable").to_dict("records"):
        spot = _spot(probe, f"The cone still meets a pan at station {probe['station']}.")
        place = np.array([[spot.x_m, spot.y_m]])
        clear = _gap_m(place, dug)[0] > rule("pair_place_m")
        apart = _gap_m(place, found)[0] >= rule("dig_apart_m")
        off = shapely.intersects_xy(keep_off, spot.x_m, spot.y_m)
        if clear and apart and not off and len(found) < rule("dig_probes_most"):
            found.append(spot)
    return found


def _gap_m(xy_m: Floats, spots: Sequence[_Spot]) -> Floats:
    """Return how far each place is from the nearest spot; infinite without any."""
    gap = np.full(len(xy_m), np.inf)
    for spot in spots:
        np.minimum(gap, np.hypot(*(xy_m - [spot.x_m, spot.y_m]).T), out=gap)
    return gap


def _best(
    places: Places,
    depth_cm: float,
    dug: Sequence[_Spot],
    chosen: Sequence[_Spot],
    waiting: set[str],
    *,
    close: bool,
) -> _Spot | None:
    """Return the free place at a depth that serves best: of equals the north-western one.

    Where many are to stand `close`, that which shuts out the fewest others serves best.
    """
    spots = [*dug, *chosen]
    ground = np.flatnonzero(places.depth_cm == depth_cm)
    free = ground[_gap_m(places.xy_m[ground], spots) >= rule("dig_apart_m")]
    free = roomy(places, free, waiting)
    if not len(free):
        return None
    if close:
        held = free
        score = -_shut_out(places.xy_m[free])
    else:
        had = Counter(spot.part for spot in spots if spot.depth_cm == depth_cm)
        part = part_due(places, ground, free, had, waiting)
        held = _thinned(free[places.part[free] == part], "dig_places_most")
        own = _thinned(ground[places.part[ground] == part], "dig_ground_most")
        nearer = _nearer_m(
            places.xy_m[held], places.xy_m[own], _way_m(places, own, depth_cm, spots)
        )
        score = np.round(nearer * (1.0 + rule("dig_doubt_weight") * places.worth[held]), 2)
    x, y = places.xy_m[held].T
    return _at(places, int(held[np.lexsort([x, -y, -score])[0]]), dug)


def _at(places: Places, cell: int, dug: Sequence[_Spot]) -> _Spot:
    near_m = float(_gap_m(places.xy_m[[cell]], dug)[0])
    x_m, y_m = map(float, places.xy_m[cell])
    part = str(places.part[cell])
    return _Spot(
        int(places.zone[cell]),
        float(places.depth_cm[cell]),
        x_m,
        y_m,
        part,
        _reason(part, near_m),
        round(float(places.chance[cell]), 2),
        float(places.ridge_cm[cell]),
        str(places.ridge_from[cell]),
    )


def _shut_out(xy_m: Floats) -> Floats:
    """Return how many of the places a pit at each of them would lie too near to."""
    reach_m = np.nextafter(rule("dig_apart_m"), 0.0)
    return np.asarray(cKDTree(xy_m).query_ball_point(xy_m, reach_m, return_length=True), float)


def _thinned(held: NDArray[np.int64], most: str) -> NDArray[np.int64]:
    """Return no more than rule `most` of the places, evenly taken."""
    count = min(len(held), int(rule(most)))
    return held[np.linspace(0, len(held) - 1, count).astype(np.int64)]


def _way_m(
    places: Places, own: NDArray[np.int64], depth_cm: float, spots: Sequence[_Spot]
) -> Floats:
    """Return the way from each place of `own` to its nearest spot, at most across all ground."""
    xy = places.xy_m[own]
    same = _gap_m(xy, [spot for spot in spots if spot.depth_cm == depth_cm])
    other = _gap_m(xy, [spot for spot in spots if spot.depth_cm != depth_cm])
    across = float(np.hypot(*np.ptp(places.xy_m, axis=0)))
    return np.fmin(across, np.fmin(same, rule("dig_other_depth") * other))


def _nearer_m(xy_m: Floats, ground_m: Floats, way_m: Floats) -> Floats:
    """Return by how much a pit at each place shortens the mean way from the ground."""
    saved = [np.maximum(way_m - np.hypot(*(ground_m - place).T), 0.0).mean() for place in xy_m]
    return np.array(saved)


def _reason(part: str, near_m: float) -> str:
    """Say why a place is worth a pit: its part, and how far those of after the work are."""
    dug = "no pit behind the machine"
    far = f"{dug} within {near_m:.0f} m" if np.isfinite(near_m) else f"{dug} yet"
    return f"{part.capitalize()}: {far}." if part else f"{far.capitalize()}."

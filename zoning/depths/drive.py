"""The working depth of every step of every pass."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.depths.chain import Driver
from zoning.depths.compare import Weighed, losses_of
from zoning.depths.islands import patches_not_worth
from zoning.depths.lay import Laid
from zoning.depths.levels import allowed_options, deepest_within, depth_options, gap_costs
from zoning.depths.loss import expected_loss, needed_depth
from zoning.depths.places import Places
from zoning.depths.remarks import Facts, remarks
from zoning.depths.search import Search
from zoning.depths.steps import (
    chains_of,
    change_charge,
    patch_charge,
    piece_cost,
    setting_charge,
)
from zoning.depths.worth import Steps, worth_setting
from zoning.model import Losses, Notice, PanSurface, Settings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class DepthChoice:
    """What depth each piece is worked at.

    Parameters
    ----------
    depth_cm
        Working depth of each piece, 0 for legs lifted out, shape ``(pieces,)`` [cm].
    levels_cm
        The different working depths in use, rising [cm].
    cap_cm
        Deepest setting that the hazards leave each piece, 0 for none, shape ``(pieces,)`` [cm].
    losses
        Expected loss of this choice and of the others: see `zoning.depths.compare`.
    at_most_loss_cm
        Expected loss along these passes with at most 1, 2, ... working depths, the last with as
        many as are allowed; every set but the last is the best that was tried [cm].
    notices
        What the user must be told.
    """

    depth_cm: Floats
    levels_cm: Floats
    cap_cm: Floats
    losses: Losses
    at_most_loss_cm: tuple[float, ...]
    notices: tuple[Notice, ...]

    @property
    def barred(self) -> NDArray[np.bool_]:
        """Pieces that the hazards leave no depth of this choice."""
        least = self.levels_cm[0] if len(self.levels_cm) else 0.0
        return (self.cap_cm <= 0) | (self.cap_cm < least)


@dataclass(frozen=True, slots=True, eq=False)
class _Driven:
    """Option of each piece, the same with fewer depths, and how it was found.

    `proven` tells whether no other set of as many depths is better, `short_worked_m` the worked
    runs that a hazard makes shorter than the shortest run [m], `slivers_m2` what was lifted as too
    short to sink on.
    `left_out_m2` holds the area of each option that was not worth a setting of its own,
    `patches_m2` that of each patch of work that was not worth going to.
    """

    option: Ints
    with_fewer: tuple[Ints, ...]
    proven: bool
    short_worked_m: tuple[float, ...]
    slivers_m2: float
    left_out_m2: Mapping[int, float]
    patches_m2: tuple[float, ...]


def choose_depths(
    laid: Laid,
    places: Places,
    surface: PanSurface,
    settings: Settings,
    caps_cm: Floats,
    *,
    pan_met: bool = True,
) -> DepthChoice:
    """Choose a few working depths and lay them along the passes.

    Of all ways to drive the passes with at most ``max_depths`` working depths, each a setting of
    the machine, none deeper than its cap and every run at least the shortest run, the one of least
    expected loss plus the charge for changes is sought. Along the passes that is exact; over the
    sets of depths too, unless a notice says that not all could be tried. A depth for next to no
    ground must be worth its setting besides: see `zoning.depths.worth`.

    Parameters
    ----------
    laid
        Passes and pieces.
    places
        Ground of each part in each piece.
    surface
        The pan at the places.
    settings
        Settings of the field.
    caps_cm
        Greatest depth that the hazards allow each piece, infinite for none, shape ``(pieces,)``
        [cm]. It is rounded down to a setting; below the shallowest the legs are lifted out, with
        ``lift_out`` or without.
    pan_met
        Whether any reading met a pan. Where none did, work would rest on common experience alone:
        the legs are lifted out, or run at the shallowest setting where they may not be.

    Raises
    ------
    zoning.errors.PlanRefused
        If the machine has no setting.
    ValueError
        If sizes do not agree, a place lies in no piece or a piece holds no place.
    """
    _check(laid.pieces, places.piece, caps_cm)
    depth = settings.depth
    options = depth_options(settings.machine)
    loss = expected_loss(
        surface, options, clearance_cm=depth.clearance_cm, assurance=depth.assurance
    )
    cost = piece_cost(places, loss, len(laid.pieces))
    allowed = allowed_options(options, caps_cm, lift_out=depth.lift_out)
    if not pan_met:
        allowed &= np.cumsum(allowed, axis=1) == 1
    needed_cm = needed_depth(surface, clearance_cm=depth.clearance_cm, assurance=depth.assurance)
    area_m2 = np.bincount(places.piece, places.area_m2).astype(np.float64)
    driven = _drive(laid, np.where(allowed, cost, np.inf), area_m2, settings)
    cap = deepest_within(options, caps_cm)
    column = np.searchsorted(options, cap)[places.piece]
    weighed = Weighed(loss, places.area_m2, allowed[places.piece], column, options)
    free = weighed.best_of(weighed.few(depth.max_depths))
    facts = Facts(
        area_m2=places.area_m2,
        needed_cm=needed_cm if pan_met else np.zeros_like(needed_cm),
        cap_cm=cap[places.piece],
        depth_cm=options[driven.option[places.piece]],
        deepest_cm=float(options[-1]),
        lift_out=depth.lift_out,
        min_run_m=depth.min_run_m,
        short_worked_m=driven.short_worked_m,
        slivers_m2=driven.slivers_m2,
        proven=driven.proven,
        left_out_m2={float(options[k]): area for k, area in driven.left_out_m2.items()},
        pan_met=pan_met,
        patches_m2=driven.patches_m2,
    )
    depth_cm = options[driven.option]
    at_most = _at_most(driven, places.piece, depth.max_depths)
    return DepthChoice(
        depth_cm=depth_cm,
        levels_cm=np.unique(depth_cm[depth_cm > 0]),
        cap_cm=cap,
        losses=losses_of(
            weighed, at_most[-1], at_most[0], free, surface, clearance_cm=depth.clearance_cm
        ),
        at_most_loss_cm=tuple(weighed.mean(option) for option in at_most),
        notices=remarks(facts),
    )


def _at_most(driven: _Driven, piece: Ints, most: int) -> list[Ints]:
    """Return the option of each place with at most 1, 2, ... `most` depths.

    Further ones than the plan has bring nothing, so the last is the plan.
    """
    options = [*driven.with_fewer, *[driven.option] * most][:most]
    return [option[piece] for option in options]


def _drive(laid: Laid, cost: Floats, area_m2: Floats, settings: Settings) -> _Driven:
    """Find the levels and lay them along the passes."""
    order, chains = chains_of(laid)
    min_run_m = settings.depth.min_run_m
    change = change_charge(settings)
    driver = Driver(chains, cost[order], min_run_m=min_run_m, change_charge=change)
    most = min(settings.depth.max_depths, cost.shape[1] - 1)
    trials = int(constant("depth_rules", "search_effort") / driver.effort(most + 1))
    tight = driver.bound if driver.has_loops else None
    search = Search(driver.objective, _bounds(cost), cost.shape[1], trials=trials, tight=tight)
    found = search.best(most, sets=int(constant("depth_rules", "search_sets")))
    steps = Steps(area_m2[order], ~np.isfinite(cost[order, -1]))
    chosen = worth_setting(found, search, driver, steps, setting_charge(settings), change)
    back, least_m = np.argsort(order), constant("depth_rules", "least_worked_m")
    level = driver.without_slivers(chosen.level, least_m)
    option, charge = level[back], patch_charge(settings)
    polygons = laid.pieces.geometry.to_numpy()
    passes = laid.pieces["pass_id"].to_numpy(dtype=np.int64)
    patches = patches_not_worth(polygons, option, cost, area_m2, passes, charge)
    for patch in patches:
        option[patch] = 0
    few = [driver.sequence((0, *columns)) for columns in chosen.found.fewer]
    short = driver.short_runs(option[order])
    return _Driven(
        option=option,
        with_fewer=tuple(driver.without_slivers(each, least_m)[back] for each in few),
        proven=chosen.found.proven,
        short_worked_m=tuple(run.length_m for run in short if run.level > 0),
        slivers_m2=float(area_m2[order][level != chosen.level].sum()),
        left_out_m2=chosen.left_out,
        patches_m2=tuple(float(area_m2[patch].sum()) for patch in patches),
    )


def _bounds(cost: Floats) -> Callable[[Ints], Floats]:
    """Return a lower bound of the cost of sets: every piece with its best level."""
    gaps = gap_costs(cost)

    def bound(sets: Ints) -> Floats:
        walled = np.column_stack(
            [np.zeros(len(sets), dtype=np.int64), sets + 1, np.full(len(sets), len(gaps) - 1)]
        )
        return np.asarray(gaps[walled[:, :-1], walled[:, 1:]].sum(axis=1))

    return bound


def _check(pieces: gpd.GeoDataFrame, place_piece: Ints, caps_cm: Floats) -> None:
    n = len(pieces)
    if n == 0 or not np.array_equal(pieces["piece"].to_numpy(), np.arange(n)):
        raise ValueError("Pieces must be numbered from 0 in the order of their rows.")
    if len(caps_cm) != n:
        raise ValueError("There must be one cap a piece.")
    if not np.array_equal(np.unique(place_piece), np.arange(n)):
        raise ValueError("Every place must lie in a piece, and every piece hold a place.")

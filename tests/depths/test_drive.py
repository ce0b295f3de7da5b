from __future__ import annotations

import re
from dataclasses import asdict
from itertools import pairwise

import geopandas as gpd
import numpy as np
import pytest
from depths.plain_passes import loop, placed, rules, straight, surface
from depths.sequences import runs
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, box

from zoning.depths.drive import DepthChoice, choose_depths
from zoning.depths.lay import Laid, lay_passes
from zoning.depths.levels import depth_options
from zoning.depths.places import places_of
from zoning.depths.steps import chains_of
from zoning.model import PanSurface, Settings

PASSES, STEPS = 4, 16
PLACE_PIECE = np.repeat(np.arange(PASSES * STEPS), 2)  # two places of 7.5 m2 a piece
PLACES = placed(PLACE_PIECE, 7.5)
FREE = np.full(PASSES * STEPS, np.inf)


def rough(seed: int) -> PanSurface:
    """Return a pan that varies from patch to patch, with and without."""
    rng = np.random.default_rng(seed)
    patch = rng.integers(0, 6, len(PLACE_PIECE) // 8).repeat(8)
    mean = np.linspace(18, 44, 6)[patch] + rng.normal(0, 1, len(PLACE_PIECE))
    return surface(mean, rng.uniform(0.5, 5), np.where(rng.random(6)[patch] < 0.3, 0.05, 0.95))


def choose(
    pan: PanSurface, plan: Settings, caps_cm: np.ndarray = FREE, laid: Laid | None = None
) -> DepthChoice:
    return choose_depths(laid or straight(PASSES, STEPS), PLACES, pan, plan, caps_cm)


def run_lengths(depth_cm: np.ndarray) -> list[tuple[int, int, float]]:
    """Return first step, steps and depth of each run of each pass, pass after pass."""
    found = []
    for levels in depth_cm.reshape(PASSES, STEPS):
        cuts = [0, *(np.flatnonzero(np.diff(levels)) + 1), STEPS]
        found += [(a, b - a, float(levels[a])) for a, b in pairwise(cuts)]
    return found


plans = st.builds(
    rules,
    st.sampled_from([{}, {"depth_step_cm": 5.0}, {"depth_min_cm": 20.0, "depth_max_cm": 38.0}]),
    max_depths=st.integers(1, 4),
    lift_out=st.booleans(),
    min_run_m=st.sampled_from([0.0, 15.0, 25.0]),
    assurance=st.sampled_from([0.5, 0.8, 0.9]),
)


@given(st.integers(0, 10_000), plans, st.floats(0, 0.3))
@settings(max_examples=60, deadline=None)
def test_depths_are_settings_of_the_machine_within_the_caps_and_few(
    seed: int, plan: Settings, capped: float
) -> None:
    rng = np.random.default_rng(seed)
    caps = np.where(rng.random(len(FREE)) < capped, rng.uniform(0, 60, len(FREE)), np.inf)
    choice = choose(rough(seed), plan, caps)
    options = depth_options(plan.machine)
    assert np.isin(choice.depth_cm, options).all()
    assert (choice.depth_cm <= caps).all()
    assert len(choice.levels_cm) <= plan.depth.max_depths
    assert choice.levels_cm.tolist() == sorted(set(choice.depth_cm) - {0.0})
    if not plan.depth.lift_out:
        assert (caps[choice.depth_cm == 0] < plan.machine.depth_min_cm).all()


@given(st.integers(0, 10_000), plans)
@settings(max_examples=40, deadline=None)
def test_losses_stand_in_their_order(seed: int, plan: Settings) -> None:
    losses = choose(rough(seed), plan).losses
    assert losses.unconstrained_cm <= losses.driven_cm + 1e-9
    assert losses.driven_cm <= losses.single_depth_loss_cm + 1e-9
    assert losses.single_depth_loss_cm <= losses.point95_loss_cm + 1e-9


@given(st.integers(0, 10_000), st.booleans())
@settings(max_examples=20, deadline=None)
def test_one_depth_has_one_loss_under_hazards(seed: int, lift_out: bool) -> None:
    rng = np.random.default_rng(seed)
    caps = np.where(rng.random(len(FREE)) < 0.2, rng.uniform(0, 60, len(FREE)), np.inf)
    choice = choose(rough(seed), rules({}, max_depths=1, lift_out=lift_out), caps)
    assert choice.at_most_loss_cm == (choice.losses.driven_cm,)
    assert choice.losses.single_depth_loss_cm == choice.losses.driven_cm
    assert choice.losses.single_depth_cm == choice.depth_cm.max()
    several = choose(rough(seed), rules({}, max_depths=3, lift_out=lift_out), caps)
    assert several.losses.single_depth_loss_cm == several.at_most_loss_cm[0]


@given(st.integers(0, 10_000), plans)
@settings(max_examples=40, deadline=None)
def test_runs_are_long_enough_without_hazards(seed: int, plan: Settings) -> None:
    choice = choose(rough(seed), plan)
    assert all(steps * 5.0 >= plan.depth.min_run_m for _, steps, _ in run_lengths(choice.depth_cm))
    assert "short-runs-at-hazards" not in {notice.code for notice in choice.notices}


@given(st.integers(0, 10_000), plans)
@example(183, rules(max_depths=1, min_run_m=15.0, assurance=0.5))  # a patch of work is lifted too
@settings(max_examples=40, deadline=None)
def test_short_worked_runs_are_told_and_stand_at_lifted_stretches(
    seed: int, plan: Settings
) -> None:
    caps = FREE.copy()
    caps[np.random.default_rng(seed).integers(0, len(caps), 3)] = 0.0
    choice = choose(rough(seed), plan, caps)
    lengths_m = [steps * 5 for _, steps, depth in run_lengths(choice.depth_cm) if depth > 0]
    short = [length_m for length_m in lengths_m if length_m < plan.depth.min_run_m]
    told = [n.text for n in choice.notices if n.code == "short-runs-at-hazards"]
    assert len(told) == bool(short)
    for text in told:
        assert re.match(rf"{len(short)} worked runs? (is|are) shorter", text)
        assert f"down to {min(short)} m: drive them" in text


@given(st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_more_depths_never_lose_more_and_one_is_no_worse_than_the_best_single(seed: int) -> None:
    pan = rough(seed)
    driven = [choose(pan, rules(max_depths=most)) for most in (1, 2, 3, 4)]
    assert not any("not-proven" in notice.code for each in driven for notice in each.notices)
    objective = [objective_of(choice, pan) for choice in driven]
    assert (np.diff(objective) <= 1e-6).all()


def objective_of(choice: DepthChoice, pan: PanSurface) -> float:
    """Return loss times area plus the charges, summed anew from the depths."""
    changes = len(run_lengths(choice.depth_cm)) - PASSES
    charge = 20.0 * 3.01 * 2.5 * 0.2  # pins: 20 m x 3.01 m x 2.5 cm x (1 - 0.8)
    return choice.losses.driven_cm * PLACES.area_m2.sum() + changes * charge


@given(st.integers(0, 10_000), st.randoms(use_true_random=False))
@settings(max_examples=15, deadline=None)
def test_order_of_the_places_does_not_matter(seed: int, random: object) -> None:
    pan, order = rough(seed), np.random.default_rng(seed).permutation(len(PLACE_PIECE))
    mixed = surface(pan.base_mean_cm[order], pan.base_sd_cm[order], pan.pan_probability[order])
    one = choose(pan, rules())
    there = placed(PLACE_PIECE[order], 7.5)
    other = choose_depths(straight(PASSES, STEPS), there, mixed, rules(), FREE)
    assert other.losses.driven_cm == pytest.approx(one.losses.driven_cm)
    assert (other.depth_cm == one.depth_cm).all()


def test_places_cut_in_two_change_nothing() -> None:
    pan = rough(7)
    twice = surface(*(v.repeat(2) for v in (pan.base_mean_cm, pan.base_sd_cm, pan.pan_probability)))
    laid = straight(PASSES, STEPS)
    halved = choose_depths(laid, placed(PLACE_PIECE.repeat(2), 3.75), twice, rules(), FREE)
    whole = choose(pan, rules())
    assert (halved.depth_cm == whole.depth_cm).all()
    assert asdict(halved.losses) == pytest.approx(asdict(whole.losses))


def test_two_parts_that_the_passes_can_follow_are_driven_without_loss() -> None:
    # Pan base known exactly: 27 cm in two passes, 37 cm in the others; clearance 3 cm.
    pan = surface(np.where(PLACE_PIECE < 2 * STEPS, 27.0, 37.0), 0.0)
    choice = choose(pan, rules())
    assert choice.depth_cm.reshape(PASSES, STEPS)[:, 0].tolist() == [30, 30, 40, 40]
    assert choice.levels_cm.tolist() == [30.0, 40.0]
    assert choice.losses.driven_cm == pytest.approx(0.0, abs=1e-8)
    assert choice.losses.unconstrained_cm == pytest.approx(0.0, abs=1e-8)


def test_ground_without_a_pan_is_left_alone() -> None:
    choice = choose(surface(np.full(len(PLACE_PIECE), 30.0), 2.0, 0.01), rules())
    assert not choice.depth_cm.any()
    assert choice.losses.single_depth_cm == 0.0
    assert "nothing-to-loosen" in {notice.code for notice in choice.notices}


def test_legs_that_may_not_be_lifted_work_at_the_shallowest() -> None:
    choice = choose(surface(np.full(len(PLACE_PIECE), 30.0), 2.0, 0.01), rules(lift_out=False))
    assert (choice.depth_cm == 15.0).all()


def test_a_service_lifts_the_legs_even_where_lifting_is_switched_off() -> None:
    caps = FREE.copy()
    caps[[5, 6]] = 0.0
    choice = choose(rough(1), rules(lift_out=False), caps)
    assert np.flatnonzero(choice.depth_cm == 0).tolist() == [5, 6]
    assert "lifted-at-hazards" in {notice.code for notice in choice.notices}


def test_one_depth_without_lifting_goes_under_the_lowest_cap_of_the_field() -> None:
    caps = FREE.copy()
    caps[9] = 22.0
    pan = surface(np.full(len(PLACE_PIECE), 35.0), 1.0)
    choice = choose(pan, rules(max_depths=1, lift_out=False), caps)
    assert (choice.depth_cm == 20.0).all()
    assert "hazards-limit-depth" in {notice.code for notice in choice.notices}


def test_ground_beyond_the_machine_is_worked_at_the_deepest_setting() -> None:
    pan = surface(np.where(PLACE_PIECE < STEPS, 60.0, 30.0), 0.5)
    choice = choose(pan, rules())
    assert choice.depth_cm[:STEPS].tolist() == [45.0] * STEPS


def test_a_loop_is_driven_as_a_loop() -> None:
    laid = loop()
    assert chains_of(laid)[1].closed.all()
    n = len(laid.pieces)
    deep = (np.arange(n) < 3) | (np.arange(n) >= n - 3)  # 30 m about the beginning
    pan = surface(np.where(deep, 39.5, 27.0), 0.0)
    choice = choose_depths(laid, placed(np.arange(n), 15.0), pan, rules(), np.full(n, np.inf))
    assert (choice.depth_cm == np.where(deep, 42.5, 30.0)).all()


def test_laid_rounds_and_passes_keep_the_shortest_run() -> None:
    field = MultiPolygon([box(0, 0, 90, 120)])
    laid = lay_passes(field, width_m=3.01, headland_width_m=9, heading_deg=8, step_m=5)
    parts = gpd.GeoDataFrame({"part": ["body"]}, geometry=[field])
    places = places_of(laid.pieces, parts)
    mean = 30 + 9 * np.sin(places.xy_m[:, 0] / 9) * np.cos(places.xy_m[:, 1] / 13)
    none = np.full(len(laid.pieces), np.inf)
    choice = choose_depths(laid, places, surface(mean, 1.0), rules(), none)
    table = laid.pieces.assign(depth=choice.depth_cm)
    rings = set(laid.lines["pass_id"][laid.lines.is_closed])
    assert rings
    for number, steps in table.sort_values("step").groupby("pass_id"):
        found = runs(tuple(steps["depth"]), closed=number in rings)
        length = (steps["to_m"] - steps["from_m"]).to_numpy()
        assert len(found) == 1 or min(length[run].sum() for run in found) >= 25 - 1e-6
    assert len(choice.levels_cm) == 4
    assert choice.losses.driven_cm < choice.losses.single_depth_loss_cm


@pytest.mark.parametrize(
    ("place_piece", "caps", "word"),
    [
        (PLACE_PIECE - 1, FREE, "Every place"),
        (PLACE_PIECE + 1, FREE, "Every place"),
        (np.where(PLACE_PIECE == 7, 8, PLACE_PIECE), FREE, "every piece"),
        (PLACE_PIECE, FREE[:-1], "one cap a piece"),
        (PLACE_PIECE, FREE * np.nan, "not a number"),
    ],
)
def test_what_does_not_fit_together_is_refused(
    place_piece: np.ndarray, caps: np.ndarray, word: str
) -> None:
    with pytest.raises(ValueError, match=word):
        choose_depths(straight(PASSES, STEPS), placed(place_piece, 7.5), rough(0), rules(), caps)


def test_pieces_must_be_numbered_as_they_stand() -> None:
    laid = straight(PASSES, STEPS)
    upside_down = Laid(laid.lines, laid.pieces.iloc[::-1], ())
    with pytest.raises(ValueError, match="numbered"):
        choose(rough(0), rules(), laid=upside_down)


def test_nothing_is_worked_where_no_reading_met_a_pan_however_likely_one_is_held() -> None:
    pan = surface(np.full(len(PLACE_PIECE), 30.0), 2.0, 0.4)
    assert choose(pan, rules()).depth_cm.all()
    laid = straight(PASSES, STEPS)
    none = choose_depths(laid, PLACES, pan, rules(), FREE, pan_met=False)
    assert not none.depth_cm.any()
    assert none.losses.driven_cm > 0
    assert none.notices == ()
    held = choose_depths(laid, PLACES, pan, rules(lift_out=False), FREE, pan_met=False)
    assert (held.depth_cm == 15.0).all()

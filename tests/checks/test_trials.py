"""Ridge against speed: the practice of the trade, the fit against scikit-learn's definition."""

from __future__ import annotations

import numpy as np
import pytest
from checks.conftest import trial_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from zoning.checks.trials import (
    allowance_notices,
    evenness,
    odd_run_notices,
    ridge_allowance_cm,
    ridge_at_cm,
    ridge_curve,
    runs_kept,
    runs_set,
)

# Common practice: 10-12 cm at 4 km/h and about 3 cm at 10 km/h with the same settings.
PRACTICE = ((4.0, 11.0), (6.0, 8.0), (8.0, 5.0), (10.0, 3.0))


def test_the_practice_of_4_and_10_km_h(make_trials) -> None:
    curve = ridge_curve(make_trials(*PRACTICE))
    assert curve.slowest_even_km_h == 10.0
    assert ridge_at_cm(curve, 4.0) == 11.0
    assert [evenness(r) for r in (11.0, 5.0, 3.0, float("nan"))] == ["uneven", "fair", "even", ""]


@pytest.mark.parametrize(
    ("ridge", "word"), [(4.0, "even"), (4.1, "fair"), (9.9, "fair"), (10, "uneven")]
)
def test_the_words_change_at_the_limits_of_the_table(ridge: float, word: str) -> None:
    assert evenness(ridge) == word


def test_no_runs_no_allowance(make_trials) -> None:
    none = make_trials()
    assert ridge_allowance_cm(none, 8.0) == 0.0
    assert allowance_notices(none, 8.0) == ()
    assert ridge_curve(none).slowest_even_km_h is None
    assert np.isnan(ridge_at_cm(ridge_curve(none), 8.0))


def test_runs_without_both_depths_are_left_aside(make_trials) -> None:
    runs = make_trials((4.0, 11.0), (10.0, 3.0))
    runs.loc[0, "loosened_between_cm"] = np.nan
    assert ridge_curve(runs).runs["run"].tolist() == ["B"]


def test_a_rough_surface_is_not_the_speed_to_drive(make_trials) -> None:
    runs = make_trials(*PRACTICE)
    runs.loc[3, "surface"] = "heaved"
    assert ridge_curve(runs).slowest_even_km_h is None


def test_row_order_does_not_matter(make_trials) -> None:
    runs = make_trials(*PRACTICE, (8.0, 4.0))
    one, other = ridge_curve(runs), ridge_curve(runs.iloc[::-1])
    assert one.speeds.equals(other.speeds)
    assert one.runs.equals(other.runs)


@settings(max_examples=60, deadline=None)
@given(
    ridges=st.lists(st.floats(0, 20), min_size=2, max_size=7),
)
def test_the_fit_never_rises_and_no_such_line_lies_nearer(ridges: list[float]) -> None:

    speeds = np.arange(len(ridges)) + 4.0
    curve = ridge_curve(trial_rows(*zip(speeds, ridges, strict=True)))
    fitted = curve.speeds["fitted_cm"].to_numpy()
    seen = curve.speeds["ridge_cm"].to_numpy()
    assert (np.diff(fitted) <= 1e-9).all()
    # Any other line that never rises: last value and falls of at least nothing, by scipy.
    best = minimize(
        lambda p: float(((np.cumsum(p)[::-1] - seen) ** 2).sum()),
        np.full(len(seen), 1.0),
        bounds=[(None, None)] + [(0, None)] * (len(seen) - 1),
    )
    assert ((fitted - seen) ** 2).sum() <= best.fun + 1e-4


@pytest.mark.parametrize(("speed", "ridge"), [(4, 11), (5, 9.5), (9, 4), (12, 3), (2, 11)])
def test_the_allowance_lies_on_straight_lines_between_speeds_tried(
    make_trials, speed: float, ridge: float
) -> None:
    assert ridge_allowance_cm(make_trials(*PRACTICE), speed) == pytest.approx(ridge)


def test_what_a_plan_says_of_its_allowance(make_trials) -> None:
    runs = make_trials(*PRACTICE)
    codes = {n.code: n.text for n in allowance_notices(runs, 4.0)}
    assert set(codes) == {"ridge-allowance", "ridge-allowance-large"}
    assert "10 km/h" in codes["ridge-allowance-large"]
    assert {n.code for n in allowance_notices(runs, 10.0)} == {"ridge-allowance"}
    slow = {n.code: n.text for n in allowance_notices(runs, 3.0)}
    assert "below every trial run, the slowest at 4 km/h" in slow["ridge-speed-not-tried"]
    assert slow["ridge-allowance"].endswith("do not add it again at the machine.")


@pytest.mark.parametrize(
    ("speed", "runs"), [(8, "8"), (7, "6 and 8"), (12, "10"), (3, "4"), (4, "4")]
)
def test_the_runs_that_the_ridge_is_taken_from_are_named(
    make_trials, speed: float, runs: str
) -> None:
    trials = make_trials(*PRACTICE)
    told = f"the trial runs at {runs} km/h"
    assert ridge_curve(trials).runs_about(speed) == told
    (text,) = (n.text for n in allowance_notices(trials, speed) if n.code == "ridge-allowance")
    assert f", from {told}: do not" in text
    assert text.endswith(f"keep {speed} km/h, since slower leaves a higher ridge.") == (speed >= 4)
    assert ridge_curve(make_trials()).runs_about(speed) == "no trial run"


def test_where_no_run_left_the_ridge_wanted_no_faster_one_is_asked_than_the_tractor_pulls(
    make_trials,
) -> None:
    runs = make_trials((4.0, 11.0), (8.0, 6.0))

    def told(pulled_km_h: float | None) -> str:
        return allowance_notices(runs, 4.0, pulled_km_h=pulled_km_h)[-1].text

    start = (
        "At no speed did the runs leave 4 cm or less on average and a level surface: "
        "try points and spacing first"
    )
    assert told(None).endswith(f"{start}, or a faster run if the tractor can pull it.")
    assert told(8.0) == told(None)
    assert told(7.3).endswith(f"{start}.")


def test_a_tractor_that_cannot_hold_or_reach_a_speed_is_not_sent_there(make_trials) -> None:
    runs = make_trials(*PRACTICE)

    def told(**known: float) -> dict[str, str]:
        return {n.code: n.text for n in allowance_notices(runs, 4.0, **known)}

    assert "keep 4 km/h" in told()["ridge-allowance"]
    held = told(held_km_h=3.7)["ridge-allowance"]
    assert "keep 4 km/h" not in held
    assert "where the tractor holds no more than 3.7 km/h expect a higher ridge" in held
    assert told(pulled_km_h=10.0)["ridge-allowance-large"].endswith("to that and plan again.")
    weak = told(pulled_km_h=5.25)["ridge-allowance-large"]
    assert "set speed_km_h to that" not in weak
    assert (
        "by the equations no more than 5.2 km/h on most ground, at the depth that its ridge" in weak
    )


def test_a_speed_whose_runs_left_a_rough_surface_is_not_kept(make_trials) -> None:
    runs = make_trials((4.0, 7.0), (6.0, 3.5), (8.0, 3.0)).assign(
        surface=["level", "level", "heaved"]
    )

    def told(trials, **known: float) -> dict[str, str]:
        return {n.code: n.text for n in allowance_notices(trials, 8.0, **known)}

    found = told(runs)
    assert set(found) == {"ridge-allowance", "trial-surface-rough"}
    assert "keep" not in found["ridge-allowance"]
    kept = {v: allowance_notices(runs, v)[0].keys for v in (3.0, 6.0, 8.0)}
    assert kept == {3.0: (), 6.0: ("speed_km_h",), 8.0: ()}
    assert found["trial-surface-rough"] == (
        "The trial runs at 8 km/h left the surface heaved. At 6 km/h the trial runs left 3.5 cm: "
        "set speed_km_h to that and plan again."
    )
    assert "expect a higher ridge" in told(runs, held_km_h=6.5)["ridge-allowance"]
    rough = told(runs.assign(surface="cloddy"))["trial-surface-rough"]
    assert rough.endswith("try points and spacing first.")
    # Between a level speed and a rough one nobody saw the surface.
    assert {n.code for n in allowance_notices(runs, 7.0)} == {"ridge-allowance"}


def test_runs_that_kept_their_depth_show_what_the_tractor_holds(make_trials) -> None:
    runs = make_trials(*PRACTICE)
    legs = runs["loosened_at_leg_cm"].to_numpy(dtype=float)
    noted = runs_set(runs.assign(depth_setting_cm=legs + np.array([0.0, 2.4, 2.6, np.nan])))
    # A leg 2.5 cm or more short of its setting did not keep it (set_depth_tolerance_cm).
    assert runs_kept(noted) == ((legs[0], 4.0), (legs[1] + 2.4, 6.0))
    assert runs_kept(noted.iloc[:0]) == ()


@pytest.mark.parametrize(
    ("setting_cm", "leg_cm", "odd"),
    [
        (35.0, 33.0, False),
        (14.0, 13.0, True),  # inches in both columns
        (35.6, 14.0, True),  # in one of them
        (35.0, 20.0, False),  # afloat, but no inches
        (float("nan"), 14.0, False),
        (float("nan"), 8.0, True),
        (35.0, float("nan"), False),
    ],
)
def test_runs_that_can_hardly_be_centimetres_are_asked_about(
    setting_cm: float, leg_cm: float, odd: bool
) -> None:
    """1 in = 2.54 cm by definition (international yard and pound agreement, 1959)."""
    runs = trial_rows((6.0, 4.0), (8.0, 3.0))
    own = runs["run"] == "B"
    runs.loc[own, ["depth_setting_cm", "loosened_at_leg_cm"]] = [setting_cm, leg_cm]
    told = [notice.text for notice in odd_run_notices(runs, 20.3)]
    assert len(told) == odd
    assert all(text.startswith("Trial run B (trials.csv, row 3): set less") for text in told)

"""Cone readings to insertions: what must hold whatever the soil, and how near the truth it comes.

The open profiles are those of Marsden 2019 (vanichols/maRsden, MIT licence).
"""

from __future__ import annotations

import json
from importlib import resources

import jsonschema
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from zoning.contracts import shared
from zoning.profiles import interpret
from zoning.profiles.rules import rule

LIMIT = 2.0
NUMBERS = ["pan_top_cm", "pan_base_cm", "deepest_cm"]
profile = st.lists(
    st.one_of(st.floats(0.3, 6), st.sampled_from([0.0, float("nan"), 2.0])), min_size=1, max_size=30
)


def rows_for_json(table: pd.DataFrame) -> list[dict[str, object]]:
    """Return rows as JSON would hold them: blanks are null."""
    return json.loads(table.to_json(orient="records"))


def one(insertion, depth, index, **given) -> pd.Series:
    return interpret(insertion("A/1", depth, index, **given), limit_mpa=LIMIT).iloc[0]


@settings(deadline=None, max_examples=30)
@given(logs=st.lists(profile, min_size=1, max_size=4), step=st.sampled_from([1.0, 2.5, 5.0]))
def test_bases_lie_below_tops_and_within_what_was_measured(insertion, logs, step) -> None:
    cone = pd.concat(
        [insertion(f"S{i}/1", step * np.arange(1, len(log) + 1), log) for i, log in enumerate(logs)]
    )
    out = interpret(cone, limit_mpa=LIMIT)
    assert out["insertion_id"].tolist() == sorted(cone["insertion_id"].unique())
    pan = out[out["pan_base_cm"].notna()]
    assert (pan["pan_base_cm"] >= pan["pan_top_cm"]).all()
    assert (pan["pan_base_cm"] <= pan["deepest_cm"] + 1e-9).all()
    assert pan["verdict"].isin(["pan", "base_not_reached", "refused"]).all()
    assert (
        out.loc[out["pan_base_cm"].isna(), "verdict"]
        .isin(["no_pan", "hard_throughout", "unusable"])
        .all()
    )
    assert out["reason"].ne("").all()


@settings(deadline=None, max_examples=25)
@given(log=profile, power=st.integers(-4, 10))
def test_scaling_cone_index_and_limit_together_changes_nothing(insertion, log, power) -> None:
    cone = insertion("A/1", 2.5 * np.arange(1, len(log) + 1), log)
    factor = 2.0**power
    scaled = cone.assign(cone_index_mpa=cone["cone_index_mpa"] * factor)
    plain = interpret(cone, limit_mpa=LIMIT)
    other = interpret(scaled, limit_mpa=LIMIT * factor)
    pd.testing.assert_frame_equal(plain.drop(columns="max_mpa"), other.drop(columns="max_mpa"))


@settings(deadline=None, max_examples=20)
@given(logs=st.lists(profile, min_size=1, max_size=4), seed=st.integers(0, 1000))
def test_row_order_changes_nothing(insertion, logs, seed) -> None:
    cone = pd.concat(
        [insertion(f"S{i}/1", 2.5 * np.arange(1, len(log) + 1), log) for i, log in enumerate(logs)]
    )
    shuffled = cone.sample(frac=1, random_state=seed)
    pd.testing.assert_frame_equal(
        interpret(cone, limit_mpa=LIMIT), interpret(shuffled, limit_mpa=LIMIT)
    )


@settings(deadline=None, max_examples=30)
@given(
    step=st.sampled_from([1.0, 2.0, 2.5, 5.0]),
    top=st.floats(14, 28),
    more=st.floats(0, 10),
    at=st.floats(0, 1),
    height=st.floats(2.5, 8),
)
def test_a_stone_moves_top_and_base_by_no_more_than_a_step(
    insertion, pan_profile, step, top, more, at, height
) -> None:
    """The pan is met by three readings or more: one alone cannot be told from the stone on it."""
    thickness = max(8.0, 3 * step) + more
    depth = np.arange(step, 60.1, step)
    index = pan_profile(depth, top, top + thickness)
    clean = one(insertion, depth, index)
    stony = index.copy()
    hit_at = int(at * (len(depth) - 1))
    stony[hit_at] = index[max(hit_at - 1, 0) : hit_at + 2].max() + height
    hit = one(insertion, depth, stony)
    assert clean["verdict"] == hit["verdict"] == "pan"
    assert hit["pan_top_cm"] == pytest.approx(clean["pan_top_cm"], abs=step)
    assert hit["pan_base_cm"] == pytest.approx(clean["pan_base_cm"], abs=step)


@settings(deadline=None, max_examples=30)
@given(top=st.floats(14, 28), thickness=st.floats(9, 20), step=st.sampled_from([1, 2, 2.5, 4, 5]))
def test_the_depth_step_does_not_change_the_answer(
    insertion, pan_profile, top, thickness, step
) -> None:
    depth = np.arange(step, 60.1, step)
    row = one(insertion, depth, pan_profile(depth, top, top + thickness))
    assert row["verdict"] == "pan"
    assert row["pan_top_cm"] == pytest.approx(top, abs=0.3 * step)
    assert row["pan_base_cm"] == pytest.approx(top + thickness, abs=0.3 * step)


def test_kilopascals_and_megapascals_give_the_same_pan(insertion, pan_profile) -> None:
    depth = np.arange(2.5, 50.1, 2.5)
    mpa = insertion("A/1", depth, pan_profile(depth))
    kpa = mpa.assign(cone_index_mpa=mpa["cone_index_mpa"] * 1000)
    a, b = interpret(mpa, limit_mpa=2.0), interpret(kpa, limit_mpa=2000.0)
    np.testing.assert_allclose(a[NUMBERS].to_numpy(), b[NUMBERS].to_numpy())
    assert a["verdict"].tolist() == b["verdict"].tolist()


def truth(rng: np.random.Generator, depth: np.ndarray) -> tuple[np.ndarray, float]:
    """Return a noisy profile through a pan about 12 cm thick with soft shoulders, and its base."""
    top = rng.uniform(15, 28)
    base = top + rng.normal(12, 2)
    soft, peak, below = rng.uniform(0.6, 1.3), rng.uniform(2.8, 4.2), rng.uniform(0.9, 1.5)
    rise, fall = rng.uniform(3, 7, 2)  # centimetres from soft soil to the peak
    up = LIMIT + (peak - soft) / rise * (depth - top)
    down = LIMIT + (peak - below) / fall * (base - depth)
    clean = np.minimum(np.minimum(up, down), peak)
    index = np.maximum(clean, np.where(depth < (top + base) / 2, soft, below))
    index *= np.exp(rng.normal(0, 0.07, len(depth)))
    if rng.random() < 0.15:
        index[rng.integers(0, len(depth))] += rng.uniform(2.5, 6)
    if rng.random() < 0.1:
        stop = rng.integers(len(depth) // 3, len(depth))
        index[stop:] = 0.0
    return index, base


@pytest.mark.parametrize("step", [1.0, 2.5, 5.0])
def test_bases_are_found_where_the_truth_has_them(insertion, step) -> None:
    rng = np.random.default_rng(4)
    depth = np.arange(step, 60.1, step)
    logs, bases = [], []
    for i in range(600):
        index, base = truth(rng, depth)
        logs.append(insertion(f"S{i:03d}/1", depth, index))
        bases.append(base)
    out = interpret(pd.concat(logs), limit_mpa=LIMIT).assign(truth=bases)
    error = (out["pan_base_cm"] - out["truth"])[out["verdict"].eq("pan")]
    assert len(error) > 500
    # Straight lines between coarse readings cut the corner where soft soil begins.
    bias = max(0.3, rule("step_error_share") * step / np.sqrt(12))
    assert abs(error.median()) < bias
    usual = error[error.abs() < 5]
    assert len(usual) > 0.97 * len(error)
    assert abs(usual.mean()) < bias
    assert usual.std() < 1.2
    bound = (out["pan_base_cm"] - out["truth"])[out["censored"]]
    assert (bound < 1.0).mean() > 0.9
    answered = out["verdict"].ne("unusable")
    assert out.loc[answered, "verdict"].isin(["pan", "refused", "base_not_reached"]).mean() > 0.97


def test_every_insertion_of_the_open_profiles_is_answered_by_the_schema(marsden, insertion) -> None:
    table = pd.read_csv(marsden / "readings.csv")
    cone = pd.concat(
        [insertion(name, g["depth_cm"], g["cone_index"] / 1000) for name, g in table.groupby("id")]
    )
    cone["insertion_id"] = cone["station"]
    out = interpret(cone, limit_mpa=1.0)
    assert len(out) == json.loads((marsden / "expected.json").read_text())["profiles"]
    assert out["deepest_cm"].between(0, 45).all()
    check(out, "insertions")
    never = table.groupby("id")["cone_index"].max() < 1000
    soft = out.set_index("insertion_id")["over_limit_38"][never[never].index]
    assert len(soft) > 0
    assert not soft.any()


def check(table: pd.DataFrame, schema: str) -> None:
    text = shared("schemas", f"{schema}.schema.json").read_text(encoding="utf-8")
    validator = jsonschema.Draft202012Validator(json.loads(text))
    faults = [fault.message for row in rows_for_json(table) for fault in validator.iter_errors(row)]
    assert faults == []


def test_an_empty_log_gives_an_empty_frame(insertion) -> None:
    cone = insertion("A/1", [5.0], [1.0]).iloc[:0]
    assert interpret(cone, limit_mpa=LIMIT).empty


def test_every_rule_of_the_table_is_used_and_every_rule_used_stands_in_it() -> None:
    text = "".join(
        part.read_text(encoding="utf-8")
        for part in resources.files("zoning.profiles").iterdir()
        if part.name.endswith(".py")
    )
    table = shared("tables", "profile_rules.csv").read_text(encoding="utf-8").splitlines()[1:]
    names = [line.split(",")[0] for line in table]
    assert [name for name in names if f'rule("{name}")' not in text.replace("'", '"')] == []
    with pytest.raises(KeyError):
        rule("no_such_rule")

"""``plan.json`` against its schema by `jsonschema`, and against the files beside it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from zoning.errors import OutputFailed
from zoning.model import Losses, Plan
from zoning.outputs.plan_file import check_plan_file, comparison_words, write_plan_file


def document(folder: Path) -> dict:
    return json.loads((folder / "plan.json").read_text(encoding="utf-8"))


def test_it_is_valid_by_its_schema(
    written: Path, validator: Callable[[str], Draft202012Validator]
) -> None:
    assert list(validator("plan").iter_errors(document(written))) == []


def test_every_setting_stands_with_its_default(written: Path) -> None:
    settings = document(written)["settings"]
    assert settings["depth"] == {
        "clearance_cm": 3.0, "assurance": 0.8, "max_depths": 4, "min_run_m": 25.0, "lift_out": True,
    }  # fmt: skip
    assert settings["machine"]["leg_spacing_cm"] == 43.0
    assert settings["areas"]["wheelings"] is None


def test_every_other_file_is_listed_with_its_hash(written: Path) -> None:
    listed = {entry["name"]: entry["sha256"] for entry in document(written)["outputs"]}
    found = {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in written.iterdir()
        if path.name != "plan.json"
    }
    assert listed == found
    assert len(found) >= 11


def test_unknown_is_null_and_counts_are_whole(written: Path) -> None:
    plan = document(written)
    assert plan["comparison"]["point95_loss_cm"] is None
    assert plan["surface"]["rmse_cm"] is None
    assert plan["totals"]["changes"] == 2
    assert plan["verdicts"] == {"base_not_reached": 1, "pan": 1, "unusable": 1}
    assert plan["left_out"][0]["row"] == 11
    assert [caution["code"] for caution in plan["cautions"]] == ["services-not-checked"]


def test_losses_are_told_in_words() -> None:
    words = comparison_words(Losses(2.0, 1.6, 35.0, 4.0, 42.5, 2.0))
    assert words == [
        "Expected loss of this plan: 2.00 cm, mean over the field.",
        "If the depth could change at every place: 1.60 cm; this plan loses 25 % more.",
        "The best single depth, 35.0 cm: 4.00 cm; this plan loses 50 % less.",
        "One depth at the 95 % point, 42.5 cm: 2.00 cm; this plan loses 0 % less.",
    ]
    unknown = comparison_words(Losses(2.0, 0.0, 35.0, np.nan, 42.5, np.nan))
    assert "nan" not in " ".join(unknown)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"depth_cm": 32.5', '"depth_cm": 32.0'),
        ('"accuracy_m": null', '"accuracy_m": NaN'),
        ("2.1", "2.2"),
    ],
)
def test_a_changed_file_is_noticed(plan: Plan, tmp_path: Path, old: str, new: str) -> None:
    path = tmp_path / "plan.json"
    write_plan_file(plan, path)
    check_plan_file(plan, path)
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises((OutputFailed, ValueError)):
        check_plan_file(plan, path)


def test_a_changed_neighbour_is_noticed(plan: Plan, tmp_path: Path) -> None:
    (tmp_path / "map.html").write_text("<p>one</p>", encoding="utf-8")
    write_plan_file(plan, tmp_path / "plan.json")
    (tmp_path / "map.html").write_text("<p>two</p>", encoding="utf-8")
    with pytest.raises(OutputFailed, match=r"plan\.json"):
        check_plan_file(plan, tmp_path / "plan.json")

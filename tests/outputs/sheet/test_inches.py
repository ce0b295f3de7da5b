"""Inches stand beside centimetres where the cone was read in inches, and only there."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from zoning.model import Plan
from zoning.outputs.sheet.facts import sheet_facts
from zoning.outputs.sheet.inches import also_in_inches, read_in_inches

INCH_CM = 2.54  # exact, by the international yard and pound agreement of 1959


def logged(plan: Plan, changed: Callable[..., Plan], depths_cm: list[float]) -> Plan:
    at = np.resize(np.array(depths_cm), len(plan.cone))
    return changed(cone=plan.cone.assign(depth_cm=at))


@pytest.mark.parametrize(
    ("depths_cm", "told"),
    [([2.54, 5.08, 7.62], True), ([1.27, 2.54, 3.81], True), ([2.5, 5.0, 7.5], False),
     ([1.0, 2.0, 3.0], False), ([2.54, 5.0], False), ([0.0, 127.0], False), ([1.6, 3.2], False)],
)  # fmt: skip
def test_a_log_in_inches_is_known_by_its_steps(
    plan: Plan, changed: Callable[..., Plan], depths_cm: list[float], told: bool
) -> None:
    assert read_in_inches(logged(plan, changed, depths_cm)) is told


@pytest.mark.parametrize(
    ("words", "told"),
    [("At 35.56 cm dig.", "At 35.56 cm (14.0 in) dig."),
     ("A ridge 10-12 cm high.", "A ridge 10-12 cm (3.9-4.7 in) high."),
     ("At 25, 34 cm alone.", "At 25, 34 cm (9.8, 13.4 in) alone."),
     ("pin 3 (28 cm) at most", "pin 3 (28 cm, 11.0 in) at most"),
     ("30 cm (11.8 in)", "30 cm (11.8 in)"), ("3 m, 20 kW", "3 m, 20 kW")],
)  # fmt: skip
def test_depths_in_words_get_inches_once(words: str, told: str) -> None:
    facts = also_in_inches({"pit": words, "checks": [words], "other": words})
    assert (facts["pit"], facts["checks"], facts["other"]) == (told, [told], words)
    assert also_in_inches(facts)["pit"] == told


def test_the_sheet_tells_both_of_trials_thread_and_pan(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    told = sheet_facts(logged(plan, changed, [INCH_CM * i for i in range(1, 10)]))
    assert told["in_inches"] is True
    assert told["depths"] == ["32.5 cm / 12.8 in", "37.5 cm / 14.8 in"]
    assert told["zones"][0]["pan_in"] == f"{33.06 / INCH_CM:.1f}"
    assert any("10-12 cm (3.9-4.7 in)" in row["look_for"] for row in told["trials"])
    metric = sheet_facts(plan)
    assert metric["in_inches"] is False
    assert metric["depths"] == ["32.5 cm", "37.5 cm"]
    assert not any(" in)" in row["look_for"] for row in metric["trials"])

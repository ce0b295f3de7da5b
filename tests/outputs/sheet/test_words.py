from __future__ import annotations

import dataclasses
from collections.abc import Callable

import pandas as pd

from zoning.model import Notice, Plan
from zoning.outputs.sheet.words import PIT, SMALL_PRINT, THREAD, checks, listed, work_order

ZONES = pd.DataFrame(
    {
        "zone": [1, 2, 3, 4],
        "depth_cm": [37.5, 30.0, 0.0, 30.0],
        "area_ha": [1.0, 2.0, 0.5, 0.25],
        "pin_hole": [10.0, 7.0, None, 7.0],
    }
)


def machine(plan: Plan, changed: Callable[..., Plan], **facts: object) -> Plan:
    settings = dataclasses.replace(
        plan.settings, machine=dataclasses.replace(plan.settings.machine, **facts)
    )
    return changed(settings=settings)


def test_frame_level_is_told_with_its_figures_where_known(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    assert checks(plan)[1] == "Frame level in work, front to back and side to side."
    known = Notice(
        "note", "machine-frame-level", "Each degree puts the rear row 1.6 cm deeper. Level it."
    )
    told = checks(changed(notices=(*plan.notices, known)))[1]
    assert told == f"{checks(plan)[1]} Each degree puts the rear row 1.6 cm deeper."


def test_one_sheet_counts(plan: Plan) -> None:
    assert checks(plan)[0].startswith("The same plan number here, on the map page")


def test_pins_or_hydraulics(plan: Plan, changed: Callable[..., Plan]) -> None:
    assert "hole 1 is taken as 15 cm (5.9 in), each hole 2.5 cm deeper" in checks(plan)[2]
    hydraulic = machine(plan, changed, depth_control="hydraulic")
    assert "hole" not in checks(hydraulic)[2]
    assert "pin" not in " ".join(work_order(hydraulic, ZONES))


def test_points_bolts_and_hazards_are_on_the_list(plan: Plan, changed: Callable[..., Plan]) -> None:
    told = " ".join(checks(plan))
    for word in ("Points", "Shear bolts", "Hoses", "hazard"):
        assert word in told
    assert "Leading tines" not in told
    assert "Leading tines" in " ".join(checks(machine(plan, changed, leading_tines=True)))


def test_order_of_work_groups_zones_by_depth(plan: Plan) -> None:
    steps = work_order(plan, ZONES)
    assert steps[0].startswith("Trial run")
    assert steps[1] == "30 cm, pin 7: zones 2, 4, 2.25 ha."
    assert steps[2] == "37.5 cm, pin 10: zone 1, 1.00 ha."
    assert steps[3].startswith("Legs lifted out over zone 3")
    assert steps[4].startswith("Headland passes last")


def test_headland_comes_last_with_the_settings_of_its_passes(
    plan: Plan, changed: Callable[..., Plan]
) -> None:
    depths = [0.0 if i == 0 else 37.5 if i % 2 else 30.0 for i in range(len(plan.passes))]
    driven = changed(passes=plan.passes.assign(part="headland", depth_cm=depths))
    (told,) = [step for step in work_order(driven, ZONES) if step.startswith("Headland")]
    assert told.endswith("loosened: 30 cm, pin 7; 37.5 cm, pin 10.")
    elsewhere = changed(passes=plan.passes.assign(part="body"))
    (told,) = [step for step in work_order(elsewhere, ZONES) if step.startswith("Headland")]
    assert told.endswith("already loosened.")


def test_a_long_list_of_zones_is_counted() -> None:
    assert listed([4]) == "zone 4"
    assert listed([4, 5]) == "zones 4, 5"
    assert listed(list(range(40))) == "40 zones"
    assert listed(list(range(40)), of=66) == "40 of 66 zones"


def test_no_headland_no_word_of_it(plan: Plan, changed: Callable[..., Plan]) -> None:
    parts = plan.parts[plan.parts["kind"] == "body"]
    assert "Headland" not in " ".join(work_order(changed(parts=parts), ZONES))


def test_standing_words() -> None:
    assert "3 mm" in THREAD
    assert "too wet, do not loosen" in THREAD  # Tasmania NRE: a thread that rolls easily
    assert "stop the engine" in PIT
    assert "from memory" in SMALL_PRINT
    assert "does not say that work anywhere is without danger" in SMALL_PRINT

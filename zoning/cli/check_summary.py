"""The short account of a check that a person reads in a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from zoning.cli.layout import first, listed, notice_blocks, table
from zoning.contracts import constant
from zoning.errors import printable
from zoning.model.check import Check
from zoning.outputs.check.words import (
    NO_FAIR_SAMPLE,
    STOPS,
    VERDICTS,
    WHICH_PLAN,
    by_eye_words,
    chance_words,
    change_lines,
    dig_not_cleared,
    group_words,
    hand_words,
    head_words,
    likely_words,
    more_words,
    of_words,
    places_words,
    stops,
    told_advice,
    uncounted_words,
    which_plan,
)
from zoning.outputs.cleared import not_cleared_words
from zoning.outputs.fingerprint import short_id
from zoning.outputs.left_out import left_out_together
from zoning.units import tenths

_REST = "more, all in check.json"


def check_summary(check: Check, written: Sequence[Path], folder: Path) -> str:
    """Return the account: verdict, ground, pits not reached, advice, changes, where to dig."""
    blocks = [
        "\n".join(stops(check)),
        "\n".join(which_plan(check)),
        _head(check),
        not_cleared_words(check.zones, check.settings),
        table("Ground", _groups(check)),
        _pits(check),
        _advice(check),
        _trials(check),
        listed("Before and after:", change_lines(check)),
        _dig(check),
        listed("Left out:", _left_out(check)),
        *notice_blocks([n for n in check.notices if n.code not in (*STOPS, *WHICH_PLAN)]),
        f"{len(written)} files written to {folder}",
    ]
    return printable("\n\n".join(block for block in blocks if block))


def _head(check: Check) -> str:
    whole = check.groups.iloc[0].to_dict()
    doubt = " (pits in doubt could turn it)" if whole["firm"] == "no" else ""
    head = f"{check.settings.field.name}, plan {short_id(check.plan_id)}: {head_words(check)}"
    told = (f"{head}{doubt}", uncounted_words(check), by_eye_words(check), places_words(whole))
    return "\n".join(words for words in told if words)


def _groups(check: Check) -> list[list[str]]:
    body = [
        [
            str(row["name"]),
            group_words(row | ({"unseen": ""} if row["group"] == "field" else {})),
            of_words(row["passed_at_leg"], row["seen_at_leg"]),
            of_words(row["passed_between"], row["seen_between"]),
            f"{100 * row['share_low']:.0f}-{100 * row['share_high']:.0f} %"
            if row["seen_between"]
            else "",
            f"{tenths(row['ridge_cm'])} cm" if np.isfinite(row["ridge_cm"]) else "",
            more_words(int(row["more_pits"])),
        ]
        for row in check.groups.to_dict("records")
    ]
    return [
        ["where", "verdict", "at the leg", "between", "share reached", "ridge", "more pits"],
        *body,
    ]


def _advice(check: Check) -> str:
    lines = ["What to do, the least costly first"]
    for where, steps in told_advice(check).groupby("where", sort=False):
        lines.append(f"  {where}:")
        lines += [f"    {step.order}. {step.text}" for step in steps.itertuples()]
    return "\n".join(lines) if len(lines) > 1 else ""


def _trials(check: Check) -> str:
    if check.ridge.speeds.empty:
        return ""
    told = ", ".join(
        f"{tenths(float(row['fitted_cm']))} cm at {row['speed_km_h']:g} km/h"
        for row in check.ridge.speeds.to_dict("records")
    )
    slowest = check.ridge.slowest_even_km_h
    even = (
        "none of them even and level"
        if slowest is None
        else f"slowest even and level {slowest:g} km/h"
    )
    speeds = check.ridge.speeds
    evened = (
        ""
        if speeds["fitted_cm"].equals(speeds["ridge_cm"])
        else " (evened, never to rise with speed)"
    )
    return (
        f"Trial runs: ridge {told}{evened}; {even}\n"
        f"Ridge allowance of the next plan at {check.settings.machine.speed_km_h:g} km/h: "
        f"{check.ridge_allowance_cm:g} cm"
    )


def _dig(check: Check) -> str:
    """Return where to dig and why, a line a place."""
    lines = [words for words in (hand_words(check), chance_words(check)) if words]
    rows = check.dig_next.assign(nc=dig_not_cleared(check).map({True: " NC", False: ""}))
    for row in rows.to_dict("records"):
        likely = likely_words(float(row["chance_between"]))
        passed = f", likely passed {likely}" if likely else ""
        told = f"{row['order']}: zone {row['zone']}, {row['depth_cm']:g} cm{row['nc']}{passed}"
        lines += [f"{told}. {row['reason']}"]
    lines += [NO_FAIR_SAMPLE] if lines else []
    return listed("Dig next (numbers and places as on the map):", lines, mark="")


def _pits(check: Check) -> str:
    pits = check.pits
    # Lifted ground with no pan left and nothing loosened is as planned: there is nothing to tell.
    none_cm = constant("check_rules", "not_worked_cm")
    idle = (pits["pan"] == "no") & ~(pits["loosened_at_leg_cm"] > none_cm)
    well = (pits["verdict"] == "reached") | ((pits["verdict"] == "lifted_out") & idle)
    asked = {pit for notice in check.notices if notice.code in STOPS for pit in notice.pits}
    # What asks to stop comes first, so that a list cut short does not leave it out.
    held = pits[~well].sort_values("pit", key=lambda pit: ~pit.isin(asked), kind="stable")
    lines = [
        f"pit {row['pit']}: {VERDICTS[row['verdict']]}. {row['reason']}"
        for row in held.to_dict("records")
    ]
    return listed("Pits that were not plainly reached:", first(lines, _REST))


def _left_out(check: Check) -> list[str]:
    told = left_out_together(check.inputs.left_out)
    return first([f"{one.file}: {one.what}: {one.reason}" for one in told], _REST)

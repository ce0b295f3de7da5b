"""What the verdict of a pit rests on, in words, and what its readings ask."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from zoning.checks.caps import past_words
from zoning.checks.ran import base_passed, is_unbroken
from zoning.checks.rules import rule

_IN_DOUBT = {
    "plan": "In doubt, since the plan is not that sure of the base: note pan yes or no.",
    "base": "In doubt, since the plan is not that sure of the base: note pan_base_cm.",
    "pit": "In doubt: an error of a centimetre would turn it.",
    "leg": "In doubt at the leg: an error of a centimetre there would turn it.",
}
SECOND_TOOL = "mistyped, or loosened by a second tool?"
"""What is asked of a depth that the machine cannot reach."""
BASE_FAR = "mistyped, or is the plan wrong there?"
"""What is asked of a base that lies far off the plan's."""
NONE_BEFORE = "was there none before, or was it not measured?"
"""What is asked where no pan is noted although the soil was not loosened down to it."""


def reason(pit: Mapping[Any, Any], near: str) -> str:
    """Say what the verdict of a pit rests on.

    Parameters
    ----------
    pit
        A row of `zoning.checks.judge_pits`, with ``over_cm``: how far the leg ran past a cap.
    near
        Words on ground of another depth beside it, blank where there is none.
    """
    parts = [_depths(pit["loosened_at_leg_cm"], pit["loosened_between_cm"])]
    if pit["verdict"] == "not_between" and np.isnan(pit["loosened_at_leg_cm"]):
        parts.append("Leg not measured.")
    if pit["pan"]:
        parts.append("Pan still seen." if pit["pan"] == "yes" else "No pan seen.")
    seen = pit["base_from"] == "pit"
    if seen:
        planned = (
            f", where the plan expects {pit['plan_base_cm']:.0f} cm" if pit["base_far"] else ""
        )
        asks = f": {BASE_FAR}" if pit["asked"] == "base" else "."
        parts.append(f"Base seen at {pit['base_cm']:g} cm{planned}{asks}")
    elif not pit["pan"]:
        parts.append(
            f"By the plan the pan base is at {pit['base_cm']:.0f} cm, give or take "
            f"{pit['base_sd_cm']:.1f} cm (standard error)."
        )
    parts += [_as_set(pit), _reach(pit), _asked(pit), leg_not_noted(pit)]
    if pit["firm"] == "no" and pit["asked"] != "base" and not is_unbroken(pit):
        parts.append(_IN_DOUBT[_doubt(pit)])
    return " ".join(part for part in [*parts, near] if part)


def _doubt(pit: Mapping[Any, Any]) -> str:
    """Return what leaves a verdict in doubt: of a pan that was seen it can only be the leg."""
    if pit["base_from"] != "pit":
        return "base" if pit["pan"] else str(pit["base_from"])
    return "leg" if pit["pan"] == "yes" else "pit"


def _reach(pit: Mapping[Any, Any]) -> str:
    """Return what a depth that the machine cannot reach asks; blank for any other."""
    if pit["asked"] != "reach":
        return ""
    return (
        f"{pit['leg_least_cm']:g} cm is deeper than this machine goes "
        f"({pit['machine_most_cm']:g} cm): {SECOND_TOOL}"
    )


def _asked(pit: Mapping[Any, Any]) -> str:
    """Return the question that a reading raises; blank where it raises none."""
    between = pit["loosened_between_cm"]
    if is_unbroken(pit):
        return (
            f"A pan is seen, yet the soil is loosened {between - pit['base_cm']:.3g} cm below its "
            "base: were pieces left unbroken, or is the base mistyped?"
        )
    if pit["asked"] != "no_pan":
        return ""
    if between <= rule("not_worked_cm"):
        return (
            f"Nothing was loosened between the legs, yet no pan is noted: {NONE_BEFORE} It is not "
            "counted as loosened."
        )
    return (
        f"No pan is noted, yet the soil was loosened clearly above the base that the plan expects "
        f"({pit['base_cm']:.0f} cm, give or take {pit['base_sd_cm']:.1f} cm): {NONE_BEFORE} It is "
        "not counted as loosened."
    )


def _as_set(pit: Mapping[Any, Any]) -> str:
    """Say how the depth of the leg stands to the depth planned and to the cap of a hazard."""
    leg, planned = pit["loosened_at_leg_cm"], pit["set_cm"]
    if past := past_cap(pit):
        return past
    off = abs(planned - leg)
    over = pit["leg_least_cm"] - planned
    if np.isnan(leg) and planned > 0 and over >= rule("set_depth_tolerance_cm"):
        return f"Loosened {over:.3g} cm deeper between the legs than the {planned:g} cm planned."
    if pit["verdict"] == "not_worked":
        return ""
    if planned > 0 and off >= rule("set_depth_tolerance_cm"):
        which = "shallower" if leg < planned else "deeper"
        return f"The leg ran {off:.3g} cm {which} than the {planned:g} cm {_told_by(pit)}."
    return _at_its_depth(pit)


def _told_by(pit: Mapping[Any, Any]) -> str:
    return "of the notice depth" if pit["set_cm"] < pit["depth_cm"] else "planned"


def _at_its_depth(pit: Mapping[Any, Any]) -> str:
    """Say of a leg at the depth told why that is not the one planned, or that a hazard holds it."""
    planned = pit["set_cm"]
    if pit["loosened_at_leg_cm"] <= planned < pit["depth_cm"]:
        return (
            f"The leg kept to the notice depth ({planned:g} cm), not to the {pit['depth_cm']:g} cm "
            "planned, since services are not located: as told."
        )
    if left_by_ridge(pit):
        return (
            f"A hazard holds the work here at {pit['depth_cm']:g} cm, yet the leg passed the base: "
            "the ridge left the pan between legs, not the hazard."
        )
    if pit["verdict"] == "held":
        planned_so = ": as planned" if np.isfinite(planned) else ""
        return f"A hazard holds the work here at {pit['depth_cm']:g} cm{planned_so}."
    return ""


def left_by_ridge(pit: Mapping[Any, Any]) -> bool:
    """Return whether a pan was seen on held ground with its base above what the leg loosened."""
    seen = pit["verdict"] == "held" and pit["pan"] == "yes" and pit["base_from"] == "pit"
    return seen and bool(base_passed(pit["chance_leg"]))


def past_cap(pit: Mapping[Any, Any]) -> str:
    """Return by how much the leg ran past the cap of a hazard; blank where it did not."""
    return past_words(pit, far=bool(pit["far"])) if pit["over_cm"] > 0 else ""


def leg_not_noted(pit: Mapping[Any, Any]) -> str:
    """Return what is asked of a leg that was not measured near a hazard; blank for any other."""
    if pit["asked"] != "leg":
        return ""
    if pit["cap_cm"] <= 0:
        return (
            f"The {pit['cap_by']} lifts the legs out here, and whether they were lifted is not "
            "noted: ask the operator, and note loosened_at_leg_cm, 0 where they were."
        )
    least = pit["leg_least_cm"]
    ran = f"at least {least:g} cm deep, but " if np.isfinite(least) else ""
    by = pit["cap_by"] or "hazard"
    cap_cm = pit["cap_cm"] if np.isfinite(pit["cap_cm"]) else pit["depth_cm"]
    return (
        f"Leg not noted here, where the {by} allows {cap_cm:g} cm: {ran}how deep it ran is not "
        "known. Measure at the leg."
    )


def _depths(leg_cm: float, between_cm: float) -> str:
    told = [
        f"{depth:g} cm {where}"
        for depth, where in ((leg_cm, "at the leg"), (between_cm, "between legs"))
        if np.isfinite(depth)
    ]
    return f"Loosened {', '.join(told)}." if told else ""

"""The words, tones and signs of the verdicts of a check, the same in every output for people."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import pandas as pd

from zoning.contracts import constant
from zoning.model.check import JUDGED, Check, majority

VERDICTS: Mapping[str, str] = MappingProxyType(
    {
        "reached": "reached",
        "too_deep": "reached, too deep",
        "leg_only": "reached at the leg only",
        "not_between": "not reached between legs (at the leg: not settled)",
        "not_reached": "not reached",
        "cannot_tell": "cannot tell",
        "held": "held by a hazard: the pan stays, as planned",
        "past_cap": "worked deeper than a hazard allows",
        "lifted_out": "lifted out",
        "worked_lifted": "loosened where the legs were to be lifted",
        "not_worked": "not worked: a missed strip",
        "leg_passed": "reached at the leg, between not seen",
        "not_judged": "not judged",
        "": "nothing seen",
    }
)
"""Verdict to words."""

TONES: Mapping[str, str] = MappingProxyType(
    {
        "reached": "#e9d34e",
        "too_deep": "#a59c74",
        "leg_only": "#6a6c71",
        "not_between": "#3b496c",
        "not_reached": "#00224e",
        "cannot_tell": "#ffffff",
        "held": "#ffffff",
        "lifted_out": "#ffffff",
    }
)
"""Verdict to the tone of its ground: steps of one scale, ordered in black and white too."""

LEFT = ("past_cap", "worked_lifted", "not_worked", "not_reached", "leg_only", "held")
"""Verdicts of pits that are named at the head of the page, the gravest first."""

LETTERS: Mapping[str, str] = MappingProxyType(
    {
        "reached": "R",
        "too_deep": "D",
        "leg_only": "L",
        "not_between": "B",
        "not_reached": "N",
        "cannot_tell": "?",
        "held": "H",
        "lifted_out": "",
    }
)
"""Verdict to the letter that stands on its ground."""

GROUND = (
    "reached", "too_deep", "leg_only", "not_between", "not_reached", "cannot_tell", "held",
    "lifted_out",
)  # fmt: skip


NO_FAIR_SAMPLE = (
    "Pits dug only where most is in doubt are no fair sample of the ground: they draw the share "
    "reached towards one half, so that a verdict comes later rather than sooner, and pits dug "
    "where the cone still meets a pan make it look lower than it is. So places are spread over the "
    "ground where they can be."
)
"""What to mind when the share of the ground is read from pits at the places to dig next."""


FEW = "Too few pairs to prove anything in the lines that follow."
"""What is said once of all comparisons that no result could settle."""
STOPS = ("check-worked-in-keep-off", "check-past-cap", "check-soil-plastic")
"""Codes of the notices that ask to stop at once."""
GONE = "check-stop-gone"
"""Code of the notice that a Stop of an earlier check no longer stands."""
OLDER = "check-pits-older"
"""Code of the notice that the pits are older than the plan they are judged by."""


_DEPTHS = re.compile(r"^Loosened (?:-?[\d.]+ cm (?:at the leg|between legs)(?:, )?)+\.\s*")


def stops(check: Check) -> list[str]:
    """Return all that asks to stop at once, each with ``STOP:`` before it, the gravest first."""
    told = [notice.text for notice in check.notices if notice.code in STOPS]
    bare = [text.removeprefix("Stop: ").removeprefix("Stop and ") for text in told]
    return [f"STOP: {text[:1].upper()}{text[1:]}" for text in bare]


def told_advice(check: Check) -> pd.DataFrame:
    """Return the advice as a person reads it: what asks to stop stands once, not by depth again."""
    advice = check.advice
    again = (advice["step"] == "stop") & advice.duplicated(["step", "text"])
    kept = advice[~again]
    return kept.assign(order=kept.groupby("where", sort=False).cumcount() + 1)


def older(check: Check) -> list[str]:
    """Return the caution that the pits are older than the plan; nothing where they are not."""
    return [notice.text for notice in check.notices if notice.code == OLDER]


def change_lines(check: Check) -> list[str]:
    """Return what the pairs say: what can be told first, then all that too few pairs leave open."""
    level = constant("check_rules", "test_level")
    few = check.changes["p_least"].to_numpy(dtype=float) > level
    words = check.changes["words"]
    open_yet = [FEW, *words[few]] if few.any() else []
    return [*words[~few], *open_yet]


def shown_changes(check: Check) -> list[str]:
    """Return what the pairs prove, and of what they are too few: the tables hold the figures."""
    level = constant("check_rules", "test_level")
    few = check.changes["p_least"].to_numpy(dtype=float) > level
    words = check.changes["words"]
    told, rest = ([str(text).partition(",")[0] for text in words[own]] for own in (~few, few))
    names = [name for name in dict.fromkeys(rest) if name not in told]
    listed = ", ".join(name[:1].lower() + name[1:] for name in names)
    open_yet = [f"Too few pairs to prove anything: {listed}."] if names else []
    return [*words[~few], *open_yet]


def why_words(reason: str) -> str:
    """Return the reason of a verdict without the depths, where they stand in columns beside it."""
    return _DEPTHS.sub("", reason)


def chance_words(check: Check) -> str:
    """Return what *likely passed* means at the places to dig; blank where none bears it."""
    if not check.dig_next["chance_between"].notna().any():
        return ""
    sure = check.settings.depth.assurance
    return (
        "Likely passed: how likely, by the plan, the pan is passed midway between legs, where the "
        f"ridge stays; the assurance of the plan ({sure:g}) is at the points."
    )


def likely_words(chance: float) -> str:
    """Return how likely the pan is passed at a place to dig; blank where it is not known."""
    return "" if math.isnan(chance) else f"{100 * chance:.0f} %"


def verdict_words(verdict: str, so_far: str = "") -> str:
    """Return a verdict in words, with what most pits show where they are too few to tell."""
    words = VERDICTS[verdict]
    if verdict == "cannot_tell" and so_far not in ("", "cannot_tell"):
        return f"{words} yet (most pits: {VERDICTS[so_far]})"
    return words


def group_words(row: Mapping[Any, Any]) -> str:
    """Return the verdict on a row of `Check.groups` in words, with the ground that has no pit."""
    verdict, so_far = str(row["verdict"]), str(row["so_far"])
    if not majority(row):
        so_far = ""
    if not row["unseen"]:
        return verdict_words(verdict, so_far) if row["pits"] else f"{VERDICTS[verdict]}: no pit"
    most = f"; most pits: {VERDICTS[so_far]}" if so_far not in ("", "cannot_tell") else ""
    return f"{VERDICTS[verdict]} for the whole field: {row['unseen']}{most}"


def places_words(row: Mapping[Any, Any]) -> str:
    """Return that pits at one place counted once; blank where each is a place of its own."""
    pits, places = int(row["pits"]), int(row["places"])
    if pits == places:
        return ""
    many = "" if places == 1 else "s"
    within = constant("check_rules", "one_place_m")
    return (
        f"The {pits} pits lie at {places} place{many}: pits within {within:g} m of one another "
        "count as one for a verdict."
    )


def uncounted_words(check: Check) -> str:
    """Return how many of the after-pits count for a verdict, and which do not and why."""
    pits = check.pits
    apart = pits[~pits["verdict"].isin(JUDGED)]
    if apart.empty:
        return ""
    most = int(constant("check_rules", "named_pits_most"))
    told = []
    for verdict, own in apart.groupby("verdict", sort=False):
        names = own["pit"].tolist()
        called = f"{len(names)} pits" if len(names) > most else ", ".join(names)
        told.append(f"{called} ({VERDICTS[str(verdict)]})")
    return f"{len(pits) - len(apart)} of {len(pits)} pits count: not {', '.join(told)}."


def more_words(more: int) -> str:
    """Return how many more pits are needed, as it stands in a table."""
    if more < 0:
        return "digging will not settle it"
    return "none" if more == 0 else str(more)

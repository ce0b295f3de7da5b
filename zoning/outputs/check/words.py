"""The words, tones and signs of the verdicts of a check, the same in every output for people."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd

from zoning.contracts import NOT_CLEARED, constant
from zoning.model.check import JUDGED, Check, majority
from zoning.outputs.cleared import not_cleared_words
from zoning.outputs.sheet.words import by_hand
from zoning.units import least_to_most

VERDICTS: Mapping[str, str] = MappingProxyType(
    {
        "reached": "reached",
        "too_deep": "reached, too deep",
        "leg_only": "reached at the leg only",
        "not_between": "not reached between legs (at the leg: not settled)",
        "not_reached": "not reached",
        "cannot_tell": "cannot tell",
        "held": "held by a hazard",
        "past_cap": "worked deeper than a hazard allows",
        "leg_not_seen": "near a hazard, leg not measured",
        "lifted_out": "lifted out",
        "worked_lifted": "loosened where the legs were to be lifted",
        "not_worked": "not worked: a missed strip",
        "leg_passed": "reached at the leg, between not counted",
        "questioned": "in doubt, what was noted does not go together",
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

LEFT = (
    "past_cap", "leg_not_seen", "worked_lifted", "not_worked", "not_reached", "not_between",
    "leg_only", "questioned", "held",
)  # fmt: skip
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
    "reached towards one half, so that a verdict comes later, and pits dug where the cone still "
    "meets a pan make it look lower than it is. So places are spread where they can be."
)
"""What to mind when the share of the ground is read from pits at the places to dig next."""


FEW = "Too few pairs to prove anything in the lines that follow."
"""What is said once of all comparisons that no result could settle."""
STOPS = ("check-worked-in-keep-off", "check-past-cap", "check-soil-plastic")
"""Codes of the notices that ask to stop at once."""
ABOVE = (
    "Stop first: the reasons stand at the top. Plan again with field.toml as it was{}, so that "
    "sheet and pages bear it; take back those given out before: their number may be the same."
)
"""What stands in the advice for all that asks to stop at once, with `RUNS` if any are named."""
RUNS = " (trial runs named since change the depths)"
DIG = ("check-dig-room", "check-dig-most")
"""Codes of the notices that stand with the places to dig."""
GONE = "check-stop-gone"
"""Code of the notice that a Stop of an earlier check no longer stands."""
OLDER = "check-pits-older"
"""Code of the notice that the pits are older than the plan they are judged by."""
OF_THE_DAY = "check-pits-of-the-day"
"""Code of the notice that the pits bear the day of that plan and another was there too."""
WHICH_PLAN = (OLDER, OF_THE_DAY)
"""Codes of the notices that stand at the head, since another plan may have been driven."""


_DEPTHS = re.compile(r"^Loosened (?:-?[\d.]+ cm (?:at the leg|between legs)(?:, )?)+\.\s*")


def stops(check: Check) -> list[str]:
    """Return all that asks to stop at once, each with ``STOP:`` before it, the gravest first."""
    told = [notice.text for notice in check.notices if notice.code in STOPS]
    bare = [text.removeprefix("Stop: ").removeprefix("Stop and ") for text in told]
    return [f"STOP: {text[:1].upper()}{text[1:]}" for text in bare]


def head_words(check: Check) -> str:
    """Return the verdict on the whole field, behind what asks to stop first."""
    words = group_words(check.groups.iloc[0].to_dict())
    return f"Stop first, as above. Verdict: {words}" if stops(check) else words


def told_advice(check: Check) -> pd.DataFrame:
    """Return the advice as a person reads it below `stops` and what is said of ground NOT CLEARED.

    What stands whole there is pointed to; what asks to stop and does not, stands whole here, once.
    """
    advice = check.advice
    head = [notice.text for notice in check.notices if notice.code in STOPS]
    stop = advice["step"] == "stop"
    above = stop & advice["text"].map(lambda text: _made_of(text, head)).astype(bool)
    short = ABOVE.format("" if check.ridge.runs.empty else RUNS)
    told = advice.assign(text=advice["text"].mask(above, short))
    kept = told[~(stop & told.duplicated(["step", "text"]))]
    if not_cleared_words(check.zones, check.settings):
        facts = zip(kept["step"], kept["text"], kept["zones"], strict=True)
        texts = [_locate(check, own) if step == "locate" else text for step, text, own in facts]
        kept = kept.assign(text=np.array(texts, dtype=object))
    return kept.assign(order=kept.groupby("where", sort=False).cumcount() + 1)


def _made_of(text: str, parts: list[str]) -> bool:
    """Return whether a text is nothing but `parts`."""
    for part in sorted(parts, key=len, reverse=True):
        text = text.replace(part, "")
    return not text.strip()


def _locate(check: Check, zones: tuple[int, ...]) -> str:
    """Return that services are to be located, and at which depths, where the rest stands above."""
    own = check.zones.loc[check.zones["zone"].isin(zones), "depth_cm"]
    *rest, last = (f"{depth:g}" for depth in sorted(own.unique()))
    depths = f"{', '.join(rest)} and {last}" if rest else last
    return f"Have services located first (NOT CLEARED, at the top): for {depths} cm."


def which_plan(check: Check) -> list[str]:
    """Return the caution that the pits may be of the work to another plan, if they may."""
    return [notice.text for notice in check.notices if notice.code in WHICH_PLAN]


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
    places = check.dig_next[check.dig_next["chance_between"].notna()]
    if places.empty:
        return ""
    machine, sure = check.settings.machine, check.settings.depth.assurance
    rests = {
        "pits": "as in your pits",
        "trial_runs": f"by {check.ridge.runs_about(machine.speed_km_h)}",
        "leg_spacing": f"by geometry of legs {machine.leg_spacing_cm:g} cm apart, as in the plan",
    }
    taken = [
        f"{least_to_most(own['ridge_cm'])} cm {rests.get(str(how), '')}".rstrip()
        for how, own in places.groupby("ridge_from", sort=True)
    ]
    seen = (places["ridge_from"] == "pits").any()
    none = "" if seen else " (no pit that counts has shown a ridge)"
    return (
        "Likely passed: the chance that the pan is gone midway between legs, if the ridge stays "
        f"{' and '.join(taken)}{none}. The plan's {sure:g} is for base and "
        "clearance: at the leg, or between legs where trial runs gave the ridge."
    )


def hand_words(check: Check) -> str:
    """Return how deep spade and probe may go at places that are NOT CLEARED; blank without one."""
    if not dig_not_cleared(check).any():
        return ""
    return (
        f"Until services are located, {by_hand(check.settings)}. Places marked NC (NOT CLEARED) "
        "are to be loosened deeper than that: dig there only once they are located."
    )


def dig_not_cleared(check: Check) -> pd.Series:
    """Return which places to dig lie on ground that is NOT CLEARED."""
    zones = check.zones.loc[check.zones["cleared"] == NOT_CLEARED, "zone"]
    return check.dig_next["zone"].isin(zones)


def likely_words(chance: float) -> str:
    """Return how likely the pan is passed at a place to dig; blank where it is not known."""
    return "" if math.isnan(chance) else f"{100 * chance:.0f} %"


def verdict_words(verdict: str, so_far: str = "", *, pits: int = 0) -> str:
    """Return a verdict in words, with what most of `pits` show where they are too few to tell."""
    words = VERDICTS[verdict]
    if verdict == "cannot_tell" and (shown := _shown(so_far, pits)):
        return f"{words} yet ({shown})"
    return words


def _shown(so_far: str, pits: int) -> str:
    """Return what most of the pits show, or the only one; blank where that is not known."""
    if so_far in ("", "cannot_tell"):
        return ""
    # Whether the legs reached the base is settled of ground, not of what pits show so far.
    words = VERDICTS[so_far].partition(" (")[0]
    return f"{'the one pit' if pits == 1 else 'most pits'}: {words}"


def passed_words(facts: Mapping[Any, Any]) -> str:
    """Return in how many pits of a piece of ground the pan base was passed, as a sentence."""
    pits, leg = int(facts["pits"]), int(facts["passed_at_leg"])
    seen, between = int(facts["seen_between"]), int(facts["passed_between"])
    if not pits:
        return "No pit counts for a verdict here."
    if pits == 1:
        # A pan left in a pit without a depth leaves open what the leg did.
        told = (
            f"In the one pit the pan base was {'' if leg else 'not seen to be '}passed at the leg"
        )
        if not seen:
            return f"{told}; between legs it was not seen."
        return f"{told}, and {'' if between else 'not '}passed between legs."
    at_leg = int(facts["seen_at_leg"])
    if not at_leg:
        return f"No leg was measured; between legs the pan base was passed in {between} of {seen}."
    told = f"Pan base passed at the leg in {leg} of {at_leg} pits, between legs "
    return f"{told}in {between} of {seen}." if seen else f"{told}seen in none."


def of_words(count: object, of: object) -> str:
    """Return a count of pits as a table has it; blank where there is none to count."""
    return f"{count} of {of}" if of else ""


def group_words(row: Mapping[Any, Any]) -> str:
    """Return the verdict on a row of `Check.groups` in words, with the ground that has no pit."""
    verdict, so_far = str(row["verdict"]), str(row["so_far"])
    if not majority(row):
        so_far = ""
    pits = int(row["pits"])
    if not pits:
        return f"{VERDICTS[verdict]}: no pit that counts"
    if not row["unseen"]:
        return verdict_words(verdict, so_far, pits=pits)
    most = f"; {shown}" if (shown := _shown(so_far, pits)) else ""
    where = " for the whole field" if row["group"] == "field" else ""
    return f"{VERDICTS[verdict]}{where}: {row['unseen']}{most}"


def places_words(row: Mapping[Any, Any]) -> str:
    """Return that pits at one place counted once; blank where each is a place of its own."""
    pits, places = int(row["pits"]), int(row["places"])
    if pits == places:
        return ""
    many = "" if places == 1 else "s"
    within = constant("check_rules", "one_place_m")
    return (
        f"The {pits} pits lie at {places} place{many}: pits within {within:g} m of one another "
        "count as one for a verdict, and one whose pits disagree settles nothing."
    )


def uncounted_words(check: Check) -> str:
    """Return how many of the after-pits count for a verdict, and which do not and why."""
    pits = check.pits
    apart = pits[~pits["verdict"].isin(JUDGED)]
    if apart.empty:
        return ""
    if len(pits) == 1:
        only = pits.iloc[0]
        return f"The one pit, {only['pit']}, does not count: {VERDICTS[str(only['verdict'])]}."
    most = int(constant("check_rules", "named_pits_most"))
    told = []
    for verdict, own in apart.groupby("verdict", sort=False):
        names = own["pit"].tolist()
        called = f"{len(names)} pits" if len(names) > most else ", ".join(names)
        told.append(f"{called} ({VERDICTS[str(verdict)]})")
    return f"{len(pits) - len(apart)} of {len(pits)} pits count: not {', '.join(told)}."


def by_eye_words(check: Check) -> str:
    """Return which pits count as passed between legs though no depth was measured there."""
    pits = check.pits
    seen = pits[pits["verdict"].isin(JUDGED) & pits["chance_between"].notna()]
    bare = seen[seen["loosened_between_cm"].isna() & (seen["pan"] == "no")]
    if bare.empty:
        return ""
    one = len(bare) == 1
    names = (
        ", ".join(bare["pit"]) if len(bare) <= constant("check_rules", "named_pits_most") else ""
    )
    told = f"{len(bare)} of {len(seen)} pits that count between the legs"
    told += f" ({names})" if names else ""
    goes = "goes" if one else "go"
    return f"{told} {goes} by 'no pan' alone: no depth between the legs was noted."


def more_words(more: int) -> str:
    """Return how many more pits are needed, as it stands in a table."""
    if more < 0:
        return "digging will not settle it"
    return "none" if more == 0 else str(more)

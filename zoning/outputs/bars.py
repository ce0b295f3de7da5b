"""The words of what can stop a plan: evidence in doubt, loosening not called for, a weak tractor.

The same words stand on the first page of the sheet, on the picture and at the top of the map page.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

from zoning.contracts import constant, rows
from zoning.model import Notice, Plan
from zoning.model.settings import MachineSection

RULES = "machine_rules"
WHOLE_FIELD = "whole field"
RATING_COLUMNS = ("part", "points", "over_limit", "rating", "loosen", "few_points", "answer")
DOUBTS = {
    "few-stations": "too few stations to tell whether loosening is called for",
    "pits-against-probe": "pits contradict the probe",
    "readings-dry": "soil was dry at probing and reads harder than it is",
}
"""What a caution on the readings says in a bar, the gravest first."""
ASSUMED_IN_PART = "assumed-in-part"
STANDING = "check-stop-stands"
"""Code of a Stop of a check that still stands in the season record."""
_PINS_BY = ("depth_min_cm", "depth_step_cm")


def reckoned_with(machine: MachineSection) -> str:
    """Return the legs and settings of a machine that stands in the place of one not given."""
    return (
        f"{machine.legs} legs {machine.leg_spacing_cm:g} cm apart, set from "
        f"{machine.depth_min_cm:g} to {machine.depth_max_cm:g} cm in steps of "
        f"{machine.depth_step_cm:g} cm"
    )


def assumed_machine(plan: Plan) -> str:
    """Return the machine that was reckoned with in the place of one; nothing where it is given."""
    if not any(notice.code == "assumed-machine" for notice in plan.notices):
        return ""
    return reckoned_with(plan.settings.machine)


def pins_assumed(plan: Plan) -> bool:
    """Return whether the depths of the pin holes rest on a figure that nobody gave.

    That is the depth of the shallowest hole or the step from hole to hole; the number of a hole
    then holds for the machine reckoned with and for no other.
    """
    machine = plan.settings.machine
    whole = any(notice.code == "assumed-machine" for notice in plan.notices)
    own = not assumed_keys(plan).isdisjoint(_PINS_BY)
    return machine.depth_control == "pins" and (whole or own)


def assumed_keys(plan: Plan) -> frozenset[str]:
    """Return the keys that a machine described in part leaves out, as its notice names them."""
    return frozenset(
        key for notice in plan.notices if notice.code == ASSUMED_IN_PART for key in notice.keys
    )


def stop_bars(plan: Plan) -> tuple[str, ...]:
    """Return the bars of a plan in the order in which they are told; none for most plans."""
    bars = doubt_bar(plan), rating_bar(plan.rating), tractor_bar(plan)
    return tuple(bar for bar in bars if bar)


def check_bar(plan: Plan) -> str:
    """Return the Stops of checks that still stand, the gravest first; nothing for most plans.

    Those that are too many for a bar are told by their pits.
    """
    stops = [notice for notice in plan.notices if notice.code == STANDING]
    told, most = "", constant("sheet_rules", "stops_letters")
    for at, stop in enumerate(stops):
        lead, _, words = stop.text.partition(": ")
        same = told.startswith(f"{lead}: ")
        more = f" {words[:1].upper()}{words[1:]}" if same else f" {stop.text}"
        if told and len(told) + len(more) > most:
            return f"{told} Further STOP: {_pits_named(stops[at:])}; the map page tells it whole."
        told = f"{told}{more}".lstrip()
    return told


def check_line(plan: Plan) -> str:
    """Return in short which check says Stop and of which pits; nothing where none does."""
    stops = [notice for notice in plan.notices if notice.code == STANDING]
    return f"{stops[0].text.partition(' against ')[0]}: {_pits_named(stops)}" if stops else ""


def _pits_named(stops: Sequence[Notice]) -> str:
    names = list(dict.fromkeys(pit for stop in stops for pit in stop.pits))
    most = int(constant("check_rules", "named_pits_most"))
    more = f" and {len(names) - most} more" if len(names) > most else ""
    many = "" if len(names) == 1 else "s"
    return f"pit{many} {', '.join(names[:most])}{more}" if names else "see the cautions"


def doubt_bar(plan: Plan) -> str:
    """Return what its own cautions hold against the readings of a plan; nothing where none does.

    The answer of the rating stands there too where it is a yes that pits or dry soil weaken.
    """
    given = {notice.code for notice in plan.notices if notice.level == "caution"}
    told = [words for code, words in DOUBTS.items() if code in given]
    answer = _answer(_whole(plan.rating))
    if answer.startswith("yes "):
        told.append(f"loosening is called for {answer.removeprefix('yes ')}")
    return f"EVIDENCE IN DOUBT: {'; '.join(told)}. Dig before loosening" if told else ""


def _whole(rating: pd.DataFrame) -> pd.DataFrame:
    """Return the row of the whole field, none where its points are too few to say anything."""
    return rating[(rating["part"] == WHOLE_FIELD) & ~rating["few_points"].astype(bool)]


def _answer(whole: pd.DataFrame) -> str:
    """Return the answer with what speaks against it; empty where a plan does not tell it."""
    known = whole["answer"].dropna() if "answer" in whole else whole["part"].iloc[:0]
    return str(known.iloc[0]).replace(" (", ", ").replace(")", "") if len(known) else ""


def rating_bar(rating: pd.DataFrame) -> str:
    """Return that the published rating calls for no loosening; nothing where it does.

    Parameters
    ----------
    rating
        ``part, points, over_limit, rating, loosen, few_points`` and ``answer``, what pits and dry
        soil say beside it. A rating of too few points says nothing either way, and its own caution
        tells that.
    """
    whole = _whole(rating)
    whole = whole[whole["loosen"] == "no"]
    if whole.empty:
        return ""
    row, beside = whole.iloc[0], _answer(whole).removeprefix("no")
    return (
        f"RATING: {str(row['rating']).upper()} COMPACTION ({row['over_limit']} of {row['points']} "
        f"points over the limit): loosening is not called for{beside}"
    )


def tractor_bar(plan: Plan) -> str:
    """Return how much ground the tractor can pull at no speed that loosens; nothing where it can.

    The power is that at the machine's own speed.
    """
    weak = too_weak(plan)
    if weak.empty:
        return ""
    machine, rated_kw = plan.settings.machine, plan.settings.tractor.pto_power_kw
    low, high = _rounded_up(weak["pto_power_kw"].min()), _rounded_up(weak["pto_power_kw"].max())
    needed = f"{low}" if low == high else f"{low}–{high}"
    return (
        f"TRACTOR TOO WEAK on {weak['area_ha'].sum():.2f} of {plan.zones['area_ha'].sum():.2f} "
        f"ha: about {needed} kW needed at the PTO at {machine.speed_km_h:g} km/h "
        f"(draft ±{draft_percent():g} %), {rated_kw:g} kW given, too little even at "
        f"{slowest_km_h(plan):g} km/h"
    )


def draft_percent() -> float:
    """Return how far the draft equation may be off, either way [%]."""
    return max(float(row["range_percent"]) for row in rows("draft_coefficients"))


def too_weak(plan: Plan) -> pd.DataFrame:
    """Return the zones worked at depths that the tractor can pull at no speed that loosens."""
    zones = pd.DataFrame(plan.zones)
    if plan.settings.tractor.pto_power_kw is None or "work_speed_km_h" not in zones:
        return zones.iloc[:0]
    return zones[(zones["depth_cm"] > 0) & zones["work_speed_km_h"].isna()]


def slowest_km_h(plan: Plan) -> float:
    """Return the slowest speed at which loosening is planned with this machine [km/h]."""
    return min(plan.settings.machine.speed_km_h, constant(RULES, "slowest_km_h"))


def _rounded_up(power_kw: float) -> int:
    step = constant(RULES, "power_told_kw")
    return int(step * math.ceil(power_kw / step - 1e-9))

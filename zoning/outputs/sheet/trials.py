"""The speeds of the trial runs, as far as the tractor's power reaches at the depths of the plan."""

from __future__ import annotations

import math
from collections.abc import Mapping

from zoning.contracts import constant, draft_row, rows
from zoning.model import Plan

FASTEST = "The fastest that the tractor's power reaches. "
FASTER = "Faster than planned: only if the tractor holds it. "


def fastest_km_h(plan: Plan) -> Mapping[float, float]:
    """Return the fastest speed that the plan reckons with at each depth, rounded down [km/h].

    It is the machine's own speed or, where the tractor cannot pull that, the fastest it can; NaN
    where that is too slow to loosen. Without a tractor power nothing is known and nothing returned.
    """
    zones = plan.zones[plan.zones["depth_cm"] > 0]
    if plan.settings.tractor.pto_power_kw is None or "work_speed_km_h" not in zones:
        return {}
    own = plan.settings.machine.speed_km_h
    speeds = zip(zones["depth_cm"], zones["work_speed_km_h"], strict=True)
    return {
        float(depth): own if speed >= own else _rounded_down(float(speed))
        for depth, speed in sorted(speeds)
    }


def keeps_speed(plan: Plan) -> bool:
    """Return whether the depths hold the ridge that trial runs left at the speed of the plan."""
    return any(n.code == "ridge-allowance" and "speed_km_h" in n.keys for n in plan.notices)


def _rounded_down(speed_km_h: float) -> float:
    return math.floor(speed_km_h * 10.0 + 1e-9) / 10.0 if speed_km_h > 0 else math.nan


def trial_rows(plan: Plan) -> list[dict[str, str]]:
    """Return speed and what to look for of each trial run, speeds out of reach left out.

    A speed within reach at some depths only says where it is not. A speed above the machine's own
    counts as out of reach where the power, which rises with the speed and with the draft at it
    (ASAE D497), does not suffice; where it does at some depths alone, the machine's own is tried.
    Where it does nowhere, a whole speed short of it is that does at every depth. The speed of the
    plan is always tried where it is held, and none below it where it is to be kept.
    """
    told: list[dict[str, str]] = []
    fastest, own_km_h = fastest_km_h(plan), plan.settings.machine.speed_km_h
    most = max((speed for speed in fastest.values() if speed > 0), default=0.0)
    for row in rows("trial_speeds"):
        speed = float(row["speed_km_h"])
        held = [depth for depth in fastest if _reached(plan, depth, fastest[depth], speed)]
        last = float(told[-1]["speed"]) if told else 0.0
        if 0 < len(held) < len(fastest) and own_km_h - last >= _apart_km_h() and speed > own_km_h:
            whole = [depth for depth in fastest if fastest[depth] >= own_km_h]
            words = f"{_where(plan, fastest, whole, own_km_h)}As planned; {speed:g} km/h at "
            words += f"{_depths(held)} alone, if the tractor holds it. {row['look_for']}"
            told.append({"speed": _number(own_km_h), "look_for": words})
        elif held or not fastest:
            words = _where(plan, fastest, held, speed) + row["look_for"]
            told.append({"speed": row["speed_km_h"], "look_for": words})
        elif most > 0 and most - last >= _apart_km_h():
            at_most = [depth for depth in fastest if fastest[depth] >= most]
            why = FASTEST if most < own_km_h else "As planned. "
            words = why + _where(plan, fastest, at_most, most) + row["look_for"]
            told.append({"speed": _number(most), "look_for": words})
        elif between := _between_km_h(plan, fastest, last, speed):
            told.append({"speed": _number(between), "look_for": FASTER + row["look_for"]})
    tried = _with_own(told, fastest, own_km_h)
    if not keeps_speed(plan):
        return tried
    return [row for row in tried if float(row["speed"]) >= own_km_h] or tried


def _with_own(
    told: list[dict[str, str]], fastest: Mapping[float, float], own_km_h: float
) -> list[dict[str, str]]:
    """Return the runs with one at the speed of the plan, where it is held and none is so fast."""
    speeds = [float(row["speed"]) for row in told]
    if not all(speed >= own_km_h for speed in fastest.values()):
        return told
    if any(abs(speed - own_km_h) < _apart_km_h() for speed in speeds):
        return told
    slower = [row for row in told if float(row["speed"]) < own_km_h]
    look_for = (slower or told)[-1 if slower else 0]["look_for"] if told else ""
    own = {"speed": _number(own_km_h), "look_for": f"As planned. {look_for}".rstrip()}
    return [*slower, own, *told[len(slower) :]]


def _between_km_h(
    plan: Plan, fastest: Mapping[float, float], last_km_h: float, speed_km_h: float
) -> float:
    """Return the fastest whole speed between two usual ones that is in reach at every depth, or 0.

    Above the machine's own, where the faster of the usual ones is out of reach.
    """
    least = max(last_km_h, plan.settings.machine.speed_km_h) + 1.0
    for whole in range(math.ceil(speed_km_h) - 1, math.ceil(least) - 1, -1):
        if all(_reached(plan, depth, fastest[depth], whole) for depth in fastest):
            return float(whole)
    return 0.0


def _apart_km_h() -> float:
    """Return the least by which two speeds differ that are each worth a run of their own [km/h]."""
    return constant("machine_rules", "trial_apart_km_h")


def _reached(plan: Plan, depth_cm: float, fastest: float, speed_km_h: float) -> bool:
    own, power_kw = plan.settings.machine.speed_km_h, plan.settings.tractor.pto_power_kw
    if speed_km_h <= own or fastest < own:
        return speed_km_h <= fastest
    needed = plan.zones.loc[plan.zones["depth_cm"] == depth_cm, "pto_power_kw"].max()
    needed *= _power_at(plan, speed_km_h) / _power_at(plan, own)
    return bool(needed <= (power_kw or math.inf) * constant("machine_rules", "full_load"))


def _power_at(plan: Plan, speed_km_h: float) -> float:
    """Return the power at a speed by the draft equation, but for what is the same at all speeds."""
    row = draft_row(plan.settings.machine.draft_implement)
    return speed_km_h * row.unit_n(speed_km_h)


def _where(plan: Plan, fastest: Mapping[float, float], held: list[float], speed_km_h: float) -> str:
    """Return what to know before a speed is tried, by depth."""
    if fastest and speed_km_h > plan.settings.machine.speed_km_h:
        only = "" if len(held) == len(fastest) else f"At {_depths(held)} alone. "
        return FASTER + only
    short = {depth: fastest[depth] for depth in fastest if depth not in held}
    slower = [f"{_number(v)} at {_depths([depth])}" for depth, v in short.items() if v > 0]
    never = [depth for depth, v in short.items() if not v > 0]
    told = f"No faster than {', '.join(slower)}. " if slower else ""
    return told + (f"Not at {_depths(never)}: the tractor cannot pull it. " if never else "")


def _depths(depths_cm: list[float]) -> str:
    return f"{', '.join(map(_number, depths_cm))} cm"


def _number(value: float) -> str:
    return f"{value:g}"

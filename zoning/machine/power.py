"""Power at the drawbar and the PTO, what cannot be pulled, and the rate of work."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.optimize import brentq

from zoning.contracts import constant, rows
from zoning.machine.draft import machine_draft
from zoning.machine.findings import Finding, number
from zoning.model.settings import MachineSection, SoilSection, TractorSection

RULES = "machine_rules"


@dataclass(frozen=True, slots=True)
class Pull:
    """Draft and power of one working depth at one speed.

    Parameters
    ----------
    speed_km_h
        Forward speed.
    draft_kn, draft_low_kn, draft_high_kn
        Draft and its published range.
    power_kw
        Drawbar power.
    pto_power_kw, pto_power_high_kw
        PTO power the tractor needs for it, and for the high end of the range.
    """

    speed_km_h: float
    draft_kn: float
    draft_low_kn: float
    draft_high_kn: float
    power_kw: float
    pto_power_kw: float
    pto_power_high_kw: float


def drawbar_power_kw(draft_kn: float, speed_km_h: float) -> float:
    """Return the drawbar power [kW]: draft [kN] x speed [km/h] / 3.6 (source ``asae_ep496``)."""
    return draft_kn * speed_km_h / 3.6


def tractive_efficiency(drive: str, ground: str) -> float:
    """Return drawbar power over axle power (ASAE D497 Fig. 1, from memory).

    Raises
    ------
    KeyError
        If the table has no such drive and ground.
    """
    for row in rows("tractive_efficiency"):
        if (row["drive"], row["ground"]) == (drive, ground):
            return float(row["value"])
    raise KeyError(f"tractive_efficiency.csv has no row for {drive} on {ground}")


def pto_power_needed_kw(power_kw: float, drive: str, ground: str) -> float:
    """Return the PTO power behind a drawbar power [kW], through tyres or tracks and gears."""
    return power_kw / (tractive_efficiency(drive, ground) * constant(RULES, "pto_to_axle"))


def work_rate_ha_h(speed_km_h: float, width_m: float, efficiency: float) -> float:
    """Return the rate of work [ha/h]: speed x width x field efficiency / 10 (``asae_ep496``)."""
    return speed_km_h * width_m * efficiency / 10.0


def pull(
    machine: MachineSection,
    tractor: TractorSection,
    soil: SoilSection,
    depth_cm: float,
    speed_km_h: float,
) -> Pull:
    """Return draft and power of the machine at a depth and speed."""
    draft = machine_draft(machine, soil.texture, speed_km_h, depth_cm)
    power_kw = drawbar_power_kw(draft.value_kn, speed_km_h)
    high_kw = drawbar_power_kw(draft.high_kn, speed_km_h)
    return Pull(
        speed_km_h,
        draft.value_kn,
        draft.low_kn,
        draft.high_kn,
        power_kw,
        pto_power_needed_kw(power_kw, tractor.drive, tractor.ground),
        pto_power_needed_kw(high_kw, tractor.drive, tractor.ground),
    )


def fastest_speed_km_h(
    machine: MachineSection, tractor: TractorSection, soil: SoilSection, depth_cm: float
) -> float:
    """Return the fastest speed up to the machine's own that the tractor's power can pull [km/h].

    Power rises with speed without end, so the speed at which the PTO power needed meets the rated
    power is single; weight and wheelslip are not in it. Without a tractor power the machine's speed
    stands.
    """
    rated_kw = tractor.pto_power_kw
    if rated_kw is None:
        return machine.speed_km_h
    limit_kw = rated_kw * constant(RULES, "full_load")

    def surplus_kw(speed_km_h: float) -> float:
        return limit_kw - pull(machine, tractor, soil, depth_cm, speed_km_h).pto_power_kw

    if surplus_kw(machine.speed_km_h) >= 0:
        return machine.speed_km_h
    return float(brentq(surplus_kw, 0.0, machine.speed_km_h, xtol=1e-9))


def legs_that_can(machine: MachineSection, tractor: TractorSection, needed: Pull) -> int:
    """Return how many legs at the same spacing the tractor can pull at the speed of `needed`."""
    if tractor.pto_power_kw is None:
        return machine.legs
    share = tractor.pto_power_kw * constant(RULES, "full_load") / needed.pto_power_kw
    return min(machine.legs, math.floor(machine.legs * share + 1e-9))


def pulling_findings(
    machine: MachineSection,
    tractor: TractorSection,
    soil: SoilSection,
    depth_cm: float,
    deepest_cm: float | None = None,
    *,
    driven_km_h: float = 0.0,
) -> tuple[Finding, ...]:
    """Return what the tractor cannot pull, with the speed and the leg count that it can.

    Speed is set from the seat at each depth; legs that are taken off are off at the deepest of the
    plan, `deepest_cm` [cm], too. A speed that was driven there, `driven_km_h`, it can pull.
    """
    if depth_cm <= 0 or driven_km_h >= machine.speed_km_h:
        return ()
    needed = pull(machine, tractor, soil, depth_cm, machine.speed_km_h)
    if tractor.pto_power_kw is None:
        return (_unknown(needed, depth_cm),)
    if needed.pto_power_kw > tractor.pto_power_kw * constant(RULES, "full_load"):
        most = pull(machine, tractor, soil, deepest_cm or depth_cm, machine.speed_km_h)
        count = legs_that_can(machine, tractor, most)
        pulled = max(fastest_speed_km_h(machine, tractor, soil, depth_cm), driven_km_h)
        return (_cannot(machine, tractor, needed, depth_cm, count, pulled),)
    if needed.pto_power_high_kw > tractor.pto_power_kw:
        return (_may_not(tractor, needed, depth_cm),)
    return ()


def _unknown(needed: Pull, depth_cm: float) -> Finding:
    text = (
        f"The tractor's power was not given. {number(depth_cm)} cm at {number(needed.speed_km_h)} "
        f"km/h needs about {needed.pto_power_kw:.0f} kW at the PTO, up to "
        f"{needed.pto_power_high_kw:.0f} kW at the high end of the range of the draft equation. "
        "Whether yours can pull it, and on what fuel, is not reckoned; the time is that of the "
        "machine's own speed."
    )
    remedy = "Compare with your tractor, or give pto_power_kw under [tractor]."
    return Finding("note", "no-tractor-power", text, remedy, "asae_d497")


def _cannot(
    machine: MachineSection,
    tractor: TractorSection,
    needed: Pull,
    depth_cm: float,
    count: int,
    pulled_km_h: float,
) -> Finding:
    speed = math.floor(pulled_km_h * 10.0 + 1e-9) / 10.0
    text = (
        f"{machine.legs} legs at {number(depth_cm)} cm and {number(needed.speed_km_h)} km/h need "
        f"{_shortage(needed.pto_power_kw, tractor.pto_power_kw or 0.0)}."
    )
    options = []
    slow_enough = speed >= constant(RULES, "slowest_km_h")
    if slow_enough:
        text += f" Its time and fuel are reckoned at {speed:.1f} km/h."
        options.append(f"drive {speed:.1f} km/h or slower")
    else:
        text += (
            f" Only {speed:.1f} km/h is left, too slow to loosen: no hours or fuel for that depth."
        )
    if count >= constant(RULES, "least_legs"):
        options.append(f"pull {count} legs (plan again with that many: the passes change)")
    options.append("use a stronger tractor, or go down in two passes, the first less deep")
    remedy = ", or ".join(options)
    code = "pull-slower" if slow_enough else "cannot-be-pulled"
    return Finding("change", code, text, f"{remedy[0].upper()}{remedy[1:]}.", "asae_d497")


def _shortage(needed_kw: float, rated_kw: float) -> str:
    """Return the power needed beside the tractor's own, plainly less where both round alike."""
    if round(needed_kw) > rated_kw:
        return f"about {needed_kw:.0f} kW at the PTO; the tractor has {number(rated_kw)} kW"
    return f"just over the {number(rated_kw)} kW that the tractor has at the PTO: it falls short"


def _may_not(tractor: TractorSection, needed: Pull, depth_cm: float) -> Finding:
    text = (
        f"At {number(depth_cm)} cm and {number(needed.speed_km_h)} km/h the tractor needs about "
        f"{needed.pto_power_kw:.0f} kW of its {number(tractor.pto_power_kw or 0)} kW, but up to "
        f"{needed.pto_power_high_kw:.0f} kW at the high end of the range of the draft equation."
    )
    return Finding(
        "note",
        "may-not-be-pulled",
        text,
        "Try it; be ready to slow down or lift legs out.",
        "asae_d497",
    )

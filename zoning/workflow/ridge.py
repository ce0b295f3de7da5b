"""The ridge between legs, as trial runs measured it, enters the need of a plan once and here.

What the machine's findings say of it goes by the pits dug after the work where there are no runs.
Need at a place: pan base + clearance + ridge allowance. The clearance stays in the settings as the
user gave it; every room that decides or describes depths gets settings whose clearance holds both.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd

from zoning import checks, machine
from zoning.contracts import constant, joined
from zoning.model import FieldInputs, Notice, Settings

RULES = "machine_rules"


def allowance_cm(inputs: FieldInputs) -> float:
    """Return the ridge allowance at the speed of the settings [cm]; 0 without trial runs."""
    return checks.ridge_allowance_cm(inputs.trials, inputs.settings.machine.speed_km_h)


def working_settings(inputs: FieldInputs) -> Settings:
    """Return the settings with the ridge allowance in the clearance, for choosing depths."""
    settings, extra = inputs.settings, allowance_cm(inputs)
    depth = replace(settings.depth, clearance_cm=settings.depth.clearance_cm + extra)
    return replace(settings, depth=depth)


def measured_ridge_cm(inputs: FieldInputs) -> float | None:
    """Return the ridge between legs as measured behind this machine [cm]; ``None`` if it was not.

    Trial runs give it at the speed of the settings; without them it is the median of the pits dug
    after the work.
    """
    ridge = checks.ridge_at_cm(
        checks.ridge_curve(inputs.trials), inputs.settings.machine.speed_km_h
    )
    if not np.isfinite(ridge):
        after = inputs.pits[inputs.pits["phase"] == "after"]
        ridge = float((after["loosened_at_leg_cm"] - after["loosened_between_cm"]).median())
    return ridge if np.isfinite(ridge) else None


def outfit_of(inputs: FieldInputs) -> machine.Outfit:
    """Return machine, tractor, soil and prices, with the ridge and the speeds that were measured.

    Trial runs that kept their depth show speeds that the tractor holds.
    """
    outfit = machine.Outfit.of(inputs.settings, measured_ridge_cm(inputs))
    return replace(outfit, driven=checks.runs_kept(checks.runs_set(inputs.trials)))


def ridge_notices(inputs: FieldInputs, zones: pd.DataFrame) -> tuple[Notice, ...]:
    """Return what a plan must say of its ridge allowance, also where the tractor is too slow.

    Parameters
    ----------
    inputs
        The field, with its trial runs.
    zones
        ``zone, depth_cm, area_ha, work_speed_km_h`` (NaN where the tractor's power is not known).
    """
    speed, slack = inputs.settings.machine.speed_km_h, constant(RULES, "speed_same_km_h")
    worked = zones[zones["depth_cm"] > 0]
    held = worked[worked["work_speed_km_h"] < speed - slack]
    slowest = None if held.empty else _tenths(float(held["work_speed_km_h"].min()))
    pulled = _pulled_km_h(inputs, worked)
    told = checks.allowance_notices(inputs.trials, speed, held_km_h=slowest, pulled_km_h=pulled)
    slow = _slow_words(inputs, held) if told else []
    if not slow:
        return told
    at, remedy = "every depth", "Dig there first, or pull fewer legs at full speed."
    if len(held) == len(worked):
        at = "any depth"
        remedy = (
            f"Set speed_km_h to {slowest:g} and plan again, so that the depths hold the ridge of a "
            "speed that is driven, or pull fewer legs."
        )
    text = (
        f"By the equations the tractor does not hold {speed:g} km/h at {at}, and slower leaves a "
        f"higher ridge than the {allowance_cm(inputs):g} cm that the depths hold: {joined(slow)}. "
        f"{remedy}"
    )
    return (*told, Notice("caution", "ridge-where-slow", text))


def _slow_words(inputs: FieldInputs, held: pd.DataFrame) -> list[str]:
    """Return each depth that is driven slower, with its speed and the ridge to expect there.

    Only where that is ``ridge_short_cm`` or more above what the depths hold.
    """
    curve, least = checks.ridge_curve(inputs.trials), constant(RULES, "ridge_short_cm")
    told = []
    for depth_cm, pulled in held.groupby("depth_cm")["work_speed_km_h"].min().items():
        ridge = checks.ridge_at_cm(curve, _tenths(float(pulled)))
        if ridge - allowance_cm(inputs) >= least:
            told.append(f"{depth_cm:g} cm at {_tenths(float(pulled)):g} km/h, about {ridge:.0f} cm")
    return told


def _pulled_km_h(inputs: FieldInputs, worked: pd.DataFrame) -> float | None:
    """Return the fastest speed that the tractor can pull, up to the slowest even one [km/h].

    Where no run was even it is up to the fastest tried. It is reckoned at the depth of most ground
    less what the lower ridge of that speed would save. ``None`` without runs or a power.
    """
    settings, curve = inputs.settings, checks.ridge_curve(inputs.trials)
    if curve.speeds.empty or settings.tractor.pto_power_kw is None or worked.empty:
        return None
    ground = worked.groupby("depth_cm")["area_ha"].sum()
    most_cm = float(ground.index.to_numpy(dtype=float)[ground.to_numpy().argmax()])
    aim = curve.slowest_even_km_h or float(curve.speeds["speed_km_h"].iloc[-1])
    saved = max(allowance_cm(inputs) - checks.ridge_at_cm(curve, aim), 0.0)
    faster = replace(settings.machine, speed_km_h=aim)
    depth_cm = max(most_cm - saved, settings.machine.depth_min_cm)
    speed = machine.fastest_speed_km_h(faster, settings.tractor, settings.soil, depth_cm)
    speed = max(speed, min(aim, outfit_of(inputs).driven_km_h(depth_cm)))
    return speed if speed >= aim else _tenths(speed)


def _tenths(speed_km_h: float) -> float:
    """Return a speed rounded down to a tenth, which the tractor can hold."""
    return math.floor(speed_km_h * 10.0 + 1e-9) / 10.0

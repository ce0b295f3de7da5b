"""The ridge between legs, as trial runs measured it, enters the need of a plan once and here.

Need at a place: pan base + clearance + ridge allowance. The clearance stays in the settings as the
user gave it; every room that decides or describes depths gets settings whose clearance holds both.
"""

from __future__ import annotations

from dataclasses import replace

from zoning import checks
from zoning.model import FieldInputs, Settings


def allowance_cm(inputs: FieldInputs) -> float:
    """Return the ridge allowance at the speed of the settings [cm]; 0 without trial runs."""
    return checks.ridge_allowance_cm(inputs.trials, inputs.settings.machine.speed_km_h)


def working_settings(inputs: FieldInputs) -> Settings:
    """Return the settings with the ridge allowance in the clearance, for choosing depths."""
    settings, extra = inputs.settings, allowance_cm(inputs)
    depth = replace(settings.depth, clearance_cm=settings.depth.clearance_cm + extra)
    return replace(settings, depth=depth)

"""Worked that needs more than the deepest setting of the machine, by zone and part."""

from __future__ import annotations

from dataclasses import fields

import pandas as pd

from zoning.model import Notice, Settings
from zoning.units import M2_PER_HA
from zoning.workflow.disagree import named
from zoning.workflow.worked import Worked


def too_shallow_notices(ground: Worked, settings: Settings) -> tuple[Notice, ...]:
    """Return a caution on the ground, by zone and part, that needs more than the deepest setting.

    Parameters
    ----------
    ground
        The worked places of the field; what a hazard holds shallower is passed over.
    settings
        The settings of the machine.
    """
    deepest = settings.machine.settings_cm[-1]
    short = ground.where((ground.needed_cm > deepest) & (ground.cap_cm >= deepest))
    most_cm = float((short.needed_cm - deepest).max(initial=0.0))
    area_ha = short.area_m2.sum() / M2_PER_HA
    if round(most_cm) == 0 or round(area_ha, 2) == 0:
        return ()
    over = short.area_m2[short.base_cm > short.depth_cm].sum() / M2_PER_HA
    stays = "whole there" if round(over, 2) > 0 else "there, most likely between legs"
    text = (
        f"On {area_ha:.2f} ha the depth needed lies beyond the deepest setting of {deepest:g} cm, "
        f"by up to {most_cm:.0f} cm: {named(_told(short))}. The pan may stay {stays}: dig "
        f"behind the machine; where hazards and services allow it use {deepest:g} cm where less is "
        "worked, or a machine that reaches deeper."
    )
    return (Notice("caution", "machine-too-shallow", text),)


def _told(ground: Worked) -> list[str]:
    """Return each part in each zone with its depth and mean pan base, the largest ground first.

    Worked that prints as no hectare is passed over, unless all is so little.
    """
    table = pd.DataFrame({each.name: getattr(ground, each.name) for each in fields(ground)})
    table["weight"] = table["area_m2"] * table["pan_probability"]
    table["base_cm"] *= table["weight"]
    of = ["zone", "part", "depth_cm"]
    total = table.groupby(of, as_index=False)[["area_m2", "weight", "base_cm"]].sum()
    total = total.sort_values(["area_m2", *of], ascending=[False, True, True, True])
    seen = total[(total["area_m2"] / M2_PER_HA).round(2) > 0]
    shown = total[:1] if seen.empty else seen
    base_cm = shown["base_cm"] / shown["weight"]
    return [
        f"{part} in zone {zone} (worked {depth:g} cm, pan to {base:.0f} cm)"
        for zone, part, depth, base in zip(*(shown[name] for name in of), base_cm, strict=True)
    ]

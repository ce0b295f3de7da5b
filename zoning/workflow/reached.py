"""What the plan reaches of what was asked."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.contracts import constant, joined
from zoning.depths import Places
from zoning.model import Notice, PanSurface, Settings
from zoning.model.settings import MachineSection
from zoning.units import M2_PER_HA, tenths
from zoning.workflow.cautions import HAZARD_CAUTION
from zoning.workflow.disagree import named
from zoning.workflow.worked import Worked


def assurance_notices(
    zones: pd.DataFrame, settings: Settings, ground: Worked
) -> tuple[Notice, ...]:
    """Return a note where much ground, or a zone that is not small, is short of the assurance.

    It tells how much ground is passed less surely than asked, and why. The zones well below it are
    named, those with most ground first.

    Parameters
    ----------
    zones
        ``zone, depth_cm, area_ha, assurance``.
    settings
        What was asked, and the settings and depths allowed.
    ground
        The places of the field, with what keeps each from what it needs.
    """
    worked = zones[zones["depth_cm"] > 0]
    asked = settings.depth.assurance
    short = worked[worked["assurance"].round(2) < round(asked, 2)]
    well = round(asked - constant("plan_rules", "assurance_well_below"), 2)
    far = short[short["assurance"].round(2) <= well]
    under_m2 = ground.area_m2[ground.assurance.round(2) <= well].sum()
    much = under_m2 > constant("plan_rules", "assurance_short_share") * ground.area_m2.sum()
    if not much and not (far["area_ha"] >= constant("plan_rules", "small_zone_ha")).any():
        return ()
    far = far.sort_values(["area_ha", "zone"], ascending=[False, True])
    pairs = zip(far["zone"], far["assurance"], strict=True)
    told = [f"zone {zone:.0f} ({reached:.2f})" for zone, reached in pairs]
    least = f" Least surely as a whole, largest first: {named(told)}." if told else ""
    text = f"{_causes(ground, settings)}.{least}"
    return (Notice("note", "assurance-short", text),)


def short_part_notices(
    ground: Worked, settings: Settings, *, more_depths: bool, by_hand: Collection[str]
) -> tuple[Notice, ...]:
    """Return a note on the parts that as a whole reach less than the assurance asked.

    One that as a whole needs more than the deepest setting is told of by `too_shallow`. The parts
    well below what was asked stand beside the text, for the sheet: where to dig first, so that one
    which is most of the ground does not.

    Parameters
    ----------
    ground
        The worked places of the field.
    settings
        What was asked.
    more_depths
        Whether every working depth that was allowed helps, so that a further one may.
    by_hand
        The parts whose passes a hand had better set one setting deeper, as of `parts_by_hand`.
    """
    asked, told, far = settings.depth.assurance, [], []
    gain_cm: dict[str, float] = {}
    well = round(asked - constant("plan_rules", "assurance_well_below"), 2)
    for part in sorted(set(ground.part)):
        here = ground.part == part
        area = ground.area_m2[here]
        reached, depth, need = (
            float(np.average(values[here], weights=area))
            for values in (ground.assurance, ground.depth_cm, ground.needed_cm)
        )
        little, much = round(reached, 2) < round(asked, 2), round(reached, 2) <= well
        short = much or (little and round(need) > round(depth))
        if short and need <= settings.machine.settings_cm[-1]:
            most = 2 * area.sum() > ground.area_m2.sum()
            far += [str(part)] if much and not most else []
            told.append(f"{part} ({reached:.2f}; {_short_of(ground.where(here))})")
            gain_cm[str(part)] = float(ground.deeper_gain_cm[here] @ area)
    if not told:
        return ()
    text = (
        f"As a whole the work passes the pan less surely than {asked:g} in: {named(told)}. Dig "
        f"there behind the machine{', or give more max_depths' if more_depths else ''}."
        f"{_by_hand(gain_cm, by_hand)}"
    )
    return (Notice("note", "part-short", text, parts=tuple(far)),)


def _by_hand(gain_cm: Mapping[str, float], by_hand: Collection[str]) -> str:
    """Return where a hand had better set passes one setting deeper, and where it would be worse."""
    better = [part for part in gain_cm if part in by_hand]
    worse = [part for part, gain in gain_cm.items() if gain <= 0 and part not in by_hand]
    told = ""
    if better:
        told = (
            " Where machine, hazards and services allow it, set passes that lie mostly in the "
            f"{joined(better)} one setting deeper by hand."
        )
    if worse:
        all_of_it = "it" if len(gain_cm) == 1 else f"the {joined(worse)}"
        told += f" One setting deeper on all of {all_of_it} would be deeper than needed."
    return told


def _short_of(ground: Worked) -> str:
    """Return how much of a part is short of what it needs, and by how much on average, in words."""
    short = ground.where(ground.needed_cm > ground.depth_cm)
    depth, need = (
        tenths(float(np.average(values, weights=short.area_m2)))
        for values in (short.depth_cm, short.needed_cm)
    )
    part_ha, short_ha = (held.area_m2.sum() / M2_PER_HA for held in (ground, short))
    return f"{short_ha:.2f} of {part_ha:.2f} ha worked {depth} cm on average where {need} would do"


def mean_probability(places: Places, zone: NDArray[np.int64], pan: PanSurface) -> pd.Series:
    """Return the mean probability of a pan in each zone, by its number; `zone` is of the pieces."""
    of, area = zone[places.piece], places.area_m2
    with_pan = np.bincount(of, area * pan.pan_probability)
    return pd.Series(with_pan[1:] / np.bincount(of, area)[1:], index=range(1, len(with_pan)))


def above_pan_notices(zones: pd.DataFrame, pan_probability: pd.Series) -> tuple[Notice, ...]:
    """Return a note on the zones worked above the mean base of the pan, hazards apart.

    Parameters
    ----------
    zones
        ``zone, depth_cm, area_ha, pan_base_cm, cautions``.
    pan_probability
        Mean probability of a pan in each zone, by its number.
    """
    above = (zones["pan_base_cm"] - zones["depth_cm"]).round() >= 1
    own = ~zones["cautions"].str.contains(HAZARD_CAUTION)
    short = zones[(zones["depth_cm"] > 0) & above & own]
    short = short.sort_values(["area_ha", "zone"], ascending=[False, True])
    if short.empty:
        return ()
    columns = (short[name] for name in ("zone", "pan_base_cm", "depth_cm"))
    told = [
        f"zone {zone} by {base - depth:.0f} cm (a pan with probability {pan_probability[zone]:.2f})"
        for zone, base, depth in zip(*columns, strict=True)
    ]
    text = (
        f"Worked above the mean base of the pan: {named(told)}. Where a pan is unlikely, working "
        "too deep on ground without one weighs in the choice; elsewhere few depths and the "
        "shortest run do. Such work may leave a pan whole: dig there, then lift out, or set the "
        "next depth where hazards and services allow it."
    )
    return (Notice("note", "above-pan-base", text),)


def _causes(ground: Worked, settings: Settings) -> str:
    """Return how much ground falls short, and what holds up how much of it, the most first."""
    machine, depth = settings.machine, settings.depth
    most, step = machine.settings_cm[-1], machine.depth_step_cm
    reach = np.minimum(ground.needed_cm, most)
    causes = {
        "hazards hold it shallower": ground.cap_cm < reach,
        f"it needs more than the deepest setting, {most:g} cm": (
            (ground.needed_cm > most) & (ground.depth_cm >= most)
        ),
        f"{_settings(machine)} are {step:g} cm apart": (
            (ground.needed_cm < ground.depth_cm + step) & (ground.deeper_gain_cm <= 0)
        ),
        (
            f"each depth holds for {depth.min_run_m:g} m or more and at most "
            f"{depth.max_depths} {'is' if depth.max_depths == 1 else 'are'} allowed (min_run_m, "
            "max_depths)"
        ): np.ones(len(reach), dtype=bool),
    }
    cause = np.select(list(causes.values()), range(len(causes)))
    under = ground.needed_cm > ground.depth_cm
    area_m2 = np.bincount(cause[under], ground.area_m2[under], minlength=len(causes))
    told = [
        (float(area_m2[i]), f"{area_m2[i] / M2_PER_HA:.2f} ha because {words}", words)
        for i, words in sorted(enumerate(causes), key=lambda each: -area_m2[each[0]])
        if round(area_m2[i] / M2_PER_HA, 2) > 0
    ]
    text = (
        f"On {area_m2.sum() / M2_PER_HA:.2f} ha the work passes the pan less surely than "
        f"{depth.assurance:g}"
    )
    if told and told[0][0] >= constant("plan_rules", "nearly_all_share") * area_m2.sum():
        return f"{text}, {'nearly ' if len(told) > 1 else ''}all because {told[0][2]}"
    return f"{text}: {'; '.join(each[1] for each in told)}" if told else text


def _settings(machine: MachineSection) -> str:
    return "the pins" if machine.depth_control == "pins" else "the settings"


def depths_enough(at_most_loss_cm: Sequence[float]) -> int:
    """Return how many working depths are enough: further ones gain next to nothing.

    Parameters
    ----------
    at_most_loss_cm
        Expected loss along the passes with at most 1, 2, ... working depths [cm].
    """
    gain_cm = np.subtract(at_most_loss_cm, at_most_loss_cm[-1])
    return int(np.flatnonzero(gain_cm < constant("plan_rules", "depths_gain_cm"))[0]) + 1


def fewer_notices(at_most_loss_cm: Sequence[float], zones: pd.DataFrame) -> tuple[Notice, ...]:
    """Return a note where fewer working depths would cost next to nothing.

    Parameters
    ----------
    at_most_loss_cm
        As `depths_enough` takes it.
    zones
        ``depth_cm``.
    """
    used = int(zones.loc[zones["depth_cm"] > 0, "depth_cm"].nunique())
    few = depths_enough(at_most_loss_cm)
    if few >= used:
        return ()
    gain = f"{at_most_loss_cm[few - 1] - at_most_loss_cm[-1]:.2f} cm of loss"
    text = (
        f"max_depths = {few} would cost {gain}: {few} in place of {used} settings. Set it in "
        "field.toml if fewer changes are worth that."
    )
    return (Notice("note", "fewer-depths", text),)

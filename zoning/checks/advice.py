"""What to do, the least costly first: speed, depth or pins, points and wings, spacing, dry soil.

The order is that of common practice: a faster gear costs nothing, drier soil costs days. A step
that the pits or the trial runs rule out is left out; a step is given with what it rests on. What
must stop at once comes before all of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from zoning.checks.caps import held_name, past_caps, stop_words
from zoning.checks.deeper import how_deep
from zoning.checks.ground import Ground
from zoning.checks.groups import FIELD
from zoning.checks.pits import JUDGED
from zoning.checks.rules import rule
from zoning.checks.trials import ROUGH, ridge_at_cm, wanted_ridge_cm
from zoning.model.check import RidgeCurve
from zoning.model.settings import MachineSection

STEPS = ("stop", "dig", "speed", "depth", "points", "spacing", "soil", "keep", "hold")
"""The steps in order: stop, know first, then the least costly change first."""
CHANGES = ("stop", "speed", "depth", "points", "spacing", "soil")
"""Steps that ask for something to be done otherwise."""

Step = tuple[str, str]
_SOIL = "If none of this helps, wait for drier soil: test a thread of it at working depth."
_FEWER_LEGS = "Where the tractor cannot hold that, try fewer legs at full speed."


def advise(
    groups: pd.DataFrame,
    pits: pd.DataFrame,
    curve: RidgeCurve,
    machine: MachineSection,
    zones: pd.DataFrame,
) -> pd.DataFrame:
    """Return the advice for the whole field, for each depth and for ground a hazard holds.

    Parameters
    ----------
    groups
        Rows of `zoning.checks.judge_groups`.
    pits
        Rows of `zoning.checks.judge_pits`.
    curve
        What the trial runs say.
    machine
        The loosener.
    zones
        Those of `zoning.checks.bounded`.

    Returns
    -------
    DataFrame
        What holds for the whole field is said once; a depth has only what differs.
        ``where, order`` (from 1 in each place, the least costly first) and ``step, text``. No
        depth is named that lies beyond what bounds any zone of the ground it is named for.
    """
    rows: list[tuple[str, int, str, str]] = []
    by_depth = {
        name: list(_in_order(_ground(facts, pits, curve, machine, zones)))
        for name, facts in groups[groups["group"] != "part"].set_index("name").iterrows()
    }
    for name, steps in _agreeing(by_depth).items():
        said = {_gist(row[2:]) for row in rows if row[0] == FIELD}
        new = [step for step in steps if step[0] == "stop" or _gist(step) not in said]
        rows += [(name, number, *step) for number, step in enumerate(new, 1)]
    rows += list(_held(zones, pits))
    return pd.DataFrame(rows, columns=["where", "order", "step", "text"])


def _ground(
    facts: pd.Series,
    pits: pd.DataFrame,
    curve: RidgeCurve,
    machine: MachineSection,
    zones: pd.DataFrame,
) -> Ground:
    name = str(facts.name)
    if name == FIELD:
        return Ground(name, facts, pits, curve, machine, zones)
    same = zones[(zones["depth_cm"] > 0) & (zones["depth_cm"].map("{:g} cm".format) == name)]
    return Ground(name, facts, _on_open(pits, same), curve, machine, same)


def _on_open(pits: pd.DataFrame, zones: pd.DataFrame) -> pd.DataFrame:
    """Return the pits in `zones`, less those where a hazard holds the work."""
    return pits[pits["zone"].isin(zones.loc[~zones["held"].to_numpy(dtype=bool), "zone"])]


def _in_order(ground: Ground) -> list[Step]:
    return sorted(_steps(ground), key=lambda step: STEPS.index(step[0]))


def _agreeing(by_place: dict[object, list[Step]]) -> dict[str, list[Step]]:
    """Return the steps of each place, none that keeps what another changes."""
    whole = by_place.get(FIELD, [])
    changed = [
        str(name)
        for name, steps in by_place.items()
        if name != FIELD and any(step[0] in CHANGES for step in steps)
    ]
    faster = any(step[0] == "speed" for step in whole)
    told = {}
    for name, steps in by_place.items():
        kept = list(steps)
        if name == FIELD and changed and kept and kept[-1][0] == "keep":
            text = (
                f"Most of the field is loosened through: change only {_listed(changed)}, as below."
            )
            kept[-1] = ("keep", text)
        if name != FIELD and faster and kept and kept[-1][0] == "keep":
            kept[-1] = ("keep", "Keep the depth here; the speed is a matter of the whole field.")
        told[str(name)] = kept
    return told


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _held(zones: pd.DataFrame, pits: pd.DataFrame) -> Iterator[tuple[str, int, str, str]]:
    """Yield the advice for ground where a hazard holds the depth above the pan."""
    held = zones[zones["held"].to_numpy(dtype=bool)]
    for _, own in held.groupby(["depth_cm", "cap_by"], sort=True):
        depth, by = float(own["depth_cm"].iloc[0]), str(own["cap_by"].iloc[0])
        where = held_name(depth, by)
        dug = pits[pits["zone"].isin(own["zone"])]
        steps = [*_stops(dug, own), ("hold", _hold(own, dug, depth, by))]
        for number, step in enumerate(steps, 1):
            yield where, number, *step


def _hold(zones: pd.DataFrame, pits: pd.DataFrame, depth_cm: float, by: str) -> str:
    names = [str(zone) for zone in zones["zone"]]
    own = pits.loc[pits["verdict"] == "held", "pit"]
    seen = f" Seen in pit {_listed(own.tolist())}." if len(own) else ""
    return (
        f"Zone {_listed(names)}: here the {by} holds the work at {depth_cm:g} cm; the pan stays; "
        f"that was planned.{seen} Do not go deeper."
    )


def _gist(step: Step) -> Step:
    """Return what makes a step the same as another: a speed is asked for once, for all depths."""
    name, text = step
    return name, "" if name == "speed" else text


def _steps(ground: Ground) -> Iterator[Step]:
    yield from _stops(ground.pits, ground.zones)
    yield from _too_wet(ground.pits)
    worked = _on_open(ground.pits, ground.zones)
    judged = replace(ground, pits=worked[worked["verdict"].isin(JUDGED)])
    yield from _dig(judged)
    yield from _changes(judged)


def _stops(pits: pd.DataFrame, zones: pd.DataFrame) -> Iterator[Step]:
    deep = past_caps(pits, zones)
    for pit in deep[deep["far"].to_numpy(dtype=bool)].to_dict("records"):
        yield "stop", stop_words(pit)


def _too_wet(pits: pd.DataFrame) -> Iterator[Step]:
    plastic = pits.loc[pits["moisture"] == "plastic", "pit"]
    if len(plastic):
        text = (
            f"Stop and wait for drier soil: it was plastic in pit {', '.join(plastic)}, and no "
            "setting loosens plastic soil."
        )
        yield "stop", text


def _changes(ground: Ground) -> Iterator[Step]:
    state, ridge = ground.state, float(ground.facts["ridge_cm"])
    missed = state in ("leg_only", "not_reached")
    ridged = missed and not ridge <= wanted_ridge_cm()
    uneven = ridge >= rule("ridge_uneven_cm") or ground.slow_pits_uneven
    if (uneven or ridged) and not ground.fast_no_better:
        yield from _speed(ground)
    if missed:
        yield from _depth(ground)
    if state == "too_deep":
        yield from _shallower(ground)
    if ridged or ground.fast_no_better:
        yield from _metal(ground)
    if missed or ground.fast_no_better:
        yield "soil", _SOIL
    if state == "reached" and not ground.slow_pits_uneven and not ground.fast_no_better:
        yield from _keep(ground)


def _dig(ground: Ground) -> Iterator[Step]:
    tiny = ground.name != FIELD and ground.facts["area_ha"] < rule("dig_least_ha")
    if ground.facts["verdict"] != "cannot_tell" or tiny:
        return
    more, pits = int(ground.facts["more_pits"]), int(ground.facts["pits"])
    if more < 0:
        yield "dig", "The pits disagree too much for further digging to settle it: look for why."
        return
    plural = "" if more == 1 else "s"
    so_far = f" ({pits} so far)" if pits else ""
    yield "dig", f"Dig {more} more pit{plural}{so_far}: that many settle it if they agree."


def _speed(ground: Ground) -> Iterator[Step]:
    curve, now = ground.curve, ground.speed_km_h
    if ground.slow_pits_uneven:
        yield "speed", _faster_as_pits(ground)
    elif curve.speeds.empty:
        text = (
            f"Try faster runs first: 4, 6, 8 and 10 km/h at the same setting, a pit behind each, "
            f"noted in trials.csv. The pits here were at {ground.speed_words}."
        )
        yield "speed", text
    elif ground.fast_enough:
        return
    elif curve.slowest_even_km_h is not None:
        text = (
            f"Drive {curve.slowest_even_km_h:g} km/h instead of {now:g}: in the trial runs the "
            f"ridge fell from {ridge_at_cm(curve, now):.0f} to "
            f"{ridge_at_cm(curve, curve.slowest_even_km_h):.0f} cm. {_FEWER_LEGS}"
        )
        yield "speed", text
    else:
        yield "speed", _no_even_speed(curve)


def _faster_as_pits(ground: Ground) -> str:
    seen = ground.of_pits
    told = ", ".join(
        f"{row['ridge_cm']:.0f} cm at {row['speed_km_h']:g} km/h "
        f"({row['runs']} pit{'' if row['runs'] == 1 else 's'})"
        for row in seen.speeds.to_dict("records")
    )
    return (
        f"Drive {seen.slowest_even_km_h:g} km/h: the pits show a ridge of {told}. They lie at "
        "different places, so dig behind the faster run here before trusting it. "
        f"{_FEWER_LEGS}"
    )


def _no_even_speed(curve: RidgeCurve) -> str:
    best = curve.speeds.iloc[-1]
    rough = curve.speeds[
        (curve.speeds["fitted_cm"] <= curve.wanted_cm) & curve.speeds["surface"].isin(ROUGH)
    ]
    if len(rough):
        first = rough.iloc[0]
        return (
            f"{first['speed_km_h']:g} km/h is even below but leaves the surface "
            f"{first['surface']}: try less lift on the points at that speed."
        )
    return (
        f"No speed tried was even; the fastest, {best['speed_km_h']:g} km/h, left "
        f"{best['fitted_cm']:.0f} cm. Try a faster run if the surface stays level."
    )


def _short_cm(ground: Ground) -> float:
    """Return how much shallower than planned the legs ran, mean of the pits [cm]."""
    return float((ground.pits["depth_cm"] - ground.pits["loosened_at_leg_cm"]).mean())


def _depth(ground: Ground) -> Iterator[Step]:
    """Pins first where the legs ran shallow; then the plan, for the base or for the ridge."""
    short, ridge = _short_cm(ground), float(ground.facts["ridge_cm"])
    if short >= rule("set_depth_tolerance_cm"):
        text = (
            f"The legs ran {short:.0f} cm shallower than planned: check {_control(ground)}, the "
            "roller and the frame level, then dig again before changing the plan."
        )
    elif ground.state == "leg_only" and not ridge <= wanted_ridge_cm():
        text = (
            "Only if a faster run does not do it: plan again with the trial runs, whose ridge is "
            "then added to the depth once. It costs draft and fuel on every metre."
        )
    else:
        bound = how_deep(ground.zones, _gap_cm(ground), ground.machine)
        text = (
            f"The legs ran as planned and the pan goes deeper. {bound} Add what the pits showed of "
            "the base to the readings, and plan again."
        )
    yield "depth", text


def _gap_cm(ground: Ground) -> float:
    """Return how far the pits that missed lie above the pan base, mean; NaN if not known [cm]."""
    where = "leg" if ground.state == "not_reached" else "between"
    column = "loosened_at_leg_cm" if where == "leg" else "loosened_between_cm"
    missed = ground.pits[ground.pits[f"chance_{where}"] < 0.5]
    return float((missed["base_cm"] - missed[column]).mean())


def _control(ground: Ground) -> str:
    return "the pins" if ground.machine.depth_control == "pins" else "the depth control"


def _shallower(ground: Ground) -> Iterator[Step]:
    deep = ground.pits[ground.pits["verdict"] == "too_deep"]
    over = float((deep["loosened_between_cm"] - deep["base_cm"]).mean()) - rule("too_deep_cm")
    step = ground.machine.depth_step_cm
    up = step * max(1, int(over // step))
    beyond = -_short_cm(ground)
    why = (
        f"The legs ran {beyond:.0f} cm deeper than planned: check {_control(ground)}"
        if beyond >= rule("set_depth_tolerance_cm")
        else f"Set about {up:g} cm shallower, or add readings here so that the plan need not "
        "insure against a base it does not know"
    )
    text = (
        f"{why}. Deeper than {rule('too_deep_cm'):.0f} cm below the pan costs draft and can press "
        "the soil below."
    )
    yield "depth", text


def _metal(ground: Ground) -> Iterator[Step]:
    wings = " and wings" if ground.machine.point == "winged" else ""
    told = ground.fast_no_better
    why = f"The pits of the faster runs show no less of a ridge ({told}). " if told else ""
    worn = "worn or shorter ones break less soil. Change them in sets."
    text = f"{why}Look at the points{wings}: {worn}"
    yield "points", text
    options = "closer legs, " + ("" if ground.machine.point == "winged" else "winged points, ")
    text = (
        f"Then spacing: {options}or a second pass half a spacing aside "
        f"(legs stand {ground.machine.leg_spacing_cm:g} cm apart)."
    )
    yield "spacing", text


def _keep(ground: Ground) -> Iterator[Step]:
    ridge = float(ground.facts["ridge_cm"])
    even = f", ridge {ridge:.0f} cm" if np.isfinite(ridge) else ""
    text = (
        f"Keep speed and setting ({ground.speed_words}{even}); dig again where the depth changes."
    )
    yield "keep", text

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

from zoning.checks.asked import asked_pits
from zoning.checks.caps import held_name, past_caps, past_words, stop_words
from zoning.checks.deeper import how_deep
from zoning.checks.ground import Ground
from zoning.checks.groups import FIELD
from zoning.checks.metal import metal_steps
from zoning.checks.pits import JUDGED
from zoning.checks.rules import rule
from zoning.checks.speed import Step, speed_steps
from zoning.checks.trials import wanted_ridge_cm
from zoning.model.check import RidgeCurve
from zoning.model.settings import MachineSection

STEPS = (
    "stop", "locate", "look", "dig", "speed", "depth", "points", "spacing", "soil", "keep", "hold",
)  # fmt: skip
"""The steps in order: stop, know first, then the least costly change first."""
CHANGES = ("stop", "speed", "depth", "points", "spacing", "soil")
"""Steps that ask for something to be done otherwise."""

LIFTED = "the lifted ground"
"""What ground is called in the advice where the plan lifts the legs out."""
_SOIL = "If none of this helps, wait for drier soil: test a thread of it at working depth."
_SHALLOW = "cm shallower than planned: check"
_LOCATE = "Have services located before a leg goes that deep again: the ground is NOT CLEARED."


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
    # Work of another season asks for nothing now.
    pits = pits[pits["verdict"] != "not_judged"]
    by_depth = {
        name: _in_order(_ground(facts, pits, curve, machine, zones))
        for name, facts in groups[groups["group"] != "part"].set_index("name").iterrows()
    }
    by_depth |= _lifted(pits, zones)
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
    """Return the steps in order: pins before speed where the legs ran shallow; scraps only stop."""
    steps = list(_steps(ground))
    if ground.name != FIELD and ground.facts["area_ha"] < rule("dig_least_ha"):
        steps = [step for step in steps if step[0] == "stop"]
    pins = any(name == "depth" and _SHALLOW in text for name, text in steps)
    moved = {"speed": STEPS.index("depth") + 0.5} if pins else {}
    return sorted(steps, key=lambda step: moved.get(step[0], STEPS.index(step[0])))


def _lifted(pits: pd.DataFrame, zones: pd.DataFrame) -> dict[object, list[Step]]:
    """Return the advice for ground lifted out, but not for a hazard, whose pits show a pan."""
    text = pan_where_lifted(pits, zones)
    return {LIFTED: [("depth", text)]} if text else {}


def pan_where_lifted(pits: pd.DataFrame, zones: pd.DataFrame) -> str:
    """Return what pits say of a pan where the plan, and no hazard, lifts the legs out; or blank."""
    for_hazard = zones.loc[zones["cap_cm"] <= 0, "zone"]
    unworked = (pits["verdict"] == "lifted_out") & ~(pits["loosened_at_leg_cm"] > 0)
    own = pits[unworked & (pits["pan"] == "yes") & ~pits["zone"].isin(for_hazard)]
    if own.empty:
        return ""
    one = len(own) == 1
    return (
        f"Pit{'' if one else 's'} {_listed(own['pit'].tolist())} found a pan where the plan lifts "
        "the legs out: the plan is wrong here. This ground was not worked, so enter "
        f"{'it as a pit' if one else 'them as pits'} of phase before and plan again."
    )


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
        stops = (step for step in _stops(dug, own) if step[0] == "stop")
        steps = [*stops, ("hold", _hold(own, dug, depth, by))]
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
    """Return what makes a step the same as another: a speed is asked for once, for all depths.

    So are the same number of pits beside the same pits.
    """
    name, text = step
    return name, {"speed": "", "dig": text.partition(":")[0]}.get(name, text)


def _steps(ground: Ground) -> Iterator[Step]:
    yield from _stops(ground.pits, ground.zones)
    yield from _too_wet(ground.pits)
    worked = _on_open(ground.pits, ground.zones)
    judged = replace(ground, pits=worked[worked["verdict"].isin(JUDGED)])
    if ground.all_not_cleared:
        yield "locate", _LOCATE
    yield from _shallow_pits(judged)
    yield from asked_pits(ground.facts)
    yield from _changes(judged)


def _stops(pits: pd.DataFrame, zones: pd.DataFrame) -> Iterator[Step]:
    deep = past_caps(pits, zones)
    for pit in deep.to_dict("records"):
        past = past_words(pit["loosened_at_leg_cm"], pit["cap_cm"], pit["cap_by"])
        yield ("stop", stop_words(pit)) if pit["far"] else ("look", f"Pit {pit['pit']}: {past}")


def _too_wet(pits: pd.DataFrame) -> Iterator[Step]:
    plastic = pits.loc[pits["moisture"] == "plastic", "pit"]
    if len(plastic):
        text = (
            f"Stop and wait for drier soil: it was plastic in pit {', '.join(plastic)}, and no "
            "setting loosens plastic soil."
        )
        yield "stop", text


def _shallow_pits(ground: Ground) -> Iterator[Step]:
    """Yield the pits whose leg ran shallow while the others kept the depth."""
    short = ground.pits["depth_cm"] - ground.pits["loosened_at_leg_cm"]
    far = rule("single_leg_shallow_cm")
    own = ground.pits[short >= far]
    if own.empty or ground.ran_short:
        return
    facts = zip(own["pit"], short[short >= far], strict=True)
    told = _listed([f"{pit} ({cm:.3g} cm)" for pit, cm in facts])
    text = (
        f"Pit{'' if len(own) == 1 else 's'} {told}: the leg ran shallower than planned, though "
        f"most did not. Check {_control(ground)} and the frame level on that run."
    )
    yield "look", text


def _changes(ground: Ground) -> Iterator[Step]:
    state, ridge = ground.state, float(ground.facts["ridge_cm"])
    missed = state in ("leg_only", "not_reached")
    ridged = missed and not ridge <= wanted_ridge_cm()
    uneven = ridge >= rule("ridge_uneven_cm") or ground.slow_pits_uneven
    shallow = missed and ground.ran_short
    # Between legs that ran shallow a moderate ridge says nothing of the speed yet.
    asks = uneven or (ridged and not shallow) or bool(ground.slow_pits_even)
    speed = list(speed_steps(ground)) if asks else []
    yield from speed
    if missed and (shallow or not ground.slow_pits_even):
        yield from _depth(ground, faster=bool(speed))
    if state == "too_deep":
        yield from _shallower(ground)
    if not ground.slow_pits_even:
        if (ridged and not (shallow and not uneven)) or ground.fast_no_better:
            yield from metal_steps(ground)
        if missed or ground.fast_no_better:
            yield "soil", _SOIL
    if state == "reached" and not ground.slow_pits_uneven and not ground.fast_no_better:
        yield from _keep(ground)


def _depth(ground: Ground, *, faster: bool) -> Iterator[Step]:
    """Pins first where the legs ran shallow; then the plan, for the base or for the ridge."""
    if ground.ran_short:
        text = (
            f"The legs ran {ground.short_cm:.0f} {_SHALLOW} "
            f"{_control(ground)}, the roller and the frame level, then dig again before changing "
            "the plan or the speed."
        )
    elif ground.state == "leg_only" and not ground.facts["ridge_cm"] <= wanted_ridge_cm():
        start = "Only if a faster run does not do it: plan" if faster else "Plan"
        runs = "the trial runs" if faster or len(ground.curve.speeds) else "a trial run"
        text = (
            f"{start} again with {runs}, whose ridge is then added to the depth once. It costs "
            "draft and fuel on every metre."
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
    beyond = -ground.short_cm
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


def _keep(ground: Ground) -> Iterator[Step]:
    ridge = float(ground.facts["ridge_cm"])
    even = f", ridge {ridge:.0f} cm" if np.isfinite(ridge) else ""
    text = (
        f"Keep speed and setting ({ground.speed_words}{even}); dig again where the depth changes."
    )
    yield "keep", text

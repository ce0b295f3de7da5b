"""What to do, the least costly first: speed, depth or pins, points and wings, spacing, dry soil.

The order is that of common practice: a faster gear costs nothing, drier soil costs days. To dig
under a ridge that is not even comes behind points and spacing, whatever else is told. Where the
plan warns that foot or spacing does not carry the depth, that comes before the speed, unless runs
or pits show a speed that leaves even work, here or elsewhere: what was measured outranks a rule. A
step that pits or trial runs rule out is left out; what must stop at once comes before all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from zoning.checks.asked import asked_date, asked_pits
from zoning.checks.changes import asks, changes
from zoning.checks.ground import Ground
from zoning.checks.groups import FIELD, tally
from zoning.checks.held import held_steps
from zoning.checks.kept import left_between, worked_again
from zoning.checks.looks import (
    FAST,
    diving,
    floating,
    lifted,
    missed_strips,
    questioned,
    settled_cm,
    stops,
    too_wet,
    unmeasured,
)
from zoning.checks.part_apart import (
    alone_in,
    less_told,
    parts_apart,
    runs_below,
    sped,
    told_below,
)
from zoning.checks.ran import of_plan, settable
from zoning.checks.rules import rule
from zoning.checks.speed import names_speed
from zoning.checks.steps import CHANGES, MISSED, OWN_SPEED, STEPS, Step, is_change
from zoning.contracts import NOT_CLEARED, joined
from zoning.model.check import JUDGED, RidgeCurve
from zoning.model.settings import MachineSection

LIFTED = "the lifted ground"
"""What ground is called in the advice where the plan lifts the legs out."""
_ONLY = "Change only {}, as below."
_BUT = "Change {}, as below; see to pits named above."
_SO_FAR = (
    "So far pits ask for a change only at {}, as below; they are too few to say so of the rest: "
    "dig the pits asked for before you rely on it."
)
_SPEED_APART = {
    "keep": "Keep the depth here; the speed is a matter of the whole field.",
    "so_far": "So far the pits ask for no other depth; the speed is a matter of the whole field.",
}
"""What stands at a depth that is kept, beside a speed for the whole field."""
COLUMNS = ("where", "order", "step", "text", "zones")
_DONE = ("reached", "too_deep")


def advise(
    groups: pd.DataFrame,
    pits: pd.DataFrame,
    curve: RidgeCurve,
    machine: MachineSection,
    zones: pd.DataFrame,
    strikes: pd.Series | None = None,
    withdrawn: pd.DataFrame | None = None,
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
        Those of `zoning.checks.bounded`, with what is known of ``work_speed_km_h`` (the fastest
        that the tractor pulls), ``foot_narrow`` and ``legs_wide`` (what the plan warns of).
    strikes
        What is asked at once of a pit worked within a keep-off, in words, by the name of the pit.
    withdrawn
        The pits that were withdrawn, as `zoning.checks.tried`.

    Returns
    -------
    DataFrame
        What holds for the whole field is said once; a depth has only what differs.
        ``where, order`` (from 1 in each place, the least costly first), ``step, text`` and
        ``zones``: those that a step is for, none where it is for all of the ground. No depth is
        named that lies beyond what bounds any zone of the ground it is named for.
    """
    # Work of another season asks for nothing now.
    pits = pits[pits["of_work"].astype(bool)]
    struck = {} if strikes is None else strikes.to_dict()
    pits = pits.assign(strike=[struck.get(pit, "") for pit in pits["pit"]])
    own = groups[groups["group"] != "part"].set_index("name")
    grounds = [_ground(facts, pits, curve, machine, zones) for _, facts in own.iterrows()]
    if withdrawn is not None:
        # A plan drives slower where it works deeper: a depth goes by what was tried at it.
        at = withdrawn["depth_cm"]
        grounds = [replace(own, tried=withdrawn[at.isin(own.zones["depth_cm"])]) for own in grounds]
    parts = parts_apart([_set(ground) for ground in grounds])
    grounds = _after_speed(grounds, parts)
    field, *depths = grounds[: len(own)]
    by_part = {ground.name: _of_part(ground) for ground in grounds[len(own) :]}
    apart = _pits_of([ground for ground in parts if by_part[ground.name]])
    own_steps = {own.name: _in_order(replace(own, told_apart=apart)) for own in depths}
    alone = {own: part for own in depths for part in alone_in(_set(own)) if by_part[part.name]}
    own_steps |= {own.name: less_told(own_steps[own.name], _set(own)) for own in alone}
    missed = [own for own in depths if _set(own).state in MISSED and own not in alone]
    changed = [own for own in depths if is_change(own_steps[own.name])]
    apart |= _pits_of([own for own in changed if own in missed])
    field = replace(field, told_apart=apart | sped(map(_set, changed)))
    whole = _in_order(field)
    runs = runs_below(_set(field), whole, [(_set(own), own_steps[own.name]) for own in missed])
    if runs:
        after = f"If the runs asked for {joined(runs)} below do not do it"
        later = _in_order(replace(field, after_speed=after))
        whole = [step for step in later if step.name != "speed"]
    if told_below(_set(field), [*map(_set, depths)], [*alone.values()]):
        whole = less_told(whole, _set(field))
    by_place = {FIELD: whole} | own_steps | by_part
    # A speed that a depth alone names, or alone holds, stands with it, whatever the field tries.
    names_own = {ground.name for ground in grounds if ground.after_speed == OWN_SPEED}
    if steps := lifted(pits, zones):
        by_place[LIFTED] = steps
    rows: list[tuple[object, ...]] = []
    said: set[tuple[str, str]] = set()
    for name, steps in _agreeing(by_place, groups).items():
        always = ("stop", "pins", "speed") if name in names_own else ("stop", "pins")
        new = [step for step in steps if step.name in always or _gist(step) not in said]
        said |= {_gist(step) for step in steps} if name == FIELD else set()
        rows += [(name, number, *step) for number, step in enumerate(new, 1)]
    for name, steps in held_steps(zones, pits):
        rows += [(name, number, *step) for number, step in enumerate(steps, 1)]
    return pd.DataFrame(rows, columns=list(COLUMNS))


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
    same = zones[zones["depth_cm"] == facts["depth_cm"]]
    return Ground(name, facts, _on_open(pits, same), curve, machine, same)


def _on_open(pits: pd.DataFrame, zones: pd.DataFrame) -> pd.DataFrame:
    """Return the pits in `zones`, less those where a hazard holds the work."""
    return pits[pits["zone"].isin(zones.loc[~zones["held"].to_numpy(dtype=bool), "zone"])]


def _pits_of(grounds: list[Ground]) -> frozenset[str]:
    return frozenset(str(pit) for ground in grounds for pit in ground.pits["pit"])


def _after_speed(grounds: list[Ground], parts: list[Ground]) -> list[Ground]:
    """Return the ground with when its points are due, by the speeds named there and elsewhere.

    Behind the `grounds` come the `parts` that are told apart.
    """
    asking = [own for own in map(_set, [*grounds, *parts]) if asks(own)]
    named = {own.name: own for own in asking if names_speed(own)}
    holds = {name: own.holds(own.named_km_h) for name, own in named.items()}
    field_km_h = named[FIELD].named_km_h if FIELD in named else np.nan
    slows = FIELD in named and bool(np.isfinite(named[FIELD].slower_km_h))
    apart = joined([name for name in holds if name != FIELD])
    # Where the work goes on at a speed already, no depth names it as new.
    goes_on = any(own.name == FIELD and own.drives_even for own in map(_set, grounds))
    told = []
    for ground in [*grounds, *parts]:
        # Of a speed that the whole field names, a depth speaks only where it alone holds that.
        alone = holds.get(ground.name, False) and not holds.get(FIELD, goes_on)
        first = ground.name == FIELD or not (goes_on or FIELD in holds)
        when = ""
        if alone or (first and ground.name in holds):
            when = OWN_SPEED
        elif FIELD in holds or (goes_on and ground.name in holds):
            when = "If the speed of the whole field does not do it"
        elif ground.name == FIELD and holds:
            when = f"If the speed named for {apart} below does not do it"
        told.append(replace(ground, after_speed=when, field_km_h=field_km_h, field_slows=slows))
    done = settled_cm(grounds, [_set(ground) for ground in grounds])
    return [replace(ground, settled_cm=done) for ground in told]


def _scrap(ground: Ground) -> bool:
    """Return whether a depth is worked on so little that it is only told to stop."""
    return ground.name != FIELD and bool(ground.facts["area_ha"] < rule("dig_least_ha"))


def _of_part(ground: Ground) -> list[Step]:
    """Return what a part that is told apart asks to change, for the zones that it lies in."""
    zones = tuple(sorted(int(zone) for zone in ground.zones["zone"]))
    asked = [step for step in _in_order(ground) if step.name in CHANGES and step.name != "stop"]
    return [step._replace(zones=zones) for step in asked]


def _in_order(ground: Ground) -> list[Step]:
    """Return the steps in order; scraps only stop.

    Pins come before all other changes where the legs ran shallow. Points that come first by their
    words stand first, behind what stops the work and what must be located. Where the plan warns of
    the spacing and no speed was measured to leave even work, that comes before the speed.
    """
    steps = list(_steps(ground))
    if _scrap(ground):
        steps = [step for step in steps if step.name == "stop"]
    order, change = list(STEPS), "speed"  # the first of the changes
    if (ground.foot_narrow_cm or ground.legs_wide_cm) and not ground.after_speed:
        change = "points"
        _move(order, "points", before="drive" if ground.foot_narrow_cm else "speed")
        _move(order, "spacing", before="speed")
    own = _set(ground)
    if own.state in MISSED and (own.ran_short or own.missed_for_short):
        _move(order, "depth", before=change)
    return sorted(steps, key=lambda step: order.index(step.name))


def _move(order: list[str], step: str, *, before: str) -> None:
    """Move a step to the place right before another."""
    order.remove(step)
    order.insert(order.index(before), step)


def _agreeing(by_place: dict[str, list[Step]], groups: pd.DataFrame) -> dict[str, list[Step]]:
    """Return the steps of each place, none that keeps what another changes."""
    whole = by_place.get(FIELD, [])
    changed = [name for name, steps in by_place.items() if name != FIELD and is_change(steps)]
    parts = set(changed) - {*groups["name"], LIFTED}
    pinned = any(step.name == "pins" for steps in by_place.values() for step in steps)
    faster = any(step.name == "speed" for step in whole)
    stopped = any(step.name == "stop" for steps in by_place.values() for step in steps)
    keeps = not changed and any(step.name == "keep" and step.text for step in whole)
    told = {}
    for name, steps in by_place.items():
        hushed: tuple[str, ...] = ("so_far",) if keeps and name != FIELD else ()
        # Beside a part that is told apart the whole field says that nothing else is changed.
        hushed = ("keep", "so_far") if stopped or (parts and name != FIELD) else hushed
        kept = [step for step in steps if step.name not in hushed]
        for at, (last, text, _) in enumerate(kept):
            if name == FIELD and changed and last in _SPEED_APART:
                rest = "" if pinned else _rest(groups, changed, _ONLY if text else _BUT)
                kept[at] = Step(last, rest.format(joined(changed)))
            if name != FIELD and faster and last in _SPEED_APART and text:
                kept[at] = Step(last, _SPEED_APART[last])
        told[name] = [step for step in kept if step.text]
    return told


def _rest(groups: pd.DataFrame, changed: list[str], only: str) -> str:
    """Return `only` where the rest of the field was reached, else whether it asks for pits."""
    field = groups[groups["group"] == "field"].iloc[0]
    rest = groups[(groups["group"] == "depth") & ~groups["name"].isin(changed)]
    rest = rest[rest["area_ha"] >= rule("dig_least_ha")]
    if field["verdict"] in _DONE:
        return only
    if field["unseen"] or (rest["more_pits"] > 0).any():
        return _SO_FAR
    return only if len(rest) and rest["verdict"].isin(_DONE).all() else ""


def _gist(step: Step) -> tuple[str, str]:
    """Return what makes a step the same as another: a speed is asked for once, for all depths.

    So are the same number of pits, and what single pits ask for: the whole field names them all.
    """
    head, _, tail = step.text.partition(":")
    gist = {"look": tail.partition(",")[0] + FAST * (FAST in tail), "dig": head}
    gist |= dict.fromkeys(("left", "speed", "locate", "drive", "points", "spacing"), "")
    return step.name, gist.get(step.name, step.text)


def _steps(ground: Ground) -> Iterator[Step]:
    if ground.name == FIELD:
        yield from asked_date(ground.pits)
    yield from stops(ground.pits, ground.zones)
    if ground.name == FIELD:
        yield from too_wet(ground.pits)
        yield from unmeasured(ground.pits)
    own, judged = _set(ground), _judged(ground)
    yield from _locate(ground)
    yield from missed_strips(judged, ground.zones)
    yield from questioned(replace(ground, pits=judged))
    yield from floating(own)
    yield from diving(own)
    yield from asked_pits(ground.facts)
    settled = ground.facts["verdict"] == "reached"
    if ground.name == FIELD:
        yield from worked_again(own)
    if own.state not in MISSED:
        yield from left_between(own)
    yield from changes(own, settled=settled)


def _judged(ground: Ground) -> pd.DataFrame:
    open_pits = _on_open(ground.pits, ground.zones)
    return open_pits[open_pits["verdict"].isin((*JUDGED, "questioned"))]


def _set(ground: Ground) -> Ground:
    """Return the ground as the pits show it that say something of the setting.

    No missed strip does, no plastic soil, no pit older than the plan, nor one that only a shallow
    leg kept from the base.
    """
    judged = _judged(ground)
    own = replace(ground, pits=judged[settable(judged) & of_plan(judged)])
    if len(own.telling) == len(judged):
        return own
    found = tally(own.telling)
    facts = ground.facts.copy()
    facts["verdict"], facts["so_far"] = found.verdict, found.so_far
    return replace(own, facts=facts)


def _locate(ground: Ground) -> Iterator[Step]:
    if told := [f"{depth:g} cm" for depth in ground.not_cleared_cm]:
        text = (
            f"Have services located before a leg goes {_deeper_than(ground.zones)}: the ground at "
            f"{joined(told)} is NOT CLEARED."
        )
        own = ground.zones[ground.zones["cleared"] == NOT_CLEARED]
        yield Step("locate", text, tuple(int(zone) for zone in own["zone"]))


def _deeper_than(zones: pd.DataFrame) -> str:
    """Return what asks for located services, in words."""
    notice_cm = float(zones["notice_cm"].min()) if "notice_cm" in zones else np.inf
    return f"deeper than {notice_cm:g} cm (notice_depth_cm)" if notice_cm < np.inf else "that deep"

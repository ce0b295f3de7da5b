"""What to do, the least costly first: speed, depth or pins, points and wings, spacing, dry soil.

The order is that of common practice: a faster gear costs nothing, drier soil costs days. A step
that the pits or the trial runs rule out is left out; a step is given with what it rests on.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from zoning.checks.groups import FIELD
from zoning.checks.pits import JUDGED
from zoning.checks.rules import rule
from zoning.checks.trials import ROUGH, ridge_at_cm, ridge_curve, wanted_ridge_cm
from zoning.model.check import RidgeCurve
from zoning.model.settings import MachineSection

STEPS = ("dig", "speed", "depth", "points", "spacing", "soil", "keep")
"""The steps in order: know first, then the least costly change first."""

Step = tuple[str, str]
_FEWER_LEGS = "Where the tractor cannot hold that, try fewer legs at full speed."


@dataclass(frozen=True, slots=True, eq=False)
class _Ground:
    """One piece of ground to advise on."""

    name: str
    facts: pd.Series
    pits: pd.DataFrame
    curve: RidgeCurve
    machine: MachineSection

    @property
    def state(self) -> str:
        """The verdict, or what most pits show so far."""
        verdict = str(self.facts["verdict"])
        return str(self.facts["so_far"]) if verdict == "cannot_tell" else verdict

    @property
    def speed_km_h(self) -> float:
        """The slowest speed noted at the pits, or that of the settings."""
        noted = float(self.pits["speed_km_h"].min())
        return noted if np.isfinite(noted) else self.machine.speed_km_h

    @property
    def speed_words(self) -> str:
        """The speed at the pits, or from the slowest to the fastest."""
        fastest = float(self.pits["speed_km_h"].max())
        to = f" to {fastest:g}" if fastest > self.speed_km_h else ""
        return f"{self.speed_km_h:g}{to} km/h"

    @property
    def of_pits(self) -> RidgeCurve:
        """The ridge against speed as the pits show it, as if each were a trial run."""
        named = {"pit": "run", "depth_cm": "depth_setting_cm"}
        return ridge_curve(self.pits.rename(columns=named).assign(surface=""))

    @property
    def slow_pits_uneven(self) -> bool:
        """Whether the pits, without trial runs, show an even speed and uneven work below it."""
        seen = self.of_pits
        uneven = seen.speeds["fitted_cm"].ge(rule("ridge_uneven_cm")).any()
        return self.curve.speeds.empty and seen.slowest_even_km_h is not None and bool(uneven)

    @property
    def fast_enough(self) -> bool:
        """Whether the speed is one that trial runs found to be even."""
        slowest = self.curve.slowest_even_km_h
        return slowest is not None and self.speed_km_h >= slowest - 0.05


def advise(
    groups: pd.DataFrame, pits: pd.DataFrame, curve: RidgeCurve, machine: MachineSection
) -> pd.DataFrame:
    """Return the advice for the whole field and for each depth.

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

    Returns
    -------
    DataFrame
        What holds for the whole field is said once; a depth has only what differs.
        ``where, order`` (from 1 in each place, the least costly first) and ``step, text``.
    """
    judged = pits[pits["verdict"].isin(JUDGED)]
    rows: list[tuple[str, int, str, str]] = []
    for _, facts in groups[groups["group"] != "part"].iterrows():
        name = str(facts["name"])
        own = judged if name == FIELD else judged[judged["depth_cm"].map("{:g} cm".format) == name]
        ground = _Ground(name, facts, own, curve, machine)
        steps = sorted(_steps(ground), key=lambda step: STEPS.index(step[0]))
        said = {_gist(row[2:]) for row in rows if row[0] == FIELD}
        new = [step for step in steps if _gist(step) not in said]
        rows += [(name, number, *step) for number, step in enumerate(new, 1)]
    return pd.DataFrame(rows, columns=["where", "order", "step", "text"])


def _gist(step: Step) -> Step:
    """Return what makes a step the same as another: a speed is asked for once, for all depths."""
    name, text = step
    return name, "" if name == "speed" else text


def _steps(ground: _Ground) -> Iterator[Step]:
    yield from _dig(ground)
    state, ridge = ground.state, float(ground.facts["ridge_cm"])
    missed = state in ("leg_only", "not_reached")
    uneven = ridge >= rule("ridge_uneven_cm") or ground.slow_pits_uneven
    if uneven or (missed and not ridge <= wanted_ridge_cm()):
        yield from _speed(ground)
    if missed:
        yield from _depth(ground)
    if state == "too_deep":
        yield from _shallower(ground)
    if missed and not ridge <= wanted_ridge_cm():
        yield from _metal(ground)
    if missed:
        yield "soil", _soil(ground)
    if state == "reached" and not ground.slow_pits_uneven:
        yield from _keep(ground)


def _dig(ground: _Ground) -> Iterator[Step]:
    if ground.facts["verdict"] != "cannot_tell":
        return
    more, pits = int(ground.facts["more_pits"]), int(ground.facts["pits"])
    if more < 0:
        yield "dig", "The pits disagree too much for further digging to settle it: look for why."
        return
    plural = "" if more == 1 else "s"
    so_far = f" ({pits} so far)" if pits else ""
    yield "dig", f"Dig {more} more pit{plural}{so_far}: that many settle it if they agree."


def _speed(ground: _Ground) -> Iterator[Step]:
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


def _faster_as_pits(ground: _Ground) -> str:
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


def _short_cm(ground: _Ground) -> float:
    """Return how much shallower than planned the legs ran, mean of the pits [cm]."""
    return float((ground.pits["depth_cm"] - ground.pits["loosened_at_leg_cm"]).mean())


def _depth(ground: _Ground) -> Iterator[Step]:
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
        text = (
            f"The legs ran as planned and the pan goes deeper: set about {_deeper_cm(ground):g} cm "
            "deeper here within the caps on the map, add what the pits showed of the base to the "
            "readings, and plan again."
        )
    yield "depth", text


def _deeper_cm(ground: _Ground) -> float:
    """Return how much deeper to set, in whole steps of the machine [cm]."""
    where = "leg" if ground.state == "not_reached" else "between"
    column = "loosened_at_leg_cm" if where == "leg" else "loosened_between_cm"
    missed = ground.pits[ground.pits[f"chance_{where}"] < 0.5]
    gap = float((missed["base_cm"] - missed[column]).mean())
    step = ground.machine.depth_step_cm
    return step * max(1, int(np.ceil(gap / step))) if np.isfinite(gap) else step


def _control(ground: _Ground) -> str:
    return "the pins" if ground.machine.depth_control == "pins" else "the depth control"


def _shallower(ground: _Ground) -> Iterator[Step]:
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


def _metal(ground: _Ground) -> Iterator[Step]:
    wings = " and wings" if ground.machine.point == "winged" else ""
    text = f"Look at the points{wings}: worn or shorter ones break less soil. Change them in sets."
    yield "points", text
    options = "closer legs, " + ("" if ground.machine.point == "winged" else "winged points, ")
    text = (
        f"Then spacing: {options}or a second pass half a spacing aside "
        f"(legs stand {ground.machine.leg_spacing_cm:g} cm apart)."
    )
    yield "spacing", text


def _soil(ground: _Ground) -> str:
    plastic = ground.pits.loc[ground.pits["moisture"] == "plastic", "pit"]
    if len(plastic):
        return (
            f"Stop and wait for drier soil: it was plastic in pit {', '.join(plastic)}, and no "
            "setting loosens plastic soil."
        )
    return "If none of this helps, wait for drier soil: test a thread of it at working depth."


def _keep(ground: _Ground) -> Iterator[Step]:
    ridge = float(ground.facts["ridge_cm"])
    even = f", ridge {ridge:.0f} cm" if np.isfinite(ridge) else ""
    text = (
        f"Keep speed and setting ({ground.speed_words}{even}); dig again where the depth changes."
    )
    yield "keep", text

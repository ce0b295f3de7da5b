"""What the user must be told about the depths chosen."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.model import Notice
from zoning.units import hectares

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Facts:
    """What the remarks are made from, one value a place unless said.

    Parameters
    ----------
    area_m2
        Area [m2].
    needed_cm
        Depth of least expected loss, free of steps and limits [cm].
    cap_cm
        Deepest setting that the hazards leave, 0 for none [cm].
    depth_cm
        Working depth as driven [cm].
    deepest_cm
        Deepest setting of the machine [cm].
    lift_out
        Whether legs may be lifted out.
    min_run_m
        Shortest run [m].
    short_worked_m
        Lengths of the worked runs that hazards make shorter [m].
    slivers_m2
        Ground of worked runs that were lifted because a machine hardly sinks on them [m2].
    proven
        Whether no other set of as many depths is better along the passes.
    left_out_m2
        Ground of each depth that was left out as not worth a setting of its own [m2].
    pan_met
        Whether any reading met a pan; where none did, it is told why nothing is worked.
    patches_m2
        Ground of each patch of work that was not worth going to [m2].
    """

    area_m2: Floats
    needed_cm: Floats
    cap_cm: Floats
    depth_cm: Floats
    deepest_cm: float
    lift_out: bool
    min_run_m: float
    short_worked_m: tuple[float, ...]
    slivers_m2: float
    proven: bool
    left_out_m2: Mapping[float, float]
    pan_met: bool
    patches_m2: tuple[float, ...]

    def told_area(self, where: NDArray[np.bool_]) -> str:
        """Return the area of the places in words."""
        return hectares(float(self.area_m2[where].sum()))


def remarks(facts: Facts) -> tuple[Notice, ...]:
    """Return the notices that the facts call for."""
    told = (*_hazards(facts), *_short(facts), *_not_worth(facts), *_patches(facts))
    return (*told, *_unproven(facts), *_idle(facts))


def _hazards(facts: Facts) -> Iterator[Notice]:
    reach = np.minimum(facts.needed_cm, facts.deepest_cm)
    held = (facts.cap_cm < facts.deepest_cm) & (facts.cap_cm < reach)
    if held.any():
        text = (
            f"On {facts.told_area(held)} hazards keep the work shallower than the pan needs, "
            "or out of the ground: the pan may stay there."
        )
        yield Notice("note", "hazards-limit-depth", text)
    lifted = facts.cap_cm == 0
    if lifted.any() and not facts.lift_out:
        text = (
            f"The legs must be lifted out on {facts.told_area(lifted)} about hazards, "
            "although lift_out is off: no setting of the machine is shallow enough there."
        )
        yield Notice("caution", "lifted-at-hazards", text)


def _short(facts: Facts) -> Iterator[Notice]:
    least_m = constant("depth_rules", "least_worked_m")
    told = []
    if worked := facts.short_worked_m:
        drive = "drive them as they stand"
        lift = f"stay lifted on those under {least_m:g} m"
        told.append(
            f"{len(worked)} worked {'run is' if len(worked) == 1 else 'runs are'} shorter than "
            f"{facts.min_run_m:g} m (min_run_m) near hazards, down to {min(worked):.0f} m: "
            f"{drive if min(worked) >= least_m else lift}."
        )
    if facts.slivers_m2 > 0:
        told.append(
            f"Work under {least_m:g} m beside a lift is left out ({hectares(facts.slivers_m2)}): "
            "the legs would hardly sink."
        )
    if told:
        yield Notice("note", "short-runs-at-hazards", " ".join(told))


def _not_worth(facts: Facts) -> Iterator[Notice]:
    for depth_cm, area_m2 in sorted(facts.left_out_m2.items()):
        text = (
            f"{depth_cm:g} cm would suit {hectares(area_m2)} best, but moving the pins for "
            "that costs more than it brings: it is worked at the other depths."
        )
        yield Notice("note", "depth-not-worth-setting", text)


def _patches(facts: Facts) -> Iterator[Notice]:
    if count := len(facts.patches_m2):
        what = "1 patch" if count == 1 else f"{count} patches"
        text = (
            f"{what} of {hectares(sum(facts.patches_m2))} in all would just pay for work, but "
            f"{'lies' if count == 1 else 'lie'} alone among lifted ground: going there costs more "
            "than it brings, and the legs stay lifted."
        )
        yield Notice("note", "patch-not-worth-going", text)


def _unproven(facts: Facts) -> Iterator[Notice]:
    if not facts.proven:
        text = (
            "The depths are the best set of those tried: on passes this many not every set could "
            "be, and another of as many depths may lose a little less."
        )
        yield Notice("note", "depths-not-proven", text)


def _idle(facts: Facts) -> Iterator[Notice]:
    if facts.pan_met and not facts.depth_cm.any():
        text = (
            "Nowhere on the field does working cost less than leaving the ground alone: the legs "
            "stay lifted out."
        )
        yield Notice("note", "nothing-to-loosen", text)

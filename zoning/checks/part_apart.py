"""Ground that its pits show not passed, though the rest was: a part of a depth, one depth."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from zoning.checks.ground import Ground
from zoning.checks.groups import tally
from zoning.checks.ran import base_passed
from zoning.checks.speed import OF_PITS, names_speed
from zoning.checks.steps import AT_DEPTH, MISSED, OWN_SPEED, Step


def parts_apart(grounds: Sequence[Ground]) -> list[Ground]:
    """Return the ground of each part and depth whose own pits settle that the pan was missed.

    To look there again, as at single pits, would change nothing: it is told what to change as a
    depth is. Where most pits of a depth, or of the field, missed, it is told as a whole; but see
    `alone_in`.

    Parameters
    ----------
    grounds
        The field and then each depth, with the pits that tell of the setting.
    """
    field, *depths = grounds
    found = []
    for ground in depths:
        if ground.state in MISSED:
            found += alone_in(ground)
        elif field.state not in MISSED:
            found += _missed_parts(ground)
    return found


def alone_in(ground: Ground) -> list[Ground]:
    """Return the one part of a depth where all its pits that missed are, and the others passed.

    However many they are: pits are dug most where the ground is thought to be the worst. None where
    the part's own pits do not settle it, no two others passed, or most pits of the depth passed.
    """
    if ground.state not in MISSED:
        return []
    parts = list(_missed_parts(ground))
    return parts if len(parts) == 1 and _others_passed(ground, parts) else []


def less_told(steps: Sequence[Step], ground: Ground) -> list[Step]:
    """Return steps less what is told of the depth or part that alone asks; a speed shown stays."""
    stays = ("speed",) if names_speed(ground) else ()
    return [step for step in steps if step.name in stays or step.name not in AT_DEPTH]


def sped(grounds: Iterable[Ground]) -> frozenset[str]:
    """Return the pits that a speed named where they are is to mend."""
    left = ((own, own.left) for own in grounds if own.after_speed == OWN_SPEED)
    return frozenset(
        str(pit) for own, pits in left for pit in pits.loc[own.told_with_speed(pits), "pit"]
    )


def _missed_parts(ground: Ground) -> Iterator[Ground]:
    pits = ground.telling
    for part, own in pits[pits["part"] != ""].groupby("part", sort=True):
        found = tally(own)
        if found.verdict in MISSED:
            facts = ground.facts.copy()
            facts["verdict"], facts["so_far"] = found.verdict, found.so_far
            zones = ground.zones[ground.zones["zone"].isin(own["zone"])]
            name = f"{ground.name} in the {part}"
            yield replace(ground, name=name, facts=facts, pits=own, zones=zones)


def told_below(field: Ground, depths: Sequence[Ground], alone: Sequence[Ground]) -> bool:
    """Return whether all that missed is told below, of one depth or of parts, and others passed.

    What to change is then not told of the whole field.

    Parameters
    ----------
    field, depths
        With the pits that tell of the setting.
    alone
        The parts told apart since they alone missed, as `alone_in`.
    """
    if alone and _others_passed(field, alone):
        return True
    settled = [own for own in depths if own.facts["verdict"] in MISSED]
    return field.state in MISSED and len(settled) == 1 and _others_passed(field, settled)


def _others_passed(ground: Ground, apart: Sequence[Ground]) -> bool:
    """Return whether there are pits beside those of ground told apart, and all of them passed."""
    told = {pit for own in apart for pit in own.pits["pit"]}
    others = ground.telling[~ground.telling["pit"].isin(told)]
    return len(others) > 1 and bool(base_passed(others["chance_between"]).all())


def runs_below(
    field: Ground, whole: Sequence[Step], missed: Sequence[tuple[Ground, Sequence[Step]]]
) -> list[str]:
    """Return the depths that are each told which faster runs to try, and the field is not.

    The pull falls with the depth and the work slows, so what was not tried at one depth was driven
    at another. Not where a speed is named for the field, nor where all that missed was driven alike
    or asks the same.

    Parameters
    ----------
    field, whole
        The whole field, and the steps it asks for.
    missed
        Each depth whose pits missed the pan, with its steps.
    """
    warned = field.foot_narrow_cm or field.legs_wide_cm  # what the plan warns of comes first
    if field.after_speed or warned or field.state == "reached":
        return []
    asked = {own.name: told for own, steps in missed for told in _runs(steps)}
    same = {own.fastest_km_h for own, _ in missed} == {field.fastest_km_h}
    alike = same or len({*asked.values(), *_runs(whole)}) == 1
    if len(asked) == len(missed) and alike and any(_runs(whole)):
        return []
    return list(asked)


def _runs(steps: Sequence[Step]) -> Iterator[str]:
    """Yield the runs that steps ask for, without at what speed their pits were."""
    yield from (step.text.partition(OF_PITS)[0] for step in steps if step.name == "speed")

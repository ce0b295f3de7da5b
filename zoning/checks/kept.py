"""To keep speed and setting: only where all of it speaks for that, and what is said where not."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from zoning.checks.ground import Ground
from zoning.checks.ran import steady
from zoning.checks.rules import rule
from zoning.checks.steps import Step
from zoning.checks.trials import evenness
from zoning.checks.words import pits_named
from zoning.contracts import joined
from zoning.units import least_to_most, tenths

_NOTHING_YET = "So far nothing asks for a change ({}); the pits are too few to rely on it."


def left_between(ground: Ground, *, settled: bool) -> Iterator[Step]:
    """Yield the pits not passed between the legs, on ground that most pits do not show so.

    Parameters
    ----------
    ground
        The ground, without its missed strips.
    settled
        Whether it has the verdict that it is reached, so that these pits are the exception.
    """
    own = ground.missed("between")
    if own.empty:
        return
    what = "Pan left" if own["pan"].eq("yes").all() else "Pan not passed"
    of = int(ground.pits["chance_between"].notna().sum())
    head = f"{what} between legs at {pits_named(own['pit'].tolist())} ({len(own)} of {of})"
    if settled:
        yield Step("look", f"{head}: the verdict allows for so few; look there again.", _zones(own))
        return
    text = (
        f"{head}{_loosened_to(own)}: do not keep the setting on this. Less of a ridge (speed, then "
        "points), or more depth where machine and hazards allow it, passes the pan; dig beside "
        "these pits first."
    )
    yield Step("left", text, _zones(own))


def unchanged(ground: Ground, *, settled: bool) -> Iterator[Step]:
    """Yield that speed and setting are kept, only where nothing speaks against that.

    On ground without the verdict that it is reached it is no more than what the pits ask so far.
    The words are blank where single pits ask for something: that is said of them.
    """
    single = list(_uneven_ridges(ground))
    yield from single
    even = f", ridge {tenths(ground.ridge_cm)} cm" if np.isfinite(ground.ridge_cm) else ""
    if not settled:
        clean = not (single or len(ground.afloat) or len(ground.missed("between")))
        yield Step("so_far", _NOTHING_YET.format(f"{ground.speed_words}{even}") if clean else "")
        return
    setting = "speed and setting" if ground.pits["set_cm"].notna().any() else "the speed"
    text = f"Keep {setting} ({ground.speed_words}{even}); dig again where the depth changes."
    yield Step("keep", "" if single or len(ground.afloat) else text)


def _loosened_to(pits: pd.DataFrame) -> str:
    """Return how deep pits were loosened between the legs and where the base lies, in words."""
    known = pits[pits["loosened_between_cm"].notna() & pits["base_cm"].notna()]
    if known.empty:
        return ""
    told = (least_to_most(known[name]) for name in ("loosened_between_cm", "base_cm"))
    return ", loosened {} cm deep there with the base at {} cm".format(*told)


def _uneven_ridges(ground: Ground) -> Iterator[Step]:
    """Yield the single pits with an uneven ridge, where the mean of them all is not."""
    own = steady(ground.pits)
    own = own[own["ridge_cm"] >= rule("ridge_uneven_cm")]
    if len(own):
        ran = [f" at {v:g} km/h" if np.isfinite(v) else "" for v in own["speed_km_h"]]
        facts = zip(own["pit"], own["ridge_cm"], ran, strict=True)
        told = joined([f"{pit} ({tenths(cm)} cm{at})" for pit, cm, at in facts])
        text = (
            f"Pit{'' if len(own) == 1 else 's'} {told}: an uneven ridge, though the mean is "
            f"{tenths(ground.ridge_cm)} cm ({evenness(ground.ridge_cm)}). Look at "
            "points and speed of that run before the setting is kept."
        )
        yield Step("look", text, _zones(own))


def _zones(pits: pd.DataFrame) -> tuple[int, ...]:
    return tuple(sorted({int(zone) for zone in pits["zone"]}))

"""To keep speed and setting: only where all of it speaks for that, and what is said where not."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from zoning.checks.deeper import clearance_of, how_deep
from zoning.checks.ground import Ground
from zoning.checks.groups import FIELD
from zoning.checks.looks import dug_beside, seen_below, seen_since, seen_twice
from zoning.checks.places import place_of
from zoning.checks.ran import base_missed, base_passed, doubted, floated_only, steady
from zoning.checks.rules import rule
from zoning.checks.slower import compared, same_km_h
from zoning.checks.steps import MISSED, Step
from zoning.checks.trials import evenness
from zoning.checks.words import pits_named
from zoning.contracts import joined
from zoning.units import least_to_most, tenths

_CURES = (
    " Less of a ridge ({}), or more depth where machine and hazards allow it, "
    "passes the pan: dig beside these pits before either."
)
_STAYS_BETWEEN = (
    " At {} a second look found the same: look there no more, a second pass half a spacing aside "
    "loosens what is left."
)
_GOES_DEEPER = (
    " At {} a second look found the base below the legs too: look there no more, the pan goes "
    "deeper there. {} Before you plan again add what they showed of the base to the readings, each "
    "as a further row of phase before (docs/howto/check.rst, Plan again)."
)
_NOTHING_YET = "So far the pits ask for no change ({}); they are too few to rely on it."


def left_between(ground: Ground) -> Iterator[Step]:
    """Yield the pits not passed between the legs, on ground that most pits do not show so.

    Where most places passed they are the exception, and nothing is changed for them; where most did
    not and legs floated, pins come before any other change. Pits that the speed of the whole field
    is to mend are told there.
    """
    own = _untold(ground)
    most = ground.facts["share_reached"] > rule("share_least")
    if own.empty or (floated_only(ground.pits).any() and not most):
        return
    what = "Pan left" if own["pan"].eq("yes").all() else "Pan not passed"
    where = "below the legs" if base_missed(own["chance_leg"]).all() else "between legs"
    head = f"{what} {where} at {_named(own)}{_all_in(own, ground.pits)}"
    passed = ground.pits[base_passed(ground.pits["chance_between"])]
    asked = _look_again(ground, own, passed)
    if not most:
        # Where the plan warns of the foot, points come first, as in the steps.
        first = "points, then speed" if ground.foot_narrow_cm else "speed, then points"
        cures = _CURES.format(first) if np.isnan(ground.field_km_h) else ""
        asked = f"do not keep the setting on this.{cures}"
    asked += dug_beside(own, passed, else_closed=most)
    yield Step("left", f"{head}{_loosened_to(own, where)}: {asked}", _zones(own))


def _look_again(ground: Ground, own: pd.DataFrame, passed: pd.DataFrame) -> str:
    """Return what is asked where most places passed: a look, and where that was had a remedy."""
    left = own.drop(seen_since(own, passed).index)
    twice = left[left.index.isin(seen_twice(own).index)]
    once = left.drop(twice.index)
    look = f"; look again at {_named(once)}" if len(once) else ""
    look = "; look there again" if len(once) == len(own) else look
    alike = _mostly_left(ground, own)
    look += (
        f", and in other runs of the {alike} (most places there show it)" if look and alike else ""
    )
    under = twice.index.isin(seen_below(own).index)
    told = _STAYS_BETWEEN.format(_named(twice[~under])) if len(twice[~under]) else ""
    if told and alike:
        told += (
            f" Most places of the {alike} show it: do so in all its runs, or dig in others first."
        )
    for _, pits in twice[under].groupby("depth_cm"):
        told += _GOES_DEEPER.format(_named(pits), _set_there(ground, pits))
    return f"most places{_of_field(ground)} passed{look}.{told}"


def _mostly_left(ground: Ground, own: pd.DataFrame) -> str:
    """Return the parts most of whose places, several, are among the pits `own`, in words."""
    pits = ground.telling[ground.telling["part"] != ""]
    place = place_of(pits[["x_m", "y_m"]].to_numpy(dtype=float))
    missed = pits.index.isin(own.index)
    facts = pd.DataFrame({"part": pits["part"], "place": place, "missed": missed})
    # Where the pits of a place disagree, most of them decide.
    left = facts.groupby(["part", "place"])["missed"].mean() > 0.5
    parts = left.groupby("part").agg(["sum", "size"])
    most = (parts["sum"] > 1) & (2 * parts["sum"] > parts["size"])
    return joined([str(part) for part in parts.index[most]])


def _set_there(ground: Ground, pits: pd.DataFrame) -> str:
    """Return the depth to set at the place of `pits` of one depth, or why none deeper may be."""
    zones = ground.zones[ground.zones["zone"].isin(pits["zone"])]
    lacks_cm = pits["base_cm"] - pits["loosened_at_leg_cm"]
    gap_cm = float(lacks_cm.quantile(rule("deeper_share"), interpolation="higher"))
    below_cm = clearance_of(zones)
    return how_deep(zones, gap_cm, ground.machine, clearance_cm=below_cm, where="there")


def worked_again(ground: Ground) -> Iterator[Step]:
    """Yield the pits whose change is done already where a pit beside, dug since, passed.

    Those that `left_between` names it tells of there.
    """
    own = ground.missed("between")
    if ground.state not in MISSED:
        own = own.drop(_untold(ground).index)
    passed = ground.pits[base_passed(ground.pits["chance_between"])]
    done = seen_since(own, passed)
    if text := dug_beside(done, passed, where="of the old pits").strip():
        yield Step("drive", text, _zones(done))


def _untold(ground: Ground) -> pd.DataFrame:
    """Return the pits not passed between the legs that no change is told of."""
    return ground.left[~ground.told_with_speed(ground.left)]


def _of_field(ground: Ground) -> str:
    """Return what a mean or share is of, in words, where a single zone is told it too."""
    return " of the field" if ground.name == FIELD else ""


def _all_in(own: pd.DataFrame, pits: pd.DataFrame) -> str:
    """Return the part that several pits `own` all lie in where other `pits` do not, in words."""
    parts = set(own["part"])
    if len(own) < 2 or len(parts) > 1 or "" in parts or set(pits["part"]) == parts:
        return ""
    return f", all in the {parts.pop()}"


def unchanged(ground: Ground, *, settled: bool) -> Iterator[Step]:
    """Yield that speed and setting are kept, only where nothing speaks against that.

    On ground without the verdict that it is reached it is no more than what the pits ask so far.
    The words are blank where single pits ask for something: that is said of them.
    """
    own = steady(ground.pits)
    uneven = own[own["ridge_cm"] >= rule("ridge_uneven_cm")]
    yield from _uneven_ridges(ground, uneven[~ground.told_with_speed(uneven)])
    even = ""
    if np.isfinite(ground.ridge_cm):
        even = f", ridge {tenths(ground.ridge_cm)} cm{_of_some(ground)}{_less_doubted(ground.pits)}"
    text = _NOTHING_YET.format(f"{ground.speed_words}{even}")
    if settled:
        words, km_h = _speed_kept(ground)
        yield from next_plan(ground, km_h)
        text = f"Keep {words}{even}); dig again where the depth changes."
    single = len(uneven) or len(ground.afloat) or len(ground.dived) or len(ground.left)
    yield Step("keep" if settled else "so_far", "" if single else text)


def next_plan(ground: Ground, km_h: float) -> Iterator[Step]:
    """Yield what the next plan must be told where the work goes on at another speed than its own.

    Of the whole field alone, since a plan has one speed; a speed of NaN says nothing.
    """
    if ground.name == FIELD and abs(km_h - ground.machine.speed_km_h) >= same_km_h():
        yield Step("next", f"Before you plan again set speed_km_h to {km_h:g}.")


def _speed_kept(ground: Ground) -> tuple[str, float]:
    """Return in words which speed is kept with the setting, and it; NaN of several or the plan's.

    Of several it is the planned one, or a faster one of the last day, or each depth's, or each
    part's where one ran faster only: a ridge at the planned speed was not seen there.
    """
    if ground.drives_even:
        return f"speed and setting ({ground.even_km_h:g} km/h", ground.even_km_h
    slowest, fastest = ground.speed_km_h, ground.fastest_km_h
    if slowest < fastest and compared(steady(ground.pits)).empty:
        return f"the setting and the speed of each depth (pits at {ground.speed_words}", np.nan
    if slowest < fastest and slowest <= ground.machine.speed_km_h <= fastest:
        return _kept_of_several(ground)
    same = slowest == fastest
    return f"speed and setting ({ground.speed_words}", slowest if same else np.nan


def _kept_of_several(ground: Ground) -> tuple[str, float]:
    own, faster_km_h = steady(ground.pits), ground.machine.speed_km_h + rule("speed_apart_km_h")
    known = own[(own["part"] != "") & (own["speed_km_h"] > 0)]
    ran = known.groupby("part")["speed_km_h"]
    if (ran.min() >= faster_km_h).any():
        told = joined([f"{part} {least_to_most(speeds)} km/h" for part, speeds in ran])
        return f"the setting and the speed that each part was driven at ({told}", np.nan
    last_km_h = _last_km_h(own)
    if last_km_h >= faster_km_h and ground.holds(last_km_h):
        told = f"({last_km_h:g} km/h, of {ground.speed_words}"
        return f"the setting and the speed of most of the last pits {told}", last_km_h
    return f"the setting and the speed of the plan (pits at {ground.speed_words}", np.nan


def _last_km_h(pits: pd.DataFrame) -> float:
    """Return the speed of most of the pits of the last day, of several the slowest [km/h].

    Where a slower speed left the pan and the ground was driven again, the slower pits that stand
    are those that passed: they say too much good of their speed.
    """
    ran = pits[pits["speed_km_h"] > 0]
    counts = ran.loc[ran["date"] == ran["date"].max(), "speed_km_h"].value_counts()
    return float(counts.index[counts == counts.max()].min())


def _of_some(ground: Ground) -> str:
    """Return how many pits show the ridge, in words, where the mean of all is another; or blank."""
    every_cm = float(ground.facts.get("ridge_cm", np.nan))
    if tenths(every_cm) == tenths(ground.ridge_cm):
        return ""
    count = int(ground.steady["ridge_cm"].notna().sum())
    return f" at {count} pit{'' if count == 1 else 's'}"


def _less_doubted(pits: pd.DataFrame) -> str:
    """Return which pits the ridge leaves out since their depths are in doubt, in words."""
    own = pits[doubted(pits) & (pits["loosened_at_leg_cm"] > pits["loosened_between_cm"])]
    return f" without {pits_named(own['pit'].tolist())} asked about above" if len(own) else ""


def _loosened_to(pits: pd.DataFrame, where: str) -> str:
    """Return how deep pits were loosened there and where the base lies, in words."""
    reach = "loosened_between_cm" if where == "between legs" else "loosened_at_leg_cm"
    known = pits[pits[reach].notna() & pits["base_cm"].notna()]
    if known.empty:
        return ""
    told = (least_to_most(known[name]) for name in (reach, "base_cm"))
    return ", loosened {} cm deep there with the base at {} cm".format(*told)


def _uneven_ridges(ground: Ground, own: pd.DataFrame) -> Iterator[Step]:
    """Yield the single pits `own` with an uneven ridge, where the mean of all pits is not."""
    if len(own):
        ran = [f" at {v:g} km/h" if np.isfinite(v) else "" for v in own["speed_km_h"]]
        facts = zip(own["pit"], own["ridge_cm"], ran, strict=True)
        told = joined([f"{pit} ({tenths(cm)} cm{at})" for pit, cm, at in facts])
        mean = f"{tenths(ground.ridge_cm)} cm ({evenness(ground.ridge_cm)})"
        text = (
            f"Pit{'' if len(own) == 1 else 's'} {told}: an uneven ridge, though the mean"
            f"{_of_field(ground)} is {mean}. Look at points and speed of that run before the "
            "setting is kept."
        )
        yield Step("look", text, _zones(own))


def _named(pits: pd.DataFrame) -> str:
    return pits_named(pits["pit"].astype(str).tolist())


def _zones(pits: pd.DataFrame) -> tuple[int, ...]:
    return tuple(sorted({int(zone) for zone in pits["zone"]}))

"""What single pits ask for: to stop, to drive a strip that was missed, to look at a reading."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from zoning.checks.caps import past_caps, past_words, stop_words
from zoning.checks.ground import Ground
from zoning.checks.groups import FIELD
from zoning.checks.ran import at_depth, base_missed, base_passed, floated_only, unworked
from zoning.checks.reasons import BASE_FAR, NONE_BEFORE, SECOND_TOOL, leg_not_noted
from zoning.checks.rules import rule
from zoning.checks.steps import Step
from zoning.checks.words import pits_named, set_deeper
from zoning.contracts import NOT_CLEARED, joined
from zoning.model.names import by_name, in_numbers
from zoning.units import least_to_most, tenths

_UNTOUCHED = "Nothing was loosened between the legs at {}, and no pan is noted"
_ABOVE = (
    "No pan is noted at {}, where the soil was loosened clearly above the base that the plan "
    "expects"
)


def stops(pits: pd.DataFrame, zones: pd.DataFrame) -> Iterator[Step]:
    """Yield what asks to stop at once, once a pit, and the legs a little past a cap.

    Parameters
    ----------
    pits
        Rows of `zoning.checks.judge_pits` with ``strike``: what is asked of a pit worked within a
        keep-off, in words, blank elsewhere.
    zones
        Those of `zoning.checks.bounded`.
    """
    struck = pits[(pits["strike"] != "") & pits["zone"].isin(zones["zone"])]
    for pit in by_name(struck, "pit").to_dict("records"):
        yield Step("stop", str(pit["strike"]), (int(pit["zone"]),))
    others = pits[(pits["strike"] == "") & pits["zone"].isin(zones["zone"])]
    for pit in past_caps(others).to_dict("records"):
        own = (int(pit["zone"]),)
        if pit["far"]:
            yield Step("stop", stop_words(pit), own)
        else:
            yield Step("look", f"Pit {pit['pit']}: {past_words(pit, far=False)}", own)


def unmeasured(pits: pd.DataFrame) -> Iterator[Step]:
    """Yield the pits near a hazard where no leg was measured: none of them is as planned."""
    own = by_name(pits[pits["asked"] == "leg"], "pit")
    own = own.assign(text=[leg_not_noted(pit) for pit in own.to_dict("records")])
    for text in own["text"].drop_duplicates().astype(str):
        alike = own[own["text"] == text]
        yield Step("look", f"P{_named(alike)[1:]}: {text[:1].lower()}{text[1:]}", _zones(alike))


def too_wet(pits: pd.DataFrame) -> Iterator[Step]:
    """Yield that plastic soil stops the work."""
    if words := wet_words(pits):
        yield Step("stop", words)


def wet_words(pits: pd.DataFrame) -> str:
    """Return what is asked at once where pits show plastic soil; blank where none does."""
    plastic = pits[pits["moisture"] == "plastic"]
    if plastic.empty:
        return ""
    return (
        f"Stop: soil was plastic in {_named(plastic)}. No setting loosens plastic soil, it is "
        "smeared and pressed: wait until a thread of soil from working depth cracks when rolled."
    )


def missed_strips(pits: pd.DataFrame, zones: pd.DataFrame) -> Iterator[Step]:
    """Yield the strips that were not worked; none is sent where no leg may go yet."""
    missed = pits[pits["verdict"] == "not_worked"]
    if missed.empty:
        return
    own = zones.set_index("zone").loc[missed["zone"]]
    unlocated = missed[(own["cleared"] == NOT_CLEARED).to_numpy()]
    beyond = (own["depth_cm"] > own["cap_cm"].fillna(np.inf)).to_numpy()
    strips, them = (
        ("this strip", "this pit") if len(missed) == 1 else ("these strips", "these pits")
    )
    text = (
        f"Not worked at {_named(missed)}: drive {strips} to the depth of the plan, then dig there "
        f"anew and withdraw {them} (worked again).{dug_beside(missed, pits.drop(missed.index))}"
    )
    if len(unlocated):
        text += f" Not before services are located at {_named(unlocated)}: NOT CLEARED."
    if beyond.any():
        text += f" Plan again first for {_named(missed[beyond])}: a hazard allows less there now."
    yield Step("drive", text, _zones(missed))


def dug_beside(
    pits: pd.DataFrame,
    others: pd.DataFrame,
    *,
    where: str = "there",
    else_closed: bool = False,
) -> str:
    """Return which pits to withdraw if others at their place tell of it as it was driven since.

    Blank where none of the others, of its day or later, lies at the place of one. Where nobody
    drove there again the others may have looked already: then they close it too (`else_closed`).
    """
    told, beside = [], []
    for pit in pits.to_dict("records"):
        near = _since(pit, others)
        told += [str(pit["pit"])] if len(near) else []
        beside += near["pit"].astype(str).tolist()
    if not told:
        return ""
    names = sorted(set(beside), key=in_numbers)
    were = "was" if len(names) == 1 else "were"
    closed = f" If it was not, nothing more is asked at {pits_named(told)}." if else_closed else ""
    return (
        f" If the ground {where} was driven again since, before {pits_named(names)} beside {were} "
        f"dug, withdraw {pits_named(told)} now: it is done.{closed}"
    )


def seen_since(pits: pd.DataFrame, others: pd.DataFrame) -> pd.DataFrame:
    """Return those of `pits` at whose place one of `others` was dug, on their day or later."""
    return pits.loc[[row for row, pit in _each(pits) if len(_since(pit, others))]]


def seen_twice(pits: pd.DataFrame) -> pd.DataFrame:
    """Return those of `pits` with another of them at their place."""
    return pits.loc[[row for row, pit in _each(pits) if len(_at_place(pit, pits)) > 1]]


def seen_below(pits: pd.DataFrame) -> pd.DataFrame:
    """Return those of `pits` at whose place all of them show the base below the legs."""
    under = pits[base_missed(pits["chance_leg"])]
    places = ((row, _at_place(pit, pits)) for row, pit in _each(pits))
    return pits.loc[[row for row, place in places if place.index.isin(under.index).all()]]


def _each(pits: pd.DataFrame) -> Iterator[tuple[Hashable, Mapping[Hashable, Any]]]:
    return zip(pits.index, pits.to_dict("records"), strict=True)


def _since(pit: Mapping[Hashable, Any], others: pd.DataFrame) -> pd.DataFrame:
    """Return those of others that lie at the place of a pit and are of its day or later."""
    since: pd.Series = others["date"] >= pit["date"]
    return _at_place(pit, others[since])


def _at_place(pit: Mapping[Hashable, Any], pits: pd.DataFrame) -> pd.DataFrame:
    off_m = np.hypot(pits["x_m"] - pit["x_m"], pits["y_m"] - pit["y_m"])
    same: pd.Series = (off_m <= rule("one_place_m")) & (pits["depth_cm"] == pit["depth_cm"])
    found: pd.DataFrame = pits[same]
    return found


def questioned(ground: Ground) -> Iterator[Step]:
    """Yield what pits show that does not go together, so that nothing is changed for an error."""
    if len(own := ground.unbroken):
        text = (
            f"A pan is seen in {_named(own)}, yet the soil is loosened below its noted base: were "
            "pieces left unbroken, or is the base mistyped? Look again first. More depth breaks no "
            "pieces."
        )
        yield Step("look", text, _zones(own))
    pits = ground.pits
    if len(own := _once_only(pits[pits["asked"] == "base"], pits)):
        text = (
            f"The base noted at {_named(own)} ({least_to_most(own['base_cm'])} cm) lies far off "
            f"the one that the plan expects: {BASE_FAR} Measure it again."
        )
        yield Step("look", text, _zones(own))
    none = pits[pits["asked"] == "no_pan"]
    untouched = unworked(none["loosened_between_cm"])
    for own, what in ((none[untouched], _UNTOUCHED), (none[~untouched], _ABOVE)):
        if len(own):
            text = f"{what.format(_named(own))}: {NONE_BEFORE} It is not counted as loosened."
            yield Step("look", text, _zones(own))
    own = pits[pits["asked"] == "reach"]
    if len(own):
        text = (
            f"Deeper than this machine goes ({own['machine_most_cm'].iloc[0]:g} cm) at "
            f"{_named(own)}: {SECOND_TOOL} Measure again."
        )
        yield Step("look", text, _zones(own))


def _once_only(asked: pd.DataFrame, pits: pd.DataFrame) -> pd.DataFrame:
    """Return the pits asked about their base that no other pit at their place has answered.

    One whose base agrees answers, and one dug on their day or later that passed.
    """
    passed = pits[base_passed(pits["chance_between"])]
    open_yet = asked.drop(seen_since(asked, passed).index)
    agree_cm = rule("bases_agree_cm") / 2.0
    alone = [
        row
        for row, pit in _each(open_yet)
        if ((_at_place(pit, pits)["base_cm"] - pit["base_cm"]).abs() <= agree_cm).sum() < 2
    ]
    return open_yet.loc[alone]


FAST = "legs kept their depth at"
"""What tells the speed at which legs floated and others did not."""


def floating(ground: Ground) -> Iterator[Step]:
    """Yield the pits where only a shallow leg left the pan, then others afloat but not most."""
    own = ground.afloat
    only = floated_only(own)
    if len(held := own[only]):
        depths = held["set_cm"].unique()
        at = f"{depths[0]:g} cm" if len(depths) == 1 else "the planned depths"
        one = len(held) == 1
        ridge, they = ("ridge", "it") if one else ("ridges", "they")
        runs, them = ("that run is", "this pit") if one else ("those runs are", "these pits")
        # Where pits enough show the rest to be reached, the pins were put right long ago.
        done = held["depth_cm"].isin(ground.settled_cm).all()
        then = "." if done else ": dig again before any other change."
        text = (
            f"{_ran_shallow(ground, held)} Held at {at} with the {ridge} found there, {they} would "
            f"have passed the pan{then} Where {runs} driven again, dig there anew and withdraw "
            f"{them}."
            f"{dug_beside(held, ground.pits.drop(own.index))}"
        )
        yield Step("pins", text, () if len(held) * 2 > len(ground.pits) else _zones(held))
    if len(others := own[~only]) and not ground.mostly_afloat:
        yield Step("look", _ran_shallow(ground, others), _zones(others))


def settled_cm(grounds: Sequence[Ground], told: Sequence[Ground]) -> frozenset[float]:
    """Return the depths that pits enough show to be reached, all where the whole field is [cm].

    None with a missed strip is: ``told`` is the ground with the pits that tell of the setting.
    """
    done = [
        own
        for ground, own in zip(grounds, told, strict=True)
        if own.facts["verdict"] == "reached" and not (ground.pits["verdict"] == "not_worked").any()
    ]
    names = [own for own in told if any(one.name == FIELD for one in done) or own in done]
    return frozenset(float(own.facts["depth_cm"]) for own in names if own.name != FIELD)


def diving(ground: Ground) -> Iterator[Step]:
    """Yield the pits whose leg ran far too deep, and deeper than most."""
    own = ground.dived
    if len(own):
        deep = own["loosened_at_leg_cm"] - own["set_cm"]
        others = ground.pits.drop(own.index)
        ran = _others_ran(others["loosened_at_leg_cm"] - others["set_cm"])
        text = (
            f"{_each_cm(own, deep)}: the leg ran deeper than planned{ran}. Check "
            f"{ground.control} and the frame level on that run: over a hazard that is dangerous. "
            f"{set_deeper('it was')}"
        )
        yield Step("look", text, _zones(own))


def _each_cm(pits: pd.DataFrame, off_cm: pd.Series) -> str:
    told = joined([f"{pit} ({cm:.3g} cm)" for pit, cm in zip(pits["pit"], off_cm, strict=True)])
    return f"Pit{'' if len(pits) == 1 else 's'} {told}"


def _ran_shallow(ground: Ground, own: pd.DataFrame) -> str:
    """Return how far the legs ran shallow, how the others ran, and what to check."""
    short = own["set_cm"] - own["loosened_at_leg_cm"]
    others = ground.pits.drop(ground.afloat.index)
    ran = _others_ran(others["set_cm"] - others["loosened_at_leg_cm"])
    text = (
        f"{_each_cm(own, short)}: the leg ran shallower than planned{ran}. Check "
        f"{ground.control} and the frame level on that run."
    )
    if np.isfinite(ground.floats_from_km_h):
        held = replace(ground, pits=at_depth(ground.pits))
        text += (
            f" That was at {ground.floats_from_km_h:g} km/h; {FAST} "
            f"{held.speed_words}: see whether the machine holds its depth at that speed."
        )
    return text


def _others_ran(off_cm: pd.Series) -> str:
    """Return how far other legs ran off the plan to the same side; blank where none tells it."""
    off_cm = off_cm.dropna()
    if off_cm.empty:
        return ""
    if off_cm.max() <= rule("depth_read_sd_cm"):
        return ", though others did not"
    least, most = (tenths(float(cm)) for cm in (off_cm.min(), off_cm.max()))
    return f", the others by {'' if least == most else 'up to '}{most} cm"


def pan_where_lifted(pits: pd.DataFrame, zones: pd.DataFrame) -> str:
    """Return what pits say of a pan where the plan, and no hazard, lifts the legs out; or blank."""
    for_hazard = zones.loc[zones["cap_cm"] <= 0, "zone"]
    unworked_yet = (pits["verdict"] == "lifted_out") & ~(pits["leg_least_cm"] > 0)
    own = pits[unworked_yet & (pits["pan"] == "yes") & ~pits["zone"].isin(for_hazard)]
    if own.empty:
        return ""
    one = len(own) == 1
    return (
        f"P{_named(own)[1:]} found a pan where the plan lifts the legs out: the plan is wrong "
        f"here. This ground was not worked, so enter {'it as a pit' if one else 'them as pits'} of "
        "phase before and plan again."
    )


def worked_where_lifted(pits: pd.DataFrame) -> str:
    """Return what is asked of pits worked where the legs were to be lifted; or blank."""
    own = pits[pits["verdict"] == "worked_lifted"]
    if own.empty:
        return ""
    return (
        f"Loosened at {_named(own)}, where the plan lifts the legs out: make sure that no hazard "
        "lies there, and tell the operator."
    )


def lifted(pits: pd.DataFrame, zones: pd.DataFrame) -> list[Step]:
    """Return the advice for ground that was to be lifted out, but not for a hazard."""
    ran, found = worked_where_lifted(pits), pan_where_lifted(pits, zones)
    own = _zones(pits[pits["verdict"] == "worked_lifted"])
    return [*([Step("look", ran, own)] if ran else []), *([Step("depth", found)] if found else [])]


def _named(pits: pd.DataFrame) -> str:
    return pits_named(pits["pit"].tolist())


def _zones(pits: pd.DataFrame) -> tuple[int, ...]:
    return tuple(sorted({int(zone) for zone in pits["zone"]}))

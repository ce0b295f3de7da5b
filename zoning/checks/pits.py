r"""Each after-pit judged: whether the pan base was passed at the leg and between the legs.

The base at a pit is normal, ``N(m, s^2)``: as seen in the pit itself where a pan is still there and
its base was noted, otherwise as the plan knew it. A depth :math:`d` read with standard error
:math:`e` passes with probability

.. math:: P = 1 - p + p\,\Phi\big((d - m) / \sqrt{s^2 + e^2}\big)

where :math:`p` is the probability that a pan was there. What the spade saw outranks all of it: a
pit that notes no pan was passed, one that notes a pan was not passed between the legs. Only soil
that was left untouched between the legs, without a pan, says nothing of the work there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.special import ndtr

from zoning.checks.caps import past_words
from zoning.checks.ran import is_unbroken, unbroken, unworked
from zoning.checks.rules import rule
from zoning.model.check import JUDGED, PlannedGround
from zoning.model.names import by_name

Floats = NDArray[np.float64]

COLUMNS = (
    "pit", "date", "zone", "depth_cm", "part", "x_m", "y_m", "lon", "lat", "loosened_at_leg_cm",
    "loosened_between_cm", "ridge_cm", "speed_km_h", "moisture", "structure_score", "pan",
    "base_cm", "base_sd_cm", "base_from", "pan_probability", "chance_leg", "chance_between",
    "chance_too_deep", "verdict", "firm", "reason", "set_cm", "file", "row",
)  # fmt: skip
_IN_DOUBT = {
    "plan": "In doubt, since the plan is not that sure of the base: note pan yes or no.",
    "pit": "In doubt: an error of a centimetre would turn it.",
}


@dataclass(frozen=True, slots=True, eq=False)
class _Base:
    """What is known of the pan base at each pit."""

    mean: Floats
    sd: Floats
    pan: Floats
    seen: NDArray[np.bool_]


def judge_pits(
    pits: pd.DataFrame, planned: PlannedGround, *, read_on: str, made_on: str = ""
) -> pd.DataFrame:
    """Judge the pits of phase ``after``.

    Parameters
    ----------
    pits
        Rows of ``shared/schemas/pits.schema.json``; those of phase ``before`` are not looked at.
    planned
        The plan that was worked to, with the bounds of `zoning.checks.bounded`.
    read_on
        Day of the plan's last reading, ISO, blank where not known: an earlier pit judges earlier
        work.
    made_on
        Day of the plan, ISO, where the season saw another with other depths; blank where not: an
        earlier pit is not held against the depth planned.

    Returns
    -------
    DataFrame
        One row a pit, by name: ``shared/schemas/check_pits.schema.json``, and ``set_cm``, the depth
        that the leg was to run at, NaN where no plan is known to say it. Verdicts: ``reached``;
        ``too_deep`` (reached, and all of it deeper than ``too_deep_cm`` below the base);
        ``leg_only``; ``not_reached`` (also where a pan is still seen and no depth was noted);
        ``leg_passed`` (nothing known between the legs); ``past_cap`` (a leg ran deeper than a
        hazard of its zone allows, by ``set_depth_tolerance_cm`` or more); ``held`` (the pan stays,
        as planned, since a hazard holds the depth); ``not_worked`` (nothing loosened where the plan
        works: a missed strip); ``lifted_out``; ``worked_lifted`` (loosened where the legs were to
        be lifted); ``not_judged`` with the reason.
    """
    after = by_name(pits[pits["phase"] == "after"], "pit", "file", "row").reset_index(drop=True)
    zone, away_m, near = _zones_of(after, planned.zones)
    base = _bases(after, planned)
    depth = planned.zones.set_index("zone")["depth_cm"].reindex(zone).to_numpy(float)
    older = (after["date"] != "") & (after["date"] < made_on)
    frame = after.assign(
        zone=zone,
        depth_cm=depth,
        set_cm=np.where(older, np.nan, depth),
        ridge_cm=_ridge_cm(after),
        base_cm=base.mean,
        base_sd_cm=base.sd,
        base_from=np.where(base.seen, "pit", "plan"),
        pan_probability=base.pan,
    )
    frame = frame.assign(**_chances(frame, base))
    unfit = _unfit(frame, away_m, read_on)
    bounds = planned.zones.set_index("zone")[["held", "cap_cm", "cap_by"]].loc[zone]
    frame = frame.assign(**{str(name): bounds[name].to_numpy() for name in bounds})
    frame["over_cm"] = frame["loosened_at_leg_cm"] - frame["cap_cm"].astype(float)
    frame["verdict"] = np.where(unfit != "", "not_judged", _verdicts(frame))
    frame["firm"] = _firm(frame)
    facts = zip(frame.to_dict("records"), unfit.tolist(), near, strict=True)
    frame["reason"] = [_reason(pit, why, beside) for pit, why, beside in facts]
    return frame[list(COLUMNS)]


def _ridge_cm(pits: pd.DataFrame) -> pd.Series:
    """Return the ridge [cm], NaN where nothing was worked or the soil between lies untouched."""
    untouched = unworked(pits["loosened_between_cm"])
    real = ~unworked(pits["loosened_at_leg_cm"]) & ~(untouched & (pits["pan"] == "no"))
    return (pits["loosened_at_leg_cm"] - pits["loosened_between_cm"]).where(real)


def _zones_of(
    pits: pd.DataFrame, zones: gpd.GeoDataFrame
) -> tuple[NDArray[np.int64], Floats, list[str]]:
    """Return the zone of each pit, how far outside all it lies, and words on ground beside it."""
    places = pits[["x_m", "y_m"]].to_numpy(dtype=float)
    shapes, depth = zones.geometry.to_numpy(), zones["depth_cm"].to_numpy(float)
    names = zones["zone"].to_numpy(dtype=np.int64)
    gap = np.array([shapely.distance(shapes, shapely.Point(place)) for place in places])
    gap = gap.reshape(-1, len(zones))
    leg_cm = pits["loosened_at_leg_cm"].to_numpy(dtype=float)
    counted, near = gap.argmin(axis=1), []
    for i, row in enumerate(gap):
        beside = (row <= rule("edge_m")) & (depth != depth[counted[i]])
        told = sorted({f"{d:g} cm" if d else "lifted out" for d in depth[beside]})
        words = f"Within {rule('edge_m'):g} m of ground at {', '.join(told)}." if told else ""
        other = _driven(zones, beside, int(counted[i]), leg_cm[i])
        if other >= 0:
            words = (
                f"Counted for the ground at {depth[other]:g} cm, less than {rule('edge_m'):g} m "
                f"away, to whose depth it was loosened, and not for that at {depth[counted[i]]:g} "
                "cm where its place falls."
            )
            counted[i] = other
        near.append(words)
    return names[counted], gap.min(axis=1, initial=np.inf), near


def _driven(zones: gpd.GeoDataFrame, beside: NDArray[np.bool_], own: int, leg_cm: float) -> int:
    """Return the row of the zone beside whose depth the leg ran at, -1 where its own will do.

    Position alone cannot tell two zones apart so near their edge; the depth can. Ground about a
    hazard and ground lifted out keep their pits, so that none that went too deep there is lost.
    """
    off = leg_cm - zones["depth_cm"].to_numpy(dtype=float)
    free = zones["cap_cm"].isna().to_numpy() & (zones["depth_cm"] > 0).to_numpy()
    tape = rule("set_depth_tolerance_cm")
    fit = beside & free & (np.abs(off) < tape)
    if not free[own] or not fit.any() or abs(off[own]) < tape:
        return -1
    return int(np.argmin(np.where(fit, np.abs(off), np.inf)))


def _bases(pits: pd.DataFrame, planned: PlannedGround) -> _Base:
    cell = _cells(pits[["x_m", "y_m"]].to_numpy(dtype=float), planned)
    mean, sd, pan = (
        planned.bands[name].ravel()[cell]
        for name in ("pan_base_cm", "pan_base_sd_cm", "pan_probability")
    )
    own = pits["pan_base_cm"].to_numpy(float)
    seen = np.isfinite(own) & (pits["pan"] != "no").to_numpy()
    return _Base(
        np.where(seen, own, mean),
        np.where(seen, rule("depth_read_sd_cm"), sd),
        np.where(seen | (pits["pan"] == "yes").to_numpy(), 1.0, pan),
        seen,
    )


def _cells(xy_m: Floats, planned: PlannedGround) -> NDArray[np.int64]:
    """Return the nearest cell with a prediction, by flat index."""
    known = np.flatnonzero(np.isfinite(planned.bands["pan_base_cm"].ravel()))
    centres = planned.grid.centres_m()[known]
    apart = [int(np.hypot(*(centres - place).T).argmin()) for place in xy_m]
    return known[np.array(apart, dtype=np.int64)]


def _chances(pits: pd.DataFrame, base: _Base) -> dict[str, Floats]:
    """Return the probabilities that the base was passed, and that all of it was passed too far."""
    leg, between = (
        pits[name].to_numpy(float) for name in ("loosened_at_leg_cm", "loosened_between_cm")
    )
    spread = np.hypot(base.sd, rule("depth_read_sd_cm"))

    def passed(depth_cm: Floats) -> Floats:
        return np.asarray(1.0 - base.pan + base.pan * ndtr((depth_cm - base.mean) / spread))

    none, some = (pits["pan"] == word for word in ("no", "yes"))
    asked = none & unworked(pits["loosened_between_cm"])
    seen = np.where(none, 1.0, np.where(some, 0.0, passed(between)))
    chance_between = np.where(asked, np.nan, seen)
    # Between the legs is never loosened deeper than at them.
    chance_leg = np.fmax(passed(leg), np.where(none | ~some, chance_between, np.nan))
    sure = none & ~(asked & ~(leg > rule("not_worked_cm")))
    deep = ndtr((between - rule("too_deep_cm") - base.mean) / spread)
    return {
        "chance_leg": np.where(sure, 1.0, np.where(none, np.nan, chance_leg)),
        "chance_between": chance_between,
        "chance_too_deep": np.where(some, 0.0, deep),
    }


def _unfit(pits: pd.DataFrame, away_m: Floats, read_on: str) -> NDArray[np.str_]:
    """Return why each pit cannot judge this work; blank where it can."""
    seen = pits["chance_leg"].notna() | pits["chance_between"].notna() | _missed(pits)
    early = (pits["date"] != "") & (read_on != "") & (pits["date"] < read_on)
    far = [f"Lies {gap:.0f} m outside every zone of the plan." for gap in away_m]
    earlier = f"Dug before the plan's last reading or pit ({read_on}): it judges earlier work."
    nothing = "Neither a loosened depth nor pan yes or no was noted."
    cases = [away_m > rule("outside_most_m"), early.to_numpy(), (~seen).to_numpy()]
    texts = [np.array(far, dtype=np.str_), np.array(earlier), np.array(nothing)]
    return np.select(cases, texts, default="")


def _verdicts(pits: pd.DataFrame) -> NDArray[np.str_]:
    leg, between = pits["chance_leg"].to_numpy(float), pits["chance_between"].to_numpy(float)
    deep = pits["chance_too_deep"].to_numpy(float) >= rule("too_deep_probability")
    held = pits["held"].to_numpy(dtype=bool)
    lifted = (pits["depth_cm"] <= 0).to_numpy()
    cases = [
        pits["over_cm"].to_numpy(float) >= rule("set_depth_tolerance_cm"),
        lifted & _worked(pits) & pits["set_cm"].notna().to_numpy(),
        lifted,
        _missed(pits),
        held & ~((leg >= 0.5) & (between >= 0.5)),
        (leg < 0.5) | np.isnan(leg),
        np.isnan(between),
        (between >= 0.5) & deep,
        between >= 0.5,
    ]
    names = [
        "past_cap", "worked_lifted", "lifted_out", "not_worked", "held", "not_reached",
        "leg_passed", "too_deep", "reached",
    ]  # fmt: skip
    return np.select(cases, names, default="leg_only")


def _worked(pits: pd.DataFrame) -> NDArray[np.bool_]:
    depths = pits[["loosened_at_leg_cm", "loosened_between_cm"]]
    return (depths > rule("not_worked_cm")).any(axis=1).to_numpy()


def _missed(pits: pd.DataFrame) -> NDArray[np.bool_]:
    """Return where the machine did not work: nothing loosened at the leg nor between."""
    return unworked(pits["loosened_at_leg_cm"]).to_numpy() & ~_worked(pits)


def _firm(pits: pd.DataFrame) -> list[str]:
    """Say whether each verdict would stand if the plan's estimate of the base were a little off."""
    sure = rule("firm_probability")
    chances = pits[["chance_leg", "chance_between"]].to_numpy(float)
    doubt = ((chances > 1.0 - sure) & (chances < sure)).any(axis=1)
    words = np.where(doubt | unbroken(pits).to_numpy(), "no", "yes")
    return [str(word) for word in np.where(pits["verdict"].isin(JUDGED), words, "")]


def _reason(pit: Mapping[Any, Any], unfit: str, near: str) -> str:
    """Say what the verdict of a pit rests on."""
    if unfit:
        return unfit
    parts = [_depths(pit["loosened_at_leg_cm"], pit["loosened_between_cm"])]
    if pit["pan"]:
        parts.append("Pan still seen." if pit["pan"] == "yes" else "No pan left.")
    if pit["base_from"] == "pit":
        parts.append(f"Base seen at {pit['base_cm']:g} cm.")
    elif not pit["pan"]:
        parts.append(
            f"By the plan the pan base is at {pit['base_cm']:.0f} cm, give or take "
            f"{pit['base_sd_cm']:.1f} cm (standard error)."
        )
    parts += [_as_set(pit), _asked(pit)]
    if pit["firm"] == "no" and not is_unbroken(pit):
        parts.append(_IN_DOUBT[pit["base_from"]])
    return " ".join(part for part in [*parts, near] if part)


def _asked(pit: Mapping[Any, Any]) -> str:
    """Return the question that a reading raises; blank where it raises none."""
    between = pit["loosened_between_cm"]
    if is_unbroken(pit):
        return (
            f"A pan is seen, yet the soil is loosened {between - pit['base_cm']:.3g} cm below its "
            "base: were pieces left unbroken, or is the base mistyped?"
        )
    none = pit["pan"] == "no" and between <= rule("not_worked_cm")
    if none and pit["verdict"] in JUDGED and pit["verdict"] != "not_worked":
        return (
            "Nothing was loosened between the legs, yet no pan is noted: was there none before, or "
            "was it not measured? It is not counted as loosened."
        )
    return ""


def _as_set(pit: Mapping[Any, Any]) -> str:
    """Say how the depth of the leg stands to the depth planned and to the cap of a hazard."""
    leg, planned = pit["loosened_at_leg_cm"], pit["set_cm"]
    if pit["over_cm"] > 0:
        return past_words(leg, float(pit["cap_cm"]), pit["cap_by"])
    off = abs(planned - leg)
    if pit["verdict"] == "not_worked":
        return ""
    if planned > 0 and off >= rule("set_depth_tolerance_cm"):
        which = "shallower" if leg < planned else "deeper"
        return f"The leg ran {off:.3g} cm {which} than the {planned:g} cm planned."
    if pit["verdict"] == "held":
        planned_so = ": as planned" if np.isfinite(planned) else ""
        return f"A hazard holds the work here at {pit['depth_cm']:g} cm{planned_so}."
    return ""


def _depths(leg_cm: float, between_cm: float) -> str:
    told = [
        f"{depth:g} cm {where}"
        for depth, where in ((leg_cm, "at the leg"), (between_cm, "between legs"))
        if np.isfinite(depth)
    ]
    return f"Loosened {', '.join(told)}." if told else ""

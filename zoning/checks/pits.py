r"""Each after-pit judged: whether the pan base was passed at the leg and between the legs.

The base at a pit is normal, ``N(m, s^2)``: as seen in the pit itself where a pan is still there and
its base was noted, otherwise as the plan knew it. A depth :math:`d` read with standard error
:math:`e` passes with probability

.. math:: P = 1 - p + p\,\Phi\big((d - m) / \sqrt{s^2 + e^2}\big)

where :math:`p` is the probability that a pan was there. What the spade saw outranks it: a pit that
notes no pan was passed, one that notes a pan was not passed between the legs. Only where no pan is
noted and the soil was left untouched, or was loosened clearly above the base that the plan expects
there, do spade and tape not go together: such a depth says nothing of the work, and is asked about.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtr

from zoning.checks.caps import caps_at, far_past, told_cm
from zoning.checks.counted import base_cells, by_map, counted_for, noted_parts
from zoning.checks.ran import base_missed, base_passed, doubted, leg_least_cm, unbroken, unworked
from zoning.checks.reasons import past_cap, reason
from zoning.checks.rules import rule
from zoning.model.check import JUDGED, PlannedGround
from zoning.model.names import by_name

Floats = NDArray[np.float64]

COLUMNS = (
    "pit", "date", "zone", "depth_cm", "part", "x_m", "y_m", "lon", "lat", "loosened_at_leg_cm",
    "loosened_between_cm", "ridge_cm", "speed_km_h", "moisture", "structure_score", "pan",
    "base_cm", "base_sd_cm", "base_from", "pan_probability", "chance_leg", "chance_between",
    "chance_too_deep", "verdict", "firm", "reason", "set_cm", "leg_least_cm", "cap_cm", "cap_by",
    "cap_of", "in_keep_off", "machine_most_cm", "asked", "of_work", "earlier", "file", "row",
)  # fmt: skip


DOUBTED = "by its date it would judge earlier work."
"""What is said of a pit of the season that its date keeps from being judged."""
_NOTHING = "Neither a loosened depth nor pan yes or no was noted."


@dataclass(frozen=True, slots=True, eq=False)
class _Base:
    """What is known of the pan base at each pit."""

    planned: Floats
    mean: Floats
    sd: Floats
    pan: Floats
    seen: NDArray[np.bool_]
    far: NDArray[np.bool_]
    """Where the base noted lies far off the plan's, so that it is asked about."""


def judge_pits(
    pits: pd.DataFrame,
    planned: PlannedGround,
    *,
    read_on: str,
    older: Collection[str] = (),
    read_by: str = "the last reading or pit of before the work",
    season_from: str = "",
    parts: gpd.GeoDataFrame | None = None,
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
    older
        Names of pits older than the plan, where the season saw another with other depths: they are
        not held against the depth planned.
    read_by
        What was read on that day, in words.
    season_from
        First day of the season, ISO, blank where not known. A pit of the season that is dated
        before ``read_on`` is not judged, but the date may be mistyped: it stays ``of_work``, so
        that what it shows of a hazard and of plastic soil is told.
    parts
        ``part`` and outline of each part of the field: a pit counts for the ground and the base of
        its part, as of `zoning.checks.counted`. Not given, it goes by place alone.

    Returns
    -------
    DataFrame
        One row a pit, by name: ``shared/schemas/check_pits.schema.json``, and ``set_cm``, the depth
        that the leg was to run at, NaN where no plan is known to say it or the depth noted is
        beyond the machine; ``leg_least_cm``, ``cap_cm``, ``cap_by`` and ``cap_of`` of the hazard
        about the pit, ``in_keep_off`` (bool), ``asked`` (what of it does not go together:
        ``reach``, ``no_pan``, ``unbroken``, ``base``; ``leg``: not measured where a hazard holds
        it; or blank),
        ``of_work`` (bool: of this work, or of its season with a doubtful date, on its ground) and
        ``earlier`` (bool: on its ground, and not judged since it was dug before ``read_on``).
        Verdicts: ``reached``; ``too_deep`` (reached, and all of it deeper than ``too_deep_cm``
        below the base); ``leg_only``; ``not_reached``; ``not_between`` (not passed between the
        legs, what the leg did not known); ``leg_passed`` (nothing known between the legs);
        ``past_cap`` (a leg ran deeper than a hazard about it allows, as of
        `zoning.checks.caps.far_past`); ``leg_not_seen`` (a hazard
        holds the depth or lifts the legs out, and no leg was measured); ``held`` (a hazard holds
        the depth of its zone above the pan: it counts for nothing); ``not_worked`` (nothing
        loosened where the plan works: a missed strip); ``lifted_out``; ``worked_lifted``
        (loosened where the legs were to be lifted); ``questioned`` (its depths do not go with the
        machine, or with the pan that it notes to be gone); ``not_judged`` with the reason.
    """
    after = by_name(pits[pits["phase"] == "after"], "pit", "file", "row").reset_index(drop=True)
    noted = noted_parts(after, parts)
    ground = counted_for(after, planned.zones, noted)
    after = after.assign(part=by_map(after, ground, planned.zones, parts))
    noted = noted_parts(after, parts)
    zone, away_m, near = ground.zone, ground.away_m, ground.near
    own = planned.zones.set_index("zone").reindex(zone)
    depth, most = own["depth_cm"].to_numpy(float), own["machine_most_cm"].to_numpy(float)
    cells = base_cells(after, planned, own.geometry.where(ground.moved), noted)
    base = _bases(after, planned, most, cells)
    beyond = leg_least_cm(after) - most >= rule("set_depth_tolerance_cm")
    frame = after.assign(
        zone=zone,
        depth_cm=depth,
        set_cm=told_cm(after, own).mask(after["pit"].isin(older) | (beyond & (depth > 0))),
        leg_least_cm=leg_least_cm(after),
        machine_most_cm=most,
        base_cm=base.mean,
        base_sd_cm=base.sd,
        base_from=np.where(base.seen, "pit", "plan"),
        base_far=base.far,
        plan_base_cm=base.planned,
        pan_probability=base.pan,
        held=own["held"].to_numpy(dtype=bool),
        beyond=beyond,
    )
    frame = frame.assign(**_chances(frame, base))
    frame = frame.assign(
        **{str(name): told for name, told in caps_at(frame, planned.zones).items()}
    )
    frame["over_cm"], frame["far"] = frame["leg_least_cm"] - frame["cap_cm"], far_past(frame)
    frame["asked"] = _asked(frame)
    frame["ridge_cm"] = _ridge_cm(frame).mask(doubted(frame))
    dated = (frame["date"] != "") & (season_from != "") & (frame["date"] >= season_from)
    far = away_m > rule("outside_most_m")
    frame["earlier"] = ~far & (frame["date"] != "") & (read_on != "") & (frame["date"] < read_on)
    frame["of_work"] = ~far & (~frame["earlier"] | dated)
    other = _of_other_work(frame, away_m, f"Dug before {read_by} ({read_on}): ")
    unfit = np.where((other == "") & _blank(frame), _NOTHING, other)
    frame["verdict"] = np.where(unfit != "", "not_judged", _verdicts(frame))
    frame["firm"] = _firm(frame)
    facts = zip(frame.to_dict("records"), unfit.tolist(), near, strict=True)
    words = [
        f"{why} {past_cap(pit)}".strip() if why else reason(pit, beside)
        for pit, why, beside in facts
    ]
    frame["reason"] = pd.Series(words, index=frame.index, dtype=object)
    return frame[list(COLUMNS)]


def _ridge_cm(pits: pd.DataFrame) -> pd.Series:
    """Return the ridge [cm], NaN where nothing was worked or the soil between lies untouched."""
    untouched = unworked(pits["loosened_between_cm"])
    real = ~unworked(pits["loosened_at_leg_cm"]) & ~(untouched & (pits["pan"] == "no"))
    return (pits["loosened_at_leg_cm"] - pits["loosened_between_cm"]).where(real)


def _bases(
    pits: pd.DataFrame, planned: PlannedGround, most_cm: Floats, cell: NDArray[np.int64]
) -> _Base:
    mean, sd, pan = (
        planned.bands[name].ravel()[cell]
        for name in ("pan_base_cm", "pan_base_sd_cm", "pan_probability")
    )
    own = pits["pan_base_cm"].to_numpy(float)
    seen = np.isfinite(own) & (pits["pan"] != "no").to_numpy()
    off, read = np.abs(own - mean), rule("depth_read_sd_cm")
    odd = off >= rule("base_far_errors") * np.hypot(sd, read)
    odd |= own - most_cm >= rule("set_depth_tolerance_cm")
    far = seen & odd & (off >= rule("bases_agree_cm"))
    sure = seen | (pits["pan"] == "yes").to_numpy()
    bases = np.where(seen, own, mean), np.where(seen, read, sd), np.where(sure, 1.0, pan)
    return _Base(mean, *bases, seen, far)


def _chances(pits: pd.DataFrame, base: _Base) -> dict[str, Floats]:
    """Return the probabilities that the base was passed, and that all of it was passed too far.

    A depth beyond the machine is taken as not known, and so is one that `_above` questions.
    """
    leg, between = (
        pits[name].mask(pits["beyond"]).to_numpy(float)
        for name in ("loosened_at_leg_cm", "loosened_between_cm")
    )
    spread = np.hypot(base.sd, rule("depth_read_sd_cm"))

    def passed(depth_cm: Floats) -> Floats:
        return np.asarray(1.0 - base.pan + base.pan * ndtr((depth_cm - base.mean) / spread))

    none, some = ((pits["pan"] == word).to_numpy() for word in ("no", "yes"))
    high = none & _above(leg, base)
    untold = unworked(pits["loosened_between_cm"]).to_numpy() | _above(between, base)
    asked = none & (high | untold | pits["beyond"].to_numpy())
    # Between the legs is never loosened deeper than at them.
    least = np.where(base_missed(passed(leg)), passed(leg), np.nan)
    noted = np.where(np.isnan(passed(between)), least, passed(between))
    seen = np.where(none, 1.0, np.where(some, 0.0, noted))
    chance_between = np.where(asked, np.nan, seen)
    chance_leg = np.fmax(passed(leg), np.where(none | ~some, chance_between, np.nan))
    # A pan between the legs leaves open what a leg did that nobody measured.
    chance_leg[np.isnan(leg) & base_missed(chance_leg)] = np.nan
    sure = none & ~high & ~(asked & ~(leg > rule("not_worked_cm")))
    deep = ndtr((between - rule("too_deep_cm") - base.mean) / spread)
    return {
        "chance_leg": np.where(sure, 1.0, np.where(none, np.nan, chance_leg)),
        "chance_between": chance_between,
        "chance_too_deep": np.where(some, 0.0, deep),
    }


def _above(depth_cm: Floats, base: _Base) -> NDArray[np.bool_]:
    """Return where a depth lies clearly above the base that the plan expects, of a likely pan."""
    spread = np.hypot(base.sd, rule("depth_read_sd_cm"))
    above = base.mean - depth_cm >= rule("clear_above_errors") * spread
    return np.asarray(above & (base.pan >= rule("firm_probability")))


def _asked(pits: pd.DataFrame) -> NDArray[np.str_]:
    """Return what of each pit does not go together; blank where all does.

    *No pan* is asked about only where the soil was worked as planned to: else it proves nothing.
    """
    worked = (pits["depth_cm"] > 0) & ~_missed(pits)
    no_pan = worked & (pits["pan"] == "no") & pits["chance_between"].isna()
    bound = pits["held"] | pits["cap_cm"].notna()
    leg = pits["loosened_at_leg_cm"].isna() & bound & ~pits["far"]
    here = leg & (pits["held"] | (pits["depth_cm"] <= 0))
    cases = [pits["beyond"], here, no_pan, unbroken(pits), leg, pits["base_far"]]
    names = ["reach", "leg", "no_pan", "unbroken", "leg", "base"]
    return np.select([case.to_numpy() for case in cases], names, default="")


def _of_other_work(pits: pd.DataFrame, away_m: Floats, start: str) -> NDArray[np.str_]:
    """Return why each pit says nothing of this work, of an earlier one after `start`; or blank."""
    far = [f"Lies {gap:.0f} m outside every zone of the plan." for gap in away_m]
    doubted = pits["of_work"].to_numpy(dtype=bool)
    earlier = np.where(doubted, f"{start}{DOUBTED}", f"{start}it judges earlier work.")
    cases = [away_m > rule("outside_most_m"), pits["earlier"].to_numpy(dtype=bool)]
    return np.select(cases, [np.array(far, dtype=np.str_), earlier], default="")


def _blank(pits: pd.DataFrame) -> NDArray[np.bool_]:
    """Return where a pit notes nothing that the work could be judged by."""
    depths = pits[["loosened_at_leg_cm", "loosened_between_cm"]].isna().all(axis=1)
    return np.asarray(depths & ~pits["pan"].isin(("yes", "no")))


def _verdicts(pits: pd.DataFrame) -> NDArray[np.str_]:
    leg, between = pits["chance_leg"].to_numpy(float), pits["chance_between"].to_numpy(float)
    deep = pits["chance_too_deep"].to_numpy(float) >= rule("too_deep_probability")
    held = pits["held"].to_numpy(dtype=bool)
    lifted = (pits["depth_cm"] <= 0).to_numpy()
    unseen = pits["loosened_at_leg_cm"].isna() & (held | (lifted & (pits["cap_cm"] <= 0)))
    cases = [
        pits["far"].to_numpy(dtype=bool),
        unseen.to_numpy(),
        lifted & _worked(pits) & pits["set_cm"].notna().to_numpy(),
        lifted,
        _missed(pits),
        held,
        np.isnan(leg) & np.isnan(between),
        base_missed(leg),
        np.isnan(leg),
        np.isnan(between),
        base_passed(between) & deep,
        base_passed(between),
    ]
    names = [
        "past_cap", "leg_not_seen", "worked_lifted", "lifted_out", "not_worked", "held",
        "questioned", "not_reached", "not_between", "leg_passed", "too_deep", "reached",
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
    asked = (pits["asked"] == "base") | unbroken(pits)
    words = np.where(doubt | asked.to_numpy(), "no", "yes")
    return [str(word) for word in np.where(pits["verdict"].isin(JUDGED), words, "")]
